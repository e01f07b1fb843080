"""Pictures laid over each other, in regions, and where light that is missing would come from."""

import numpy as np
import pytest

from previz.levels.missing_light import Surfaces, brightest_part, missing_light
from previz.levels.picture_align import fitted, moved, resized, warped
from previz.levels.picture_model import CLIPPED, CRUSHED, PLAIN
from previz.levels.picture_regions import cells_of, pooled

POINTS = np.array([[0.2, 0.3], [0.7, 0.25], [0.6, 0.8], [0.3, 0.7], [0.5, 0.5]])


def test_two_points_find_shift_turn_and_scale():
    """A likeness of any aspect, exactly; of three and more the mean."""
    turn = 1.3 * np.exp(0.1j)
    ours = POINTS / [1, 1.6]
    theirs = (ours @ [1, 1j]) * turn + (0.05 - 0.1j)
    marked = np.stack([theirs.real, theirs.imag * 2.0], axis=1)
    for count in (2, 3, 5):
        matrix, miss = fitted(POINTS[:count], marked[:count], (1.6, 2.0))
        assert miss < 1e-12
        assert moved(matrix, ours) == pytest.approx(np.stack([theirs.real, theirs.imag], axis=1))


def test_four_points_find_a_homography_where_a_likeness_misses():
    """Keystone, as of a picture that was shot askew."""
    keystone = np.array([[1.1, 0.05, 0.02], [0.02, 0.9, 0.01], [0.3, 0.1, 1.0]])
    theirs = moved(keystone, POINTS)
    matrix, miss = fitted(POINTS, theirs, (1.0, 1.0))
    assert miss < 1e-9 and matrix == pytest.approx(keystone, abs=1e-9)
    # Three points leave no choice, and say by how much they miss.
    assert fitted(POINTS[:3], theirs[:3], (1.0, 1.0))[1] > 0.005


def test_points_that_fall_together_are_refused():
    """One point, and two at the same place."""
    for points in (POINTS[:1], POINTS[[0, 0]]):
        with pytest.raises(ValueError, match="two points"):
            fitted(points, points, (1.0, 1.0))


def test_resizing_keeps_the_light():
    """The mean stays, down and up, and whole steps are plain means."""
    pixels = np.random.default_rng(1).uniform(0, 1, (30, 45, 3))
    assert resized(pixels, (10, 15))[2, 3] == pytest.approx(pixels[6:9, 9:12].mean(axis=(0, 1)))
    for shape in ((7, 11), (64, 90)):
        made = resized(pixels, shape)
        assert made.shape == (*shape, 3) and made.mean() == pytest.approx(pixels.mean())


def test_a_picture_of_a_part_is_laid_where_it_belongs():
    """A ramp seen by a crop of its middle: the frame's middle has it, what is outside has nothing."""
    ramp = np.repeat((np.arange(200) / 200)[None, :, None], 120, axis=0) * np.ones(3)
    crop = ramp[30:90, 50:150]
    corners = np.array([[0.25, 0.25], [0.75, 0.75]])
    matrix, _ = fitted(corners, np.array([[0.0, 0.0], [1.0, 1.0]]), (200 / 120, 100 / 60))
    laid = warped(crop, (60, 100), matrix)
    seen = np.isfinite(laid[..., 0])
    assert seen.mean() == pytest.approx(0.25, abs=0.03)
    assert laid[30, 30:70, 0] == pytest.approx(ramp[60, 61:140:2, 0], abs=0.006)


def test_regions_are_one_thing_in_one_cell():
    """Two things in a cell are two regions; a sliver is none, nor what the picture does not show."""
    things = np.zeros((36, 64), int)
    things[:, 33:] = 1
    things[0, 0] = 2
    seen = np.ones(things.shape, bool)
    seen[30:] = False
    cells = cells_of(np.kron(things, np.ones((4, 4), int)), np.kron(seen, np.ones((4, 4), bool)))
    for n in range(cells.count):
        assert len(np.unique(np.kron(things, np.ones((4, 4), int))[cells.number == n])) == 1
    assert (cells.number[-20:] == -1).all() and cells.pixels.min() >= 6
    plane = np.arange(things.size * 16, dtype=float).reshape(144, 256)
    own = cells.number == cells.number[10, 10]
    assert cells.spread(cells.mean(plane))[10, 10] == pytest.approx(plane[own].mean())


def test_clipped_and_crushed_are_known_as_such():
    """By the code, channel by channel, from a fiftieth of a region on."""
    cells = cells_of(np.zeros((72, 128), int), np.ones((72, 128), bool))
    code = np.full((72, 128, 3), 0.5)
    code[:2, :2, 0] = 1.0
    code[-2:, -2:, 1] = 0.0
    _, state, error = pooled(cells, code, code, np.full(code.shape, 1 / 255))
    first, last = cells.number[0, 0], cells.number[-1, -1]
    assert (state[first, 0], state[first, 1], state[last, 1]) == (CLIPPED, PLAIN, CRUSHED)
    assert (state == PLAIN).sum() == state.size - 2 and (error > 0).all()


def corner(rows=72, columns=128):
    """A floor and a back wall, 4 m each, as regions of a grid; a grey of 0.4."""
    row, column = np.indices((rows, columns))
    across = (column + 0.5) / columns * 4
    deep = (row + 0.5) / rows
    wall = deep < 0.5
    back = np.stack([across, np.full(across.shape, 4.0), 3 * (1 - 2 * deep)], -1)
    floor = np.stack([across, 4 - 4 * (2 * deep - 1), np.zeros(across.shape)], -1)
    position = np.where(wall[..., None], back, floor)
    normal = np.where(wall[..., None], [0.0, -1, 0], [0.0, 0, 1])
    cells = cells_of(wall.astype(int), np.ones(wall.shape, bool))
    mean = [np.stack([cells.mean(plane[..., k]) for k in range(3)], axis=1) for plane in (position, normal)]
    return cells, Surfaces(mean[0], mean[1], np.full(cells.count, 0.4))


def test_a_missing_lamp_is_found_where_it_is():
    """Its light by the inverse square, over light from elsewhere: place, intensity, and where it falls."""
    cells, surfaces = corner()
    place, candela = np.array([3.2, 3.0, 1.2]), 60.0
    towards = place - surfaces.position
    squared = np.sum(towards**2, axis=1)
    cosine = np.clip(np.sum(towards * surfaces.normal, axis=1), 0, None) / np.sqrt(squared)
    lit = 0.4 / np.pi * candela * cosine / squared
    own = np.stack([2 + surfaces.position[:, 0], 5 - surfaces.position[:, 1]])
    noise = np.random.default_rng(0).normal(0, 0.03, cells.count)
    stops = np.log2(1 + lit / own.sum(axis=0)) + noise
    found = missing_light(cells, surfaces, stops, np.full(cells.count, 0.03), own.sum(axis=0),
                          own / own.sum(axis=0), (np.zeros(3), np.array([4.0, 4.0, 3.0])))
    # Places are tried half a metre apart.
    assert np.linalg.norm(found.place - place) < 0.6 and found.explained > 0.7
    assert found.centre[0] > 2.3 and found.spread < 1.0
    assert found.intensity == pytest.approx(candela, rel=0.5)


def test_a_missing_lamp_is_put_on_the_floor_at_least():
    """Light from further down than the floor comes from a lamp on it."""
    cells, surfaces = corner()
    towards = np.array([2.0, 2.0, -0.9]) - surfaces.position
    squared = np.sum(towards**2, axis=1)
    lit = np.clip(np.sum(towards * surfaces.normal, axis=1), 0, None) / squared**1.5 * 8
    own = np.full((1, cells.count), 1.0)

    def found(**more):
        return missing_light(cells, surfaces, np.log2(1 + lit), np.full(cells.count, 0.03), own[0], own,
                             (np.zeros(3), np.array([4.0, 4.0, 3.0])), **more).place

    assert found()[2] < 0
    assert found(floor=0.1)[2] == pytest.approx(0.1)


def test_noise_is_no_missing_light():
    """Neither is what is too dark."""
    cells, surfaces = corner()
    own = np.full((1, cells.count), 5.0)
    noise = np.random.default_rng(0).normal(0, 0.1, cells.count)
    bounds = (np.zeros(3), np.array([4.0, 4.0, 3.0]))
    assert missing_light(cells, surfaces, noise, np.full(cells.count, 0.1), own[0],
                         np.ones((1, cells.count)), bounds) is None
    dark = np.where(surfaces.position[:, 0] > 3.4, -1.0, 0.0) * (surfaces.normal[:, 2] > 0)
    assert brightest_part(cells, dark) is None


def test_the_largest_excess_hangs_together():
    """Of two bright parts the larger one by area and stops, and not both."""
    cells, surfaces = corner()
    stops = np.zeros(cells.count)
    x = surfaces.position[:, 0]
    wall = surfaces.normal[:, 1] < 0
    stops[(x < 0.5) & wall], stops[(x > 3) & wall] = 1.0, 0.6
    part = brightest_part(cells, stops)
    assert (x[part] > 3).all() and part.sum() == ((x > 3) & wall).sum()
