"""The coarse picture of what is moved is of the same light as the frames that come after it."""

import numpy as np
import pytest

from previz.engine.render import CameraJob, Sampling, open_stage, plane_values
from previz.physics.light import lamp_band_xyz
from previz.rendering import following
from previz.rendering.following import Following
from previz.scene.read import load
from previz.stage.build import build_stage

pytestmark = pytest.mark.engine

SCENE = """\
previz: 1
title: The engine shed's office
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.5}}}
pieces:
  - {name: stand, shape: box, at: [2 m, 2.6 m], size: [0.4 m, 0.4 m, 1.1 m], surface: grey card}
lights:
  - {name: key, kind: fresnel, at: [0.4 m, 0.4 m, 2.4 m], aim: stand.top, output: 3000 lm}
  - {name: fill, kind: panel, at: [3.6 m, 0.4 m, 1.8 m], aim: stand.top, size: [0.5 m, 0.5 m],
     output: 2000 lm}
  - {name: bulb, kind: bulb, at: [2 m, 3.2 m, 1.5 m], output: 400 lm}
cameras:
  - {name: A, at: [2 m, 0.6 m, 1.3 m], aim: stand.top, lens: 25 mm, stop: T2.8, iso: 800}
options: {as it is: {}}
"""
WIDTH, TILE = 64, 4
MOVED_KEY = {"lights": {"key": {"at": ["0.4 m", "1.2 m", "2.2 m"]}}}


class Office:
    """The scene, and what follows it."""

    def __init__(self, path):
        path.write_text(SCENE, encoding="utf-8")
        self.file = load(path)
        self.stage = build_stage(self.file.scene("as it is"), reminders=False)
        self.following = Following(self.stage, self.stage.cameras[0], 12, "auto")

    def moved(self, moves):
        """Return the stage with things moved, and the coarse picture of it with nothing traced."""
        stage = build_stage(self.file.moved("as it is", moves), reminders=False)
        return stage, self.following.begin(stage, stage.cameras[0], {})


@pytest.fixture(scope="module")
def office(tmp_path_factory):
    """The office, seen in a small size."""
    patch = pytest.MonkeyPatch()
    patch.setattr(following, "WIDTH", {"processor": WIDTH, "gpu": WIDTH})
    yield Office(tmp_path_factory.mktemp("office") / "office.yaml")
    patch.undo()


def tiles(picture):
    """Return the sums over tiles, shape (..., tile row, tile column)."""
    rows, columns = (side // TILE * TILE for side in picture.shape[-2:])
    cut = picture[..., :rows, :columns]
    return cut.reshape(*cut.shape[:-2], rows // TILE, TILE, columns // TILE, TILE).sum(axis=(-3, -1))


def test_a_moved_lamp_is_traced_alone_and_gives_the_light_of_an_ordinary_render(office):
    """Tile by tile within the noise that both state: z has a spread of one, no lean, and no far outlier."""
    stage, coarse = office.moved(MOVED_KEY)
    assert coarse.lamps == ("key",) and not coarse.whole
    while not coarse.last:
        coarse.step()
    found = coarse.frames()
    assert found.samples == sum(following.ROUNDS)
    job = CameraJob(open_stage(stage, 12), stage, stage.cameras[0], *found.shape[::-1], Sampling(64, 8, 5))
    while not job.finished:
        job.step()
    usual = job.frames()
    ours, theirs = (tiles(job.weights @ np.moveaxis(each.slices[0], 0, 1))
                    for each in (found, usual))
    spread = np.sqrt(tiles(found.variance[0]) + tiles(usual.variance[0]))
    z = (ours - theirs) / spread
    # Few passes make a variance that is itself uncertain: a tile of 16 pixels by 5 passes has 64 degrees.
    assert abs(z.mean()) < 4 / np.sqrt(z.size)
    assert 0.7 < np.sqrt(np.mean(z**2)) < 1.4
    assert ours.sum() == pytest.approx(theirs.sum(), rel=0.03)


def test_a_lamp_that_is_not_moved_is_not_traced(office):
    """Nothing moved, nothing traced; a lamp gone, the others stay as they are."""
    for moves in ({}, {"remove": ["fill"]}):
        _, coarse = office.moved(moves)
        coarse.step()
        assert coarse.lamps == () and not coarse.whole
        assert coarse.layers([], []).shape == (0, coarse.job.height, WIDTH, 3)


@pytest.mark.parametrize("moves", [
    {"pieces": {"stand": {"at": ["2.2 m", "2.6 m"]}}},
    {"cameras": {"A": {"at": ["2.2 m", "0.6 m", "1.3 m"]}}},
    # The camera sees the bulb, at its old place and at the new one.
    {"lights": {"bulb": {"at": ["2 m", "3.2 m", "1.7 m"]}}},
    {"lights": {"bulb": {"at": ["3.9 m", "0.2 m", "0.2 m"]}}},
    {"lights": {"key": {"at": ["1.2 m", "3.4 m", "1.4 m"]}}},
])
def test_what_the_camera_sees_moving_traces_all_lamps(office, moves):
    """Else the lamps that are kept would show it where it was."""
    _, coarse = office.moved(moves)
    assert coarse.whole and coarse.lamps == ("key", "fill", "bulb")


def test_layers_add_up_to_the_light_that_was_traced(office):
    """The denoiser's losses are given back: the picture is as bright, and of the hue, as its noisy mean."""
    stage, coarse = office.moved({"pieces": {"stand": {"at": ["2.2 m", "2.6 m"]}}})
    coarse.step()
    gains = [1.0, 0.25, 0.0]
    layers = coarse.layers(stage.lamps, gains)
    raw = [np.einsum("bhw,bc->hwc", coarse.bands(k), lamp_band_xyz(lamp, 12))
           for k, lamp in enumerate(stage.lamps)]
    mixed, traced = (sum(g * each for g, each in zip(gains, parts, strict=True)) for parts in (layers, raw))
    np.testing.assert_allclose(mixed.mean(axis=(0, 1)), traced.mean(axis=(0, 1)), rtol=0.05)
    # A lamp that is off in the mix keeps its light for when it is turned up.
    np.testing.assert_allclose(layers[2].mean(axis=(0, 1)), raw[2].mean(axis=(0, 1)), rtol=0.25)
    assert layers.min() > -0.02 * layers.max()


def test_rounds_go_on_from_the_ones_before(office):
    """The samples add up, and the noise falls."""
    _, coarse = office.moved(MOVED_KEY)
    noise = []
    while not coarse.last:
        coarse.step()
        if coarse.rounds > 1:
            noise.append(float(np.sqrt(coarse.frames().variance.mean())))
    assert coarse.job.weight == sum(following.ROUNDS) and noise[-1] < 0.6 * noise[0]


def test_to_be_warm_changes_nothing(office):
    """Only kernels are compiled: the same wish gives the same picture, bit for bit."""
    pictures = []
    for warm in (False, True):
        if warm:
            office.following.warm(office.stage.cameras[0], ["key"])
        _, coarse = office.moved(MOVED_KEY)
        coarse.step()
        pictures.append(coarse.bands(0))
    assert np.array_equal(*pictures)


def test_names_are_of_what_the_camera_sees(office):
    """They decide what is kept, so they are held against what stands in the room."""
    _, names = plane_values(open_stage(office.stage, 12), office.stage.cameras[0], 320, 180, 0)
    assert {"stand", "bulb"} <= names and not {"key", "fill"} & names
