"""Levels and colours from a picture: hidden ones found, through curve, balance, noise and foreign things."""

import numpy as np
import pytest

from previz.levels.picture_answer import ALIKE, OFF, TOLD, WEAK, answer
from previz.levels.picture_fit import fit_picture
from previz.levels.picture_model import CLIPPED, KNOTS, PLAIN, LampTable, Model, Regions, curve, uncurved
from previz.physics.chromatic_adaptation import BRADFORD, D65_XY, REC709_XY, xyz_from_rgb
from previz.physics.colourtemp import planckian_xy, xyz_from_xy
from previz.physics.transfer import srgb_signal
from previz.physics.uplift import linear_from_srgb

WHITE = xyz_from_xy(D65_XY)
FROM_CONES = (np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY)) @ np.linalg.inv(BRADFORD)
              @ np.diag(BRADFORD @ WHITE))
TO_709 = np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY))
MIRED = np.linspace(100.0, 556.0, 12)
REGIONS = 160
FLAT = np.zeros(len(KNOTS))


def tables(lamps=4, seed=0, kinds=None):
    """Lamps that each light a part of a picture, off surfaces of many colours, black bodies at each mired.

    A colour of light goes through a surface as gains of the cones do, which keeps light in daylight white.
    """
    rng = np.random.default_rng(seed)
    across, up = rng.uniform(0, 1, (2, REGIONS))
    albedo = rng.uniform(0.1, 0.7, (REGIONS, 1)) * rng.uniform(0.75, 1.25, (REGIONS, 3))
    made = []
    for n in range(lamps):
        x, y = rng.uniform(0, 1, 2)
        field = 40 / (0.15 + (across - x) ** 2 + (up - y) ** 2) * rng.uniform(0.8, 1.2, REGIONS) + 4
        white = np.stack([BRADFORD @ xyz_from_xy(planckian_xy(1e6 / mired)) for mired in MIRED])
        cones = white[:, None, :] * albedo * field[:, None]
        kind = (kinds or {}).get(n, "free")
        xyz = cones @ np.linalg.inv(BRADFORD).T
        if kind == "weak":
            xyz = xyz * 2e-4
        if kind == "alike":
            xyz = made[0].xyz * rng.uniform(0.995, 1.005, (1, REGIONS, 1))
        made.append(LampTable(f"lamp {n}", xyz, tuple(MIRED), 0.0, float(rng.uniform(170, 350))))
    return made


def picture(lamps, levels, colours, *, wide=0.0, balance=(0.0, 0.0, 0.0), bend=0.0, noise=0.0, seed=0):
    """The picture of lamps as set: sRGB in 8 bits, its codes bent as `bend` says, 25 pixels a region."""
    rng = np.random.default_rng(seed)
    xyz = sum(2.0**level * lamp.at(colour)[0]
              for lamp, level, colour in zip(lamps, levels, colours, strict=True))
    gains = -np.log2(BRADFORD @ WHITE) + np.asarray(balance) + wide - np.log2(np.median(xyz[:, 1]) / 0.18)
    linear = xyz @ (FROM_CONES @ np.diag(2.0**gains) @ BRADFORD).T
    linear = linear * 2.0 ** rng.normal(0, noise, (REGIONS, 1)) if noise else linear
    code = srgb_signal(np.clip(linear, 0, 1))
    code = code + bend * (3 * code**2 - 2 * code**3 - code)
    eight = np.round(255 * code[None] + rng.uniform(-0.5, 0.5, (25, REGIONS, 3))) / 255
    value = linear_from_srgb(np.clip(eight, 0, 1)).mean(axis=0)
    state = np.where(code > 0.984, CLIPPED, PLAIN)
    block = rng.integers(0, 24, REGIONS)
    return Regions(value, state, np.full((REGIONS, 3), 0.01), np.zeros((len(lamps), REGIONS)), block,
                   np.full(REGIONS, 25.0)), gains


def fitted(lamps, regions, **more):
    given = {"from_cones": FROM_CONES, "cones_from_xyz": BRADFORD, "slopes": FLAT,
             "gains": -np.log2(BRADFORD @ WHITE) - 8, **more}
    return fit_picture(lamps, regions, **given)


def hidden(lamps, seed, stops=2.0, mired=45.0):
    """Levels and colours to be found: some stops and mired from those that the tables have."""
    rng = np.random.default_rng(seed)
    return (rng.uniform(-stops, stops, len(lamps)),
            np.array([lamp.colour + rng.uniform(-mired, mired) for lamp in lamps]))


def against(values):
    return values - np.mean(values)


@pytest.mark.parametrize("bend", [0.0, 0.5])
def test_hidden_levels_and_colours_are_found(bend):
    """Through another exposure, another balance, a curve and 8 bits: 0.1 stop and 100 K, far within."""
    lamps = tables()
    levels, colours = hidden(lamps, 3)
    # A shift of all colours is nearly one of the balance, so both are held against their means.
    regions, _ = picture(lamps, levels, colours, wide=-1.0, balance=(0.2, 0.0, -0.3), bend=bend, noise=0.01)
    fit = fitted(lamps, regions)
    assert np.abs(against(fit.levels - levels)).max() < 0.04
    kelvin = np.abs(against(fit.colours - colours)) * (1e6 / colours) ** 2 / 1e6
    assert kelvin.max() < 60
    found = answer(lamps, fit, regions.weight, own_gain=0.0)
    assert [each.state for each in found.lamps] == [TOLD] * 4
    assert found.contrast == pytest.approx(1.0 if bend == 0 else 1.25, abs=0.1)


def test_errors_are_honest():
    """What is off over its error: about one on average over pictures with noise, and never beyond four."""
    off = []
    for seed in range(3):
        lamps = tables(seed=seed)
        levels, colours = hidden(lamps, seed)
        regions, _ = picture(lamps, levels, colours, noise=0.05, seed=seed)
        fit = fitted(lamps, regions)
        found = answer(lamps, fit, regions.weight, own_gain=0.0)
        base = np.mean([level for each, level in zip(found.lamps, levels, strict=True)
                        if each.name in found.mean_of])
        for each, level in zip(found.lamps, levels - base, strict=True):
            off.append((each.change - level) / each.error)
    # 12 numbers of which 3 are given by the others; errors are held half as large again as in theory.
    assert 0.3 < np.sqrt(np.mean(np.square(off))) < 1.5 and np.abs(off).max() < 4


def test_noise_of_a_lamp_does_not_draw_it_down():
    """What is known of a lamp is noisy: with its size known the level is nearly right, without it too low.

    By theory a lamp of mean square light q, the others apart, and noise n in it comes down to q / (q + n).
    """
    off = {True: [], False: []}
    for seed in range(3):
        rng = np.random.default_rng(seed)
        lamps = tables(3, seed=seed)
        levels, colours = np.array([0.0, 0.0, -2.0]), np.array([each.colour for each in lamps])
        regions, _ = picture(lamps, levels, colours, seed=seed, noise=0.01)
        # Each region brings a few paths of it: mean 1, standard deviation 0.3.
        paths = rng.gamma(0.3**-2, 0.3**2, (REGIONS, 1))
        read = [*lamps[:2], LampTable("lamp 2", lamps[2].xyz * paths, tuple(MIRED), -2.0, lamps[2].colour)]
        for known in off:
            regions.noise[2] = 0.3 * lamps[2].at(lamps[2].colour)[0][:, 1] if known else 0.0
            off[known].append(against(fitted(read, regions).levels - levels)[2])
    assert abs(np.mean(off[True])) < 0.25 and np.mean(off[False]) < np.mean(off[True]) - 0.15, off


def test_noise_beyond_all_does_not_run_away():
    """Where a lamp is mostly noise it stays near what it is without any correction, and is told as unsure."""
    lamps = tables(3)
    rng, levels = np.random.default_rng(1), np.zeros(3)
    regions, _ = picture(lamps, levels, [each.colour for each in lamps], noise=0.01)
    paths = rng.gamma(4, 1 / 4, (REGIONS, 1))
    read = [*lamps[:2], LampTable("lamp 2", lamps[2].xyz * paths, tuple(MIRED), 0.0, lamps[2].colour)]
    regions.noise[2] = 0.5 * lamps[2].at(lamps[2].colour)[0][:, 1]
    fit = fitted(read, regions)
    assert np.abs(against(fit.levels)).max() < 2
    found = answer(read, fit, regions.weight, own_gain=0.0)
    assert max(each.error for each in found.lamps) > 0.25


def test_a_picture_has_no_scale():
    """A scene twice as bright by a stop less is the same answer; the exposure says the difference."""
    lamps = tables(3)
    levels, colours = hidden(lamps, 1, stops=1)
    regions, _ = picture(lamps, levels, colours)
    brighter = [LampTable(each.name, 2 * each.xyz, each.mired, each.level, each.colour) for each in lamps]
    one = answer(lamps, fitted(lamps, regions), regions.weight, own_gain=0.0)
    two = answer(brighter, fitted(brighter, regions), regions.weight, own_gain=0.0)
    assert [each.change for each in one.lamps] == pytest.approx([each.change for each in two.lamps], abs=0.01)
    assert one.exposure - two.exposure == pytest.approx(1.0, abs=0.01)
    assert sum(each.change for each in one.lamps) == pytest.approx(0, abs=1e-9)


def test_levels_count_from_the_lamp_that_is_named():
    """It stays as the scene has it, without an error, and the others move with it."""
    lamps = tables(3)
    levels, colours = hidden(lamps, 2)
    regions, _ = picture(lamps, levels, colours)
    found = answer(lamps, fitted(lamps, regions), regions.weight, own_gain=0.0, anchor="lamp 1")
    assert (found.lamps[1].change, found.lamps[1].error) == pytest.approx((0, 0), abs=1e-9)
    assert [each.change for each in found.lamps] == pytest.approx(list(levels - levels[1]), abs=0.04)


def test_what_cannot_be_told_is_said():
    """A lamp that gives next to nothing, two that look alike, and one that is off."""
    lamps = tables(5, kinds={3: "weak", 4: "alike"})
    levels, colours = np.zeros(5), np.array([each.colour for each in lamps])
    levels[1] = -12.0
    regions, _ = picture(lamps, levels, colours, noise=0.03)
    found = answer(lamps, fitted(lamps, regions), regions.weight, own_gain=0.0)
    states = [each.state for each in found.lamps]
    assert (states[1], states[2], states[3]) == (OFF, TOLD, WEAK)
    assert {states[0], states[4]} == {ALIKE}
    assert (found.lamps[0].like, found.lamps[4].like) == ("lamp 4", "lamp 0")
    assert found.lamps[1].share < 0.015 and found.lamps[3].share < 0.015


def test_foreign_things_do_not_drag_it():
    """A twentieth of the picture at four times its light moves no level by a tenth of a stop."""
    lamps = tables()
    levels, colours = hidden(lamps, 4, stops=1)
    regions, _ = picture(lamps, levels, colours, wide=-2.0, noise=0.01)
    regions.value[:REGIONS // 20] *= 4
    fit = fitted(lamps, regions)
    assert np.abs(against(fit.levels - levels)).max() < 0.08
    # What is not explained is what was put there.
    assert np.median(fit.residual[:REGIONS // 20]) == pytest.approx(2.0, abs=0.25)
    assert abs(np.nanmedian(fit.residual[REGIONS // 20:])) < 0.05


def test_clipped_regions_say_only_that_they_are_bright():
    """A picture of which a part is at the top is read as well."""
    lamps = tables()
    levels, colours = hidden(lamps, 5, stops=1)
    regions, _ = picture(lamps, levels, colours, wide=1.2, noise=0.01)
    assert (regions.state == CLIPPED).mean() > 0.07
    fit = fitted(lamps, regions)
    assert np.abs(against(fit.levels - levels)).max() < 0.08
    assert np.isnan(fit.residual[regions.state == CLIPPED]).all()


def test_nothing_to_read_is_refused():
    """A picture that is white all over, and a scene without a lamp."""
    lamps = tables(2)
    regions, _ = picture(lamps, np.zeros(2), [200, 200], wide=30)
    for given in (lamps, []):
        with pytest.raises(ValueError, match="nothing to fit"):
            fitted(given, regions)


def test_the_curve_rises_and_is_undone():
    """Its slope is the derivative, above 0 everywhere; grey stays; `uncurved` goes back."""
    slopes = np.array([0.4, -0.3, 0.2, 0.3, 0.1, -1.0, -2.3, -3.0])
    x = np.linspace(-11, 9, 201)
    y, slope = curve(x, slopes)
    assert (slope > 0).all() and (np.diff(y) > 0).all()
    assert np.gradient(y, x)[2:-2] == pytest.approx(slope[2:-2], rel=0.03)
    assert curve(np.zeros(1), slopes)[0][0] == 0
    assert uncurved(y, slopes) == pytest.approx(x, abs=0.01)
    # Flat slopes are no curve at all.
    assert curve(x, FLAT)[0] == pytest.approx(x)


def test_the_derivative_is_that_of_the_model():
    """Every parameter by finite differences."""
    lamps = tables(2)
    model = Model(lamps, FROM_CONES, BRADFORD, -np.log2(BRADFORD @ WHITE) - 8, FLAT - 0.1)
    found = model.own + 0.05
    found[2:4] = 231.0, 317.0
    _, after, made = model.stops(found)
    for n in range(len(found)):
        moved = found.copy()
        moved[n] += 1e-4
        assert made[n] == pytest.approx((model.stops(moved)[1] - after) / 1e-4, abs=2e-3)


def test_the_balance_is_read_from_the_gains():
    """Light of 2856 K shown white is a balance of 2856 K: CIE standard illuminant A.

    Source: CIE 015:2018, x = 0.44758, y = 0.40745 (from memory); a black body at 2856 K by the program's own.
    """
    from previz.levels.picture_answer import _camera

    white = xyz_from_xy(np.array([0.44758, 0.40745]))
    exposure, kelvin, duv = _camera(2.0 - np.log2(BRADFORD @ white))
    assert (exposure, kelvin, duv) == pytest.approx((2.0, 2856.0, 0.0), abs=2.0)
    assert abs(duv) < 2e-4 and exposure == pytest.approx(2.0, abs=1e-9)
