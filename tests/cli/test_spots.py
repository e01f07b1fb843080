"""Spot readings of patches of the picture and of the sky, held to closed forms."""

import json

import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import main, previz
from previz.engine.sights import PatchView
from previz.rendering.metering import Aim
from previz.stage.outdoors import sky_direction
from previz.stage.records import Camera, Patch
from previz.stage.views import camera_axes, patch_view

# A wall of light of 500 cd/m² that takes the right half of the picture and nothing else, and a sky.
SCENE = """
previz: 1
title: Yard
pieces:
  - {name: wall, shape: panel, at: [5 m, 10 m, -5 m], size: [10 m, 0.1 m, 12 m]}
lights:
  - {name: wall light, kind: glow, piece: wall, output: 500 cd/m2}
daylight: {sky: overcast, illuminance: 10000 lx, north: 20 deg}
cameras:
  - {name: A, at: [0 m, 0 m, 1.5 m], aim: [0 m, 10 m, 1.5 m], lens: 35 mm, stop: T8, iso: 100}
  - {name: B, at: [5 m, 0 m, 1.5 m], aim: [5 m, 10 m, 1.5 m], lens: 50 mm, stop: T8, iso: 100}
spots:
  - {name: lit, camera: A, across: 75 %, down: 50 %, width: 20 %, height: 20 %}
  - {name: edge, camera: A, across: 50 %, down: 50 %, width: 20 %, height: 10 %}
  - {name: point, across: 70 %, down: 40 %}
  - {name: east, azimuth: 90 deg, altitude: 30 deg}
  - {name: zenith, camera: A, azimuth: 0 deg, altitude: 90 deg, angle: 4 deg}
"""


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Run `previz meter` on the scene; its spots by (thing, camera)."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "yard.yaml"
    path.write_text(SCENE)

    def call(*more):
        found = CliRunner().invoke(previz, ["meter", str(path), "--json", *more], standalone_mode=False)
        assert found.exception is None, found.output
        option, = json.loads(found.stdout)["options"]
        return {(each["thing"], each["camera"]): each for each in option["spots"]}

    return call


@pytest.mark.engine
@pytest.mark.filterwarnings("ignore")
def test_patches_of_the_picture_and_of_the_sky(run):
    """A wall of 500 cd/m² reads that, half of it and half sky the mean of both; the overcast sky by its law.

    CIE overcast sky (CIE S 011; check value 4.5): L = Lz (1 + 2 sin h) / 3 and Lz = 9 E / 7 pi, 4092.6 cd/m²
    for 10 000 lx; 2728.4 at 30 deg.
    """
    result = run("--precision", "0.5 %")
    value = {key: each["luminance"]["value"] for key, each in result.items()}
    assert value["lit", "A"] == pytest.approx(500, rel=0.01)
    assert ("lit", "B") not in value and ("edge", "B") not in value
    assert value["point", "A"] == pytest.approx(500, rel=0.01)
    assert value["point", "B"] == pytest.approx(500, rel=0.01)
    # The sky just over the horizon, over the middle tenth of the picture's height.
    high = 4092.6 * (1 + 2 * np.sin(np.radians(np.linspace(0, 2.2, 50)))) / 3
    horizon = value["edge", "A"] * 2 - 500
    assert horizon == pytest.approx(high.mean() / 2, rel=0.1)
    for camera in ("A", "B"):
        assert value["east", camera] == pytest.approx(2728.4, rel=0.01)
    assert value["zenith", "A"] == pytest.approx(4092.6, rel=0.01)
    assert result["lit", "A"]["share_of_frame"] == pytest.approx(0.04)
    assert result["east", "A"]["share_of_frame"] == 0
    # Lamp by lamp: nothing of the sky is in the wall's reading.
    lamps = result["lit", "A"]["lamps"]
    assert {name for name, each in lamps.items() if sum(_numbers(each)) > 1} == {"wall light"}


def _numbers(result):
    """Yield every number of a lamp's part that is no error."""
    for key, each in result.items():
        if isinstance(each, dict):
            yield from _numbers(each)
        elif isinstance(each, int | float) and key == "value":
            yield each


@pytest.mark.engine
@pytest.mark.filterwarnings("ignore")
def test_patches_of_the_command_line(run):
    """As many as are given, besides those of the scene; `--spot` names some of all."""
    result = run("--camera", "A", "--patch", "75 %,50 %,10 %,10 %", "--sky", "0 deg,30 deg", "--spot",
               "patch at 75 %, 50 %", "--spot", "sky at 0 deg, 30 deg", "--spot", "lit")
    assert set(result) == {("lit", "A"), ("patch at 75 %, 50 %", "A"), ("sky at 0 deg, 30 deg", "A")}
    assert result["patch at 75 %, 50 %", "A"]["luminance"]["value"] == pytest.approx(500, rel=0.02)
    assert result["sky at 0 deg, 30 deg", "A"]["luminance"]["value"] == pytest.approx(2728.4, rel=0.02)


@pytest.mark.parametrize(("more", "said"), [
    (("--patch", "40 %"), "is 1 numbers; write 2 or 4."),
    (("--patch", "140 %,20 %"), "is not within the picture; write 0 % to 100 %."),
    (("--sky", "40 deg,high"), "'high' is not an angle"),
])
def test_what_no_patch_is(tmp_path, monkeypatch, capsys, more, said):
    """Reported in words, with 2 and no traceback."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "yard.yaml").write_text(SCENE)
    monkeypatch.setattr("sys.argv", ["previz", "meter", "yard.yaml", *more])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2 and said in capsys.readouterr().err


def test_where_a_patch_is(tmp_path, monkeypatch):
    """North turned by 20 deg lies 20 deg west of +y's east; a round patch is a degree on the film."""
    assert sky_direction(0, 0, 0) == pytest.approx([0, 1, 0], abs=1e-9)
    assert sky_direction(90, 0, 0) == pytest.approx([1, 0, 0], abs=1e-9)
    assert sky_direction(0, 90, 0) == pytest.approx([0, 0, 1], abs=1e-9)
    from previz.scene.read import load
    from previz.stage.build import build_stage

    path = tmp_path / "yard.yaml"
    path.write_text(SCENE)
    stage = build_stage(load(path).scene())
    camera = stage.cameras[0]
    names = [patch.name for patch in stage.patches]
    assert names == ["lit", "edge", "point", "east", "zenith"]
    turned, place = patch_view(camera, stage.patches[3])
    assert turned.world_from_camera[:, 2] == pytest.approx(sky_direction(90, 30, 20))
    assert turned.world_from_camera.T @ turned.world_from_camera == pytest.approx(np.eye(3))
    assert place == (0.5, 0.5, 0.5, 0.5, True)
    same, (x, y, half_x, half_y, is_round) = patch_view(camera, stage.patches[2])
    assert same is camera and (x, y, is_round) == (0.7, 0.4, True)
    # Half a degree from the axis, as a share of the whole width.
    assert half_x * 2 * camera.tan_half[0] == pytest.approx(np.tan(np.radians(0.5)))
    assert half_x / half_y == pytest.approx(camera.tan_half[1] / camera.tan_half[0])


@pytest.fixture
def patch_points():
    """Draw film points of a patch."""
    def draw(patch, count=20_000):
        camera = Camera("A", camera_axes((0, 0, 0), (0, 1, 0), 0.0), np.zeros(3), (0.4, 0.2), 2.0, 0.0, 1.0,
                        stop=4, iso=800, shutter_s=1 / 48, nd_density=0.0, white_balance=5600.0, tint=0.0,
                        focal=0.05, sensor=(0.04, 0.02))
        looking, place = patch_view(camera, patch)
        view = PatchView(looking, patch.name, place)
        return view.film_points(0, count, 1) / [view.width, view.height]

    return draw


def test_film_points_fill_the_patch_evenly(patch_points):
    """Within its edges, with the middle and the spread of an even rectangle or disc."""
    at = patch_points(Patch("a", middle=(0.3, 0.6), size=(0.2, 0.1)))
    assert at.min(axis=0) == pytest.approx([0.2, 0.55], abs=1e-3)
    assert at.max(axis=0) == pytest.approx([0.4, 0.65], abs=1e-3)
    # Even over a length: variance a twelfth of its square.
    assert at.std(axis=0) == pytest.approx(np.array([0.2, 0.1]) / np.sqrt(12), rel=0.02)
    disc = patch_points(Patch("b", middle=(0.5, 0.5), angle_deg=4.0)) - 0.5
    half = np.tan(np.radians(2)) / np.array([0.8, 0.4])
    radius = np.linalg.norm(disc / half, axis=1)
    assert radius.max() <= 1 + 1e-9
    # Even over a disc: the mean radius is two thirds.
    assert radius.mean() == pytest.approx(2 / 3, rel=0.01)


def test_what_is_metered_has_a_fingerprint_of_its_own():
    """A patch by its place and not by its name; a thing by its name."""
    one, other = (Aim(None, name, 0.0, (0.5, 0.5, 0.1, 0.1, True)) for name in ("a", "b"))
    assert one.seen == other.seen != Aim(None, "a", 0.0).seen
