"""The page's own arithmetic, run in the browser, against the program's."""

import numpy as np
import pytest

from previz.exposure.camera import balanced_acescg_from_xyz
from previz.exposure.faces import face_light
from previz.exposure.metering import Mixed
from previz.physics.colourtemp import cct_duv, uv_from_xy, xy_from_cct_duv, xy_from_xyz, xyz_from_xy
from previz.physics.exposure import CameraSettings, signal_per_luminance
from previz.physics.transfer import bt709_signal
from previz.physics.tungsten import cct_at_light

pytestmark = pytest.mark.slow


def reckoned(opened, expression, *values):
    """Evaluate an expression over what light.js exports and the page's tables."""
    return opened.page.evaluate(
        "async (values) => { const l = await import(new URL('light.js', document.baseURI));"
        f"const t = previz.store.scene.tables; return ({expression})(l, t, values); }}", values)


def test_balance_is_that_of_stills(opened):
    """The balance matrix is the still's at every temperature, on both sides of both joints."""
    kelvins = [1500, 1900, 2700, 3200, 3999, 4001, 4500, 4999, 5001, 5600, 6504, 10000, 25000]
    for tint in (0.0, 0.008, -0.008):
        found = reckoned(opened, "(l, t, [ks, tint]) => ks.map((k) => "
                         "l.balanceMatrix({white_balance: k, green: tint}, t))", kelvins, tint)
        for kelvin, matrix in zip(kelvins, found, strict=True):
            expected = balanced_acescg_from_xyz(kelvin, tint)
            # Rows of the table are 2.6 mired apart with straight lines between them. A code value
            # is 1 % of a light; this is a tenth of that.
            np.testing.assert_allclose(np.array(matrix).reshape(3, 3), expected, rtol=1e-3, atol=4e-4)


def test_exposure_is_the_formula_of_the_camera(opened):
    """Signal of a luminance is that of physics.exposure for any settings."""
    camera = {"stop": 4.0, "iso": 1250.0, "shutter": 144.0, "fps": 25.0, "nd": 0.6}
    found = reckoned(opened, "(l, t, [c]) => l.signalPerLuminance(c, t)", camera)
    settings = CameraSettings(4.0, 1250.0, 144.0 / 360 / 25, 0.6)
    assert found == pytest.approx(signal_per_luminance(settings), rel=1e-12)


def test_colour_temperature_is_that_of_reports(opened):
    """CCT within 0.1 % and Duv within 0.0001 of the program's, on and off the locus."""
    lights = [(k, d) for k in (1900, 2700, 3200, 4300, 5600, 6500, 9000, 15000)
              for d in (-0.015, -0.004, -0.001, 0.0, 0.001, 0.004, 0.015)]
    xyz = [xyz_from_xy(xy_from_cct_duv(*light)).tolist() for light in lights]
    found = reckoned(opened, "(l, t, [all]) => all.map((xyz) => l.colourTemperature(xyz, t))", xyz)
    for result, value in zip(found, xyz, strict=True):
        kelvin, duv = cct_duv(xy_from_xyz(np.array(value)))
        # Black bodies here lie 2 % apart, in the program 0.25 %; the page rounds to 10 K.
        assert result["kelvin"] == pytest.approx(kelvin, rel=1e-3)
        assert result["duv"] == pytest.approx(duv, abs=1e-4)


def test_darkness_has_no_colour(opened):
    """Without light, or with a colour far from any black body, no temperature is reported."""
    result = reckoned(opened, "(l, t, [all]) => all.map((xyz) => l.colourTemperature(xyz, t))",
                    [[0, 0, 0], [0.1, 0.05, 0.9]])
    assert result == [None, None]


def test_levels_stops_and_percent(opened):
    """A level halves for each stop, is out at the bottom of the scale, and reads so."""
    result = reckoned(opened, "(l) => [l.levelOf(-1), l.levelOf(0), l.levelOf(-8), l.stopsOf(0.25), "
                    "l.stopsText(-1), l.stopsText(-Infinity), l.stopsText(0.04)]")
    assert result == [0.5, 1, 0, -2, "−1.0", "out", "0.0"]


def test_video_level_is_bt709(opened):
    """The spot meter's percentage is the BT.709 level, 40.9 % for 18 % grey."""
    # ITU-R BT.709-6, item 1.2: V = 1.099 L^0.45 - 0.099; 18 % grey is 40.9 %.
    values = [0.0, 0.01, 0.018, 0.18, 0.9, 1.0, 3.0]
    found = reckoned(opened, "(l, t, [all]) => all.map(l.videoPercent)", values)
    np.testing.assert_allclose(found, 100 * bt709_signal(np.minimum(values, 1.0)), atol=0.05)
    assert found[3] == pytest.approx(40.9, abs=0.05)


def test_matrices(opened):
    """A matrix times its inverse changes nothing."""
    matrix = balanced_acescg_from_xyz(3200.0).ravel().tolist()
    found = reckoned(opened, "(l, t, [m]) => l.product(m, l.inverse(m))", matrix)
    np.testing.assert_allclose(np.array(found).reshape(3, 3), np.eye(3), atol=1e-12)


def test_half_floats(opened):
    """Bits of half floats mean what they mean to numpy, the smallest and infinite ones too."""
    bits = np.array([0, 1, 0x03FF, 0x0400, 0x3C00, 0x3555, 0x7BFF, 0x7C00, 0xC000], np.uint16)
    found = opened.page.evaluate(
        "async (bits) => { const l = await import(new URL('light.js', document.baseURI));"
        "return bits.map((each) => String(l.halfOf(each))); }", bits.tolist())
    expected = bits.view(np.float16).astype(float)
    assert [float(each.replace("Infinity", "inf")) for each in found] == expected.tolist()


def noisy(name, lamp, sky, seed):
    """A meter of 64 batches under two lamps, [direct, bounced] in lx, each with its own noise."""
    random = np.random.default_rng(seed)
    light = np.array([lamp, sky], float) * (1 + 0.08 * random.standard_normal((64, 2, 1)))
    return Mixed(name, ("lamp", "sky"), light[..., None] * np.array([0.95, 1.0, 1.09]),
                 0.01 * light.mean(axis=0))


@pytest.mark.parametrize(("lamp", "sky"), [(1.0, 1.0), (0.25, 1.0), (0.0, 1.0), (1.0, 0.0)])
def test_a_face_is_reported_as_in_reports(opened, lamp, sky):
    """Lit side, shadow side and both ratios are the program's at any level, and so are errors."""
    left, right = noisy("left", (150, 50), (100, 0), 1), noisy("right", (0, 20), (90, 10), 2)
    meters = {"names": ["clerk: left cheek", "clerk: right cheek"], "lamps": ["lamp", "sky"],
              "xyz": [each.xyz.mean(axis=0).tolist() for each in (left, right)],
              "bands": [each.bands.sum(axis=1).tolist() for each in (left, right)],
              "spread": [each.covariance().tolist() for each in (left, right)],
              "cheeks": {"clerk": left.covariance(right).tolist()}}
    result = opened.page.evaluate("""async ([meters, levels]) => {
        const { faces } = await import(new URL("metering.js", document.baseURI));
        return faces(meters, (name) => levels[name], ["clerk"])[0]; }""",
        [meters, {"lamp": lamp, "sky": sky}])
    level = np.array([lamp, sky])[:, None, None]
    face = face_light("clerk", *(Mixed(each.name, each.lamps, each.xyz * level,
                                       each.bands * level[:, 0])
                                 for each in (left, right)))
    assert result["lit"]["side"] == face.lit_side and result["shadow"]["side"] == face.shadow_side
    for side in ("lit", "shadow"):
        expected = getattr(face, side)
        assert (result[side]["lux"], result[side]["error"]) == pytest.approx(expected[:2], rel=1e-6)
    assert (result["ratio"], result["error"]) == pytest.approx(face.lit_to_shadow[:2], rel=1e-6)
    assert (result["alone"], result["error"]) == pytest.approx(face.key_to_fill[:2], rel=1e-6)


def test_both_ratios_of_the_book_and_of_the_dark(opened):
    """Key alone 200 and fill 100 fc are 2 : 1, and 3 : 1 lit to shadow; all off is no ratio."""
    # Source: worked example of the "Lighting ratio" article (two definitions in print).
    result = opened.page.evaluate("""async () => {
        const { faces } = await import(new URL("metering.js", document.baseURI));
        const none = [[0, 0], [0, 0]];
        // Nothing that bands may leave off.
        const meters = { names: ["clerk: left cheek", "clerk: right cheek"], lamps: ["key", "fill"],
            xyz: [[[[0, 150, 0], [0, 50, 0]], [[0, 100, 0], [0, 0, 0]]],
                  [[[0, 0, 0], [0, 0, 0]], [[0, 100, 0], [0, 0, 0]]]],
            bands: none, spread: [none, none], cheeks: { clerk: none } };
        return [1, 0].map((level) => faces(meters, () => level, ["clerk"])[0]); }""")
    assert (result[0]["ratio"], result[0]["alone"], result[0]["lit"]["side"]) == (3, 2, "left")
    assert result[1]["lit"]["lux"] == result[1]["error"] == 0


def test_fading_tungsten_reddens_white_by_the_law_of_rerating(opened):
    """A white thing under a tungsten lamp two stops down has the colour temperature of the law."""
    # CCT goes with volts^0.42 and light with volts^3.4.  Source: 'Lamp rerating'; IES Lighting
    # Handbook. Two stops down from 3000 K: 3000 · 0.25^(0.42 / 3.4) = 2528 K.
    opened.until("previz.table.set")
    result = opened.page.evaluate("""async () => {
        const l = await import(new URL("light.js", document.baseURI));
        const { set } = previz.table, fade = set.fades[set.names.indexOf("counter")];
        return [l.fadeMatrix(fade, 0.25), l.fadeMatrix(fade, 1)]; }""")
    white = xyz_from_xy(xy_from_cct_duv(3000.0))
    faded = np.array(result[0]).reshape(3, 3) @ white
    kelvin, _ = cct_duv(xy_from_xyz(faded))
    assert cct_at_light(0.25, 3000.0) == pytest.approx(2528, abs=1)
    # The matrix is fitted over coloured stripes, so white is only nearly right: half a mired per
    # hundred kelvin at most.
    assert kelvin == pytest.approx(2528, rel=0.02)
    assert uv_from_xy(xy_from_xyz(faded)) == pytest.approx(
        uv_from_xy(xy_from_cct_duv(2528.0)), abs=0.003)
    np.testing.assert_allclose(result[1], np.eye(3).ravel())
