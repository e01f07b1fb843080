"""Patterns of surfaces: as light as the surface says, without seams, of true size, the same anywhere."""

import dataclasses
import hashlib

import numpy as np
import pytest

from previz.physics.materials import MATERIALS
from previz.physics.spectra import WAVELENGTHS_NM
from previz.scene.patterns import PATTERNS, USUAL, wear_of
from previz.scene.surface import LIBRARY, Surface
from previz.stage.fingerprint import digest_of
from previz.stage.patterns import BUILDERS, drawn, masonry
from previz.stage.patterns.drawn import slopes_of
from previz.stage.patterns.held import mean_of_product
from previz.stage.patterns.noise import Noise, lot
from previz.stage.patterns.shown import MOST, Shown, with_pattern
from previz.stage.surfaces import SurfaceRegistry, library_surface, luminance, second_of, shown_by


def built(**written):
    registry = SurfaceRegistry()
    return registry.surfaces[registry.of(Surface(**written))]


def read(tile, u, v):
    """The tile at places in units of it, between texels as `records.Pattern` is read; top row at v = 1."""
    rows, columns = tile.shape[:2]
    x, y = np.asarray(u) * columns - 0.5, (1 - np.asarray(v)) * rows - 0.5
    i, j = np.floor(x).astype(int), np.floor(y).astype(int)
    across, down = (x - i)[..., None], (y - j)[..., None]

    def at(k, m):
        return tile[(j + m) % rows, (i + k) % columns].astype(float)

    return ((at(0, 0) * (1 - across) + at(1, 0) * across) * (1 - down)
            + (at(0, 1) * (1 - across) + at(1, 1) * across) * down)


def mean_over(surface):
    """Mean albedo by wavelength of a pattern over its tile, by Gauss's rule of two points, exact for what is
    read bilinearly: in each square between texels a product of two has degree two in u and in v.

    Rule of two points: exact to degree three; Abramowitz and Stegun 1964, 25.4.30, from memory.
    """
    tile = surface.pattern.tile.astype(float)
    total = np.zeros(2)
    for across in (0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5):
        rows = tile * (1 - across) + np.roll(tile, -1, 1) * across
        for down in (0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5):
            place = rows * (1 - down) + np.roll(rows, -1, 0) * down
            share, tone = place[..., 0], place[..., 1]
            total += np.mean((1 - share) * tone) / 4, np.mean(share * tone) / 4
    return total[0] * surface.reflectance + total[1] * surface.pattern.second


def test_every_word_is_drawn_and_every_drawing_has_a_word():
    """The scene's words and the stage's functions are the same set, and the library's names exist."""
    assert set(BUILDERS) == set(PATTERNS)
    assert set(USUAL) <= set(LIBRARY) == set(MATERIALS)
    assert all(each.second in {"", *LIBRARY} for each in PATTERNS.values())
    wears = {wear_of(name, word) for name in ("pine", "white paint") for word in PATTERNS}
    assert wears == {"", "off", "down"}


@pytest.mark.parametrize("word", list(PATTERNS))
def test_a_pattern_is_on_average_what_its_surface_is(word):
    """Of each kind: the luminance of the mean is the surface's, nothing is lighter than it may be."""
    surface = built(reflectance=0.35, colour=(0.5, 0.4, 0.3), pattern=word)
    tile = surface.pattern.tile
    assert tile.dtype == np.float32 and tile.shape[:2] <= (520, 580)
    assert luminance(mean_over(surface)) == pytest.approx(0.35, rel=2e-6)
    assert np.all(np.isfinite(tile)) and np.all(tile >= 0) and np.all(tile[..., 0] <= 1)
    assert np.all(tile[..., 2] <= 1) and np.all(np.abs(surface.relief.slopes) <= 2)
    assert surface.pattern.size == surface.relief.size
    # It is not plain: something of it can be seen.
    assert tile[..., 1].std() > 0.003 or surface.relief.slopes.std() > 0.02


STRIPED = {"pattern": "striped paper", "second": Surface(name="black paint")}
CHECKED = {"pattern": "check", "second": Surface(name="red cloth")}


@pytest.mark.parametrize(("name", "written"), [
    ("white paint", {}), ("white paint", {"worn": 0.3}), ("white paint", STRIPED), ("white paint", CHECKED),
    ("snow", {}), ("snow", {"pattern": "gravel"}), ("white tile", {}), ("brick", {}),
    ("black cloth", STRIPED), ("muslin", {}), ("opal glass", CHECKED)])
def test_bright_and_dark_ones_too(name, written):
    """White with black stripes cannot be lighter than light: stripes fade until the mean is right."""
    surface = built(name=name, **written)
    plain = luminance(library_surface(name).reflectance)
    assert luminance(mean_over(surface)) == pytest.approx(plain, rel=3e-6)
    tile = surface.pattern.tile
    places = lot(5, np.arange(4000)), lot(6, np.arange(4000))
    share, tone = read(tile, *places)[:, :2].T
    sent = np.outer((1 - share) * tone, surface.reflectance) + np.outer(share * tone, surface.pattern.second)
    assert np.max(sent + surface.transmission) <= MOST + 1e-6


def test_the_mean_of_a_product_is_that_of_what_is_read():
    """The closed form against a fine sum over a small tile."""
    one, two = (lot(seed, np.arange(6)[:, None], np.arange(5)[None]) for seed in (1, 2))
    place = (np.arange(600) + 0.5) / 600
    fine = read(np.stack([one, two], axis=-1), place[None], place[:, None])
    assert mean_of_product(one, two) == pytest.approx(np.mean(fine[..., 0] * fine[..., 1]), rel=2e-5)


@pytest.mark.parametrize("word", list(PATTERNS))
def test_tiles_join_without_a_seam(word):
    """Across the edge a tile changes as it does inside: no line shows where it repeats."""
    made = BUILDERS[word](PATTERNS[word].size)
    for part in (made.height, made.tone, made.share):
        if np.ndim(part):
            for axis in (0, 1):
                beyond = np.take(part, [0], axis=axis)
                steps = np.abs(np.diff(part, axis=axis, append=beyond)).mean(axis=1 - axis)
                assert steps[-1] <= steps.max() * 1.02 + 1e-9, (word, axis)
                # Of what has no joints it is no rarity among the steps either.
                assert steps[-1] <= np.median(steps) * 12 + 1e-6 or steps[-1] <= np.quantile(steps, 0.995)


@pytest.mark.parametrize("word", ["brick", "planks", "plain weave", "ripples"])
def test_slopes_are_those_of_the_height(word):
    """Rise over length by finite differences along u and v, v upwards."""
    made = BUILDERS[word](PATTERNS[word].size)
    rows, columns = made.height.shape
    slopes = slopes_of(made.height, made.size)
    step_u, step_v = made.size[0] / columns, made.size[1] / rows
    for i, j in ((7, 9), (200, 101), (rows - 1, columns - 1), (0, 0)):
        east, west = made.height[i, (j + 1) % columns], made.height[i, j - 1]
        north, south = made.height[i - 1, j], made.height[(i + 1) % rows, j]
        assert slopes[i, j] == pytest.approx([(east - west) / 2 / step_u, (north - south) / 2 / step_v])
    # A wave of known slope: height a sin(2 pi u / L) rises by 2 pi a / L at most.
    u = (np.arange(256) + 0.5) / 256
    wave = np.tile(0.002 * np.sin(2 * np.pi * u), (8, 1))
    assert slopes_of(wave, (0.5, 1.0))[..., 0].max() == pytest.approx(2 * np.pi * 0.002 / 0.5, rel=1e-3)


def joints(share, size):
    """How many joints a column or row of a tile has to the metre."""
    crossed = np.count_nonzero((share > 0.5) & (np.roll(share, 1) <= 0.5))
    return crossed / size


def test_bricks_have_their_true_size():
    """Four courses to 300 mm and 40 bricks to nine metres: 225 by 75 mm with joints.

    Source: coordinating size of the brick of BS EN 771-1 and BS 4729, from memory.
    """
    made = BUILDERS["brick"](PATTERNS["brick"].size)
    columns = [joints(made.share[:, k], made.size[1]) for k in range(0, 480, 7)]
    assert np.median(columns) == pytest.approx(1 / 0.075, rel=0.01)
    rows = [joints(made.share[k], made.size[0]) for k in range(480)]
    between = [each for each in rows if 0 < each < 8]
    assert np.median(between) == pytest.approx(1 / 0.225, rel=0.01)
    # Mortar: all that is no face of 215 x 65 mm.
    assert np.mean(made.share) == pytest.approx(1 - 0.215 * 0.065 / (0.225 * 0.075), abs=0.05)
    # It lies deeper than the faces, by the joint's recess.
    recess = made.height[made.share < 0.1].mean() - made.height[made.share > 0.9].mean()
    assert 0.002 < recess < 0.006
    # A half bond: joints of one course stand over the middles of the next one's bricks.
    course = made.share[(np.arange(30) * 16 + 8)]
    over, beside = (np.corrcoef(course[0], each)[0, 1] for each in (np.roll(course[1], 24), course[1]))
    assert over > 0.5 > beside
    assert masonry.BRICK == (0.215, 0.065)


@pytest.mark.parametrize(("word", "size", "rate"), [
    ("tiles", 0.15, 1 / 0.153), ("tiles", 0.10, 1 / 0.103), ("slabs", 0.45, 1 / 0.458)])
def test_tiles_and_slabs_have_theirs(word, size, rate):
    """A tile's side and its joint, over a metre."""
    made = BUILDERS[word](size)
    share = made.share[:, made.share.shape[1] // 24]
    # A narrow joint is shown by the part of a texel that it covers.
    assert joints(np.where(share > 0.25, 1.0, 0.0), made.size[1]) == pytest.approx(rate, rel=0.01)


def test_boards_and_threads_have_theirs():
    """Sixteen boards of 120 mm across a tile, each of a tone of its own; 64 threads of 0.8 mm."""
    made = BUILDERS["planks"](0.12)
    assert made.size == pytest.approx((4.8, 1.92))
    board = made.tone.reshape(16, 32, -1)
    assert np.all(board[:, 0].mean(axis=1) < 0.9 * board[:, 16].mean(axis=1))
    cloth = BUILDERS["plain weave"](0.0008)
    assert cloth.size == pytest.approx((64 * 0.0008,) * 2)
    # Over one, under one: it repeats with two threads.
    wave = np.abs(np.fft.rfft(cloth.height.mean(axis=0) * 0 + cloth.height[3]))
    assert np.argmax(wave[1:]) + 1 in (32, 64)


def test_worn_paint_is_worn_by_its_share():
    """A fifth off is a fifth of the tile, and what is under it shows there."""
    for share in (0.05, 0.2, 0.6):
        surface = built(name="dark green paint", worn=share)
        assert np.mean(surface.pattern.tile[..., 0]) == pytest.approx(share, abs=0.03)
        assert surface.pattern.tile[..., 2][surface.pattern.tile[..., 0] > 0.9].max() < 0.3
    assert np.array_equal(surface.pattern.second, MATERIALS["old timber"].reflectance)
    whole = built(name="light oak"), built(name="light oak", worn=0.4)
    assert np.mean(whole[1].pattern.tile[..., 2]) < np.mean(whole[0].pattern.tile[..., 2]) - 0.2


def test_what_a_scene_says_is_what_it_gets():
    """Word, size, what shows beside, strength of relief; 'plain' leaves all of it off."""
    own = built(name="brick")
    assert own.pattern.size == pytest.approx((2.25, 2.25))
    assert np.array_equal(own.pattern.second, MATERIALS["grey plaster"].reflectance)
    plain = built(name="brick", pattern="plain")
    assert digest_of(plain) == digest_of(library_surface("brick"))
    assert built(name="grey card").pattern is None and built(reflectance=0.5).pattern is None
    larger = built(name="white tile", pattern_size=0.3)
    assert larger.pattern.size[0] == pytest.approx(12 * 0.303)
    soft, hard = built(name="plaster", relief=0.5), built(name="plaster", relief=2.0)
    assert hard.relief.slopes.std() == pytest.approx(4 * soft.relief.slopes.std(), rel=0.02)
    assert built(name="plaster", relief=0.0).relief is None
    record = Surface(name="white paint", pattern="striped paper", second=Surface(colour=(0.6, 0.1, 0.1)))
    red = second_of(record, shown_by(record))
    assert red[WAVELENGTHS_NM > 620].min() > 1.5 * red[(WAVELENGTHS_NM > 480) & (WAVELENGTHS_NM < 560)].max()
    assert shown_by(Surface(name="pine")).word == "grain"
    assert shown_by(Surface(name="pine"), of_room=True).word == "planks"
    assert built(name="stainless steel").across > built(name="stainless steel").roughness


def test_paint_covers_bricks_and_joints():
    """A painted wall of bricks has their relief and little of their tones, and joints of its own colour."""
    bare, coated = built(name="brick"), built(name="white paint", pattern="brick")
    assert coated.pattern.tile[..., 1].std() < 0.4 * bare.pattern.tile[..., 1].std()
    assert not np.any(coated.pattern.tile[..., 0])
    assert np.array_equal(coated.relief.slopes, bare.relief.slopes)
    worn = built(name="white paint", pattern="planks", worn=0.1)
    assert np.mean(worn.pattern.tile[..., 0]) == pytest.approx(0.1, abs=0.02)
    plain = luminance(library_surface("white paint").reflectance)
    assert [luminance(mean_over(each)) for each in (coated, worn)] == pytest.approx([plain] * 2)
    jointed = built(name="white paint", pattern="brick", second=Surface(name="soot"))
    assert np.any(jointed.pattern.tile[..., 0])


def test_tiles_are_shared():
    """Surfaces of one kind have one tile, whatever their colour; and one relief."""
    one, two = built(name="cream paint"), built(name="grey paint")
    assert one.pattern is two.pattern and one.relief is two.relief
    assert built(name="brick").pattern is built(name="brick").pattern
    # Fingerprints take what a tile holds, not which it is.
    shown = Shown("brick", 0.215)
    first = with_pattern(library_surface("brick"), shown)
    tile = first.pattern.tile
    fresh, other = (dataclasses.replace(first.pattern, tile=each) for each in (tile.copy(), tile + 0.01))
    assert digest_of(first.pattern) == digest_of(fresh) != digest_of(other)


def test_a_tile_is_the_same_on_every_machine():
    """Tiles lie on a coarse grid, so that the last bits of a sine or a transform do not show."""
    surface = built(reflectance=0.3, pattern="plaster")
    steps = surface.pattern.tile[..., [2, 3]] * 4096
    assert np.array_equal(steps, np.rint(steps))
    assert np.array_equal(surface.relief.slopes * 2048, np.rint(surface.relief.slopes * 2048))
    assert list(lot(7, np.array([0, 1, 123456]), np.array([5, -3, 2])) * 2**32) == [
        mixed(7, *each) for each in ((0, 5), (1, -3), (123456, 2))]
    coarse = np.rint(drawn.BUILDERS["planks"](0.12).tone * 64).astype("<i2")
    assert hashlib.sha256(coarse[::16, ::16].tobytes()).hexdigest()[:12] == PLANKS


def mixed(seed, *places):
    """`lot` in whole numbers of any length, cut to 32 bits."""
    made = seed
    for place in places:
        made = (made * 0x9E3779B1 + place) % 2**32
        made = (made ^ made >> 16) * 0x85EBCA6B % 2**32
        made = (made ^ made >> 13) * 0xC2B2AE35 % 2**32
        made ^= made >> 16
    return made


PLANKS = "5867f16e7c04"
"""Of the tile's tones in 64ths, as drawn on one x86 machine."""


def test_noise_has_the_wavelengths_that_are_asked_for():
    """A mean of 0, a scatter of 1, and nothing much finer or coarser."""
    noise = Noise(128, 128, (1.0, 1.0), 3)
    made = noise.band(0.1, 0.3, slope=0.5)
    power = np.abs(np.fft.rfft2(made)) ** 2
    waves = np.hypot(np.fft.rfftfreq(128, 1 / 128)[None], np.fft.fftfreq(128, 1 / 128)[:, None])
    assert abs(made.mean()) < 1e-12 and made.std() == pytest.approx(1.0)
    assert power[(waves > 2) & (waves < 14)].sum() > 0.8 * power.sum()
    drawn_out = noise.band(0.05, 0.5, along=8.0)
    assert np.abs(np.diff(drawn_out, axis=1)).mean() < 0.3 * np.abs(np.diff(drawn_out, axis=0)).mean()
