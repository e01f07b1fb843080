"""Exposure maps as the command line and the scene ask for them: steps, latitude, clip, zones."""

import csv
import io

import numpy as np
import pytest
from click.testing import CliRunner
from furnished import SAMPLES, SCENE, furnished_desk
from PIL import Image

from previz.cli.main import previz
from previz.exposure.falsecolour import band_index, grey_of, paint, stop_bands
from previz.physics.exposure import CameraSettings
from previz.physics.stops import MapSettings, Zone

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A furnished folder, whose camera A has a latitude in one of its options."""
    folder = tmp_path_factory.mktemp("maps")
    furnished_desk(folder, f"{SCENE.rstrip()}\n  wide:\n    like: early\n"
                           "    cameras: {A: {latitude: {over: 4.5, under: 7}}}\n")
    return folder


def render(folder, option, *words):
    """Return what `previz render` prints of the bands, and its map, without the legend."""
    result = CliRunner().invoke(previz, [
        "render", str(folder / "canteen.yaml"), "--size", "160", "--samples", str(SAMPLES), "--no-exr",
        "--option", option, "--camera", "A", "--out", str(folder / "renders"), "--csv", *words],
        catch_exceptions=False)
    assert result.exit_code == 0, result.output
    rows = [row for row in csv.DictReader(io.StringIO(result.stdout)) if row["quantity"] == "band_share"]
    shown = np.asarray(Image.open(folder / "renders" / f"{option}-A-map.png").convert("RGB"))
    return {row["band"]: float(row["value"]) for row in rows}, shown


def found_in(shown, expected):
    """Return whether a picture stands somewhere in another, pixel by pixel; its top left is looked for."""
    rows, columns = expected.shape[:2]
    first = np.argwhere(np.all(shown[:-rows + 1, :-columns + 1] == expected[0, 0], axis=-1))
    return any(np.array_equal(shown[y:y + rows, x:x + columns], expected) for y, x in first)


def without_outlines(frame, made, settings=None):
    bands = stop_bands(made, settings)
    return bands, band_index(frame.signal, bands)


@pytest.mark.parametrize(("option", "words", "made", "held"), [
    ("early", ("--steps", "half"), MapSettings(halves=True), {}),
    ("early", ("--clip", "1", "--crush", "-3"), MapSettings(clip=1.0, crush=-3.0), {}),
    ("wide", (), MapSettings(), {"over": 4.5, "under": 7.0}),
    ("wide", ("--clip", "1.5"), MapSettings(clip=1.5), {"over": 4.5, "under": 7.0})])
def test_steps_and_ends_are_the_maps(folder, developed, option, words, made, held):
    """Shares that are printed are those of the picture, cut as it was asked for or as the camera holds."""
    frame = developed(folder, option)
    bands, index = without_outlines(frame, made, CameraSettings(2.8, 800, 1 / 48, **held))
    shares, _ = render(folder, option, *words)
    assert list(shares) == [band.label for band in bands]
    counted = np.bincount(index.ravel(), minlength=len(bands)) / index.size
    # Six digits are printed.
    assert list(shares.values()) == pytest.approx(counted.tolist(), abs=1e-5)


def test_zones_are_painted_over_the_still(folder, developed):
    """The map file holds the still in grey with the zones in their colours, and their shares are printed."""
    frame = developed(folder, "early")
    made = MapSettings(zones=(Zone("shade", -3.0, -1.5), Zone("skin", -0.5, 0.5)))
    bands, index = without_outlines(frame, made)
    shares, shown = render(folder, "early", "--zone", "skin: -0.5 to 0.5", "--zone", "shade: −3 to -1.5")
    assert list(shares) == ["crushed", "shade", "skin", "clipped", "outside the zones"]
    assert sum(shares.values()) == pytest.approx(1, abs=1e-5)
    skin = [each.label for each in bands].index("skin")
    assert shares["skin"] == pytest.approx(np.mean(index == skin), abs=1e-5)
    assert found_in(shown, paint(index, bands, grey=grey_of(frame.still)))


@pytest.mark.parametrize(("words", "said"), [
    (("--zone", "skin"), "'skin' is no zone; write 'skin: -0.5 to 0.5'"),
    (("--zone", "skin: 1 to -1"), "zone 'skin' goes from 1 to -1; write the lesser end first"),
    (("--zone", "skin: 0 to 30"), "both from -20 to 20 stops"),
    (("--zone", "a: 0 to 2", "--zone", "b: 1 to 3"), "zone 'b' (1 to 3) lies over zone 'a' (0 to 2)"),
    (("--zone", "a: 0 to 1", "--zone", "a: 1 to 2"), "two zones are called 'a'"),
    (tuple(word for n in range(7) for word in ("--zone", f"z{n}: {n} to {n + 1}")), "the map has 7 zones"),
    (("--steps", "third"), "'third' is not one of"), (("--clip", "0"), "not in the range"),
    (("--crush", "2"), "not in the range")])
def test_what_no_map_shows_is_refused(folder, words, said):
    """Bad steps, ends and zones end with status 2, one message and nothing written."""
    before = sorted((folder / "renders").glob("*"))
    result = CliRunner().invoke(previz, ["render", str(folder / "canteen.yaml"), "--out",
                                         str(folder / "renders"), *words])
    assert result.exit_code == 2
    assert said in " ".join(result.output.split())
    assert sorted((folder / "renders").glob("*")) == before


@pytest.mark.parametrize("command", ["render", "watch", "compare", "paper", "balance", "match-cut"])
def test_every_command_that_makes_maps_has_the_options(command):
    """Steps, zones, clip and crush are asked for alike wherever a map is made."""
    told = CliRunner().invoke(previz, [command, "--help"]).output
    assert all(f"  {option} " in told for option in ("--steps", "--zone", "--clip", "--crush"))
