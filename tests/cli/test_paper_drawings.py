"""The bars of paper on a shipped scene: drawings agree with the scene file to 1 mm of the set.

Read back as whoever gets the files would: SVG by the standard library's XML reader (its places are mm of
paper from the top left, W3C SVG 1.1; the root says scale and origin), DXF by ezdxf.
"""

import re
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pytest
from click.testing import CliRunner

from previz.cli.main import previz as program
from previz.scene.read import load

# The colour library warns of optional parts that are not installed.
pytestmark = pytest.mark.filterwarnings("ignore")

SCENE = "scenes/signal-cabin.yaml"
MM = 0.001


@pytest.fixture(scope="module", params=[("a3", "metric"), ("letter", "imperial")], ids=["a3", "letter"])
def made(request, tmp_path_factory):
    page, units = request.param
    folder = tmp_path_factory.mktemp("paper")
    done = CliRunner().invoke(program, ["paper", SCENE, "--option", "bounce", "--page", page,
                                        "--units", units, "--no-pictures", "--no-meters",
                                        "--out", str(folder)])
    assert done.exit_code == 0, done.output
    drawings, = folder.glob("*/drawings.dxf")
    return drawings.parent, load(SCENE).scene("bounce"), units


def drawing(path):
    """Return a drawing's root, and a function that brings points of its paper to the set. [m]"""
    root = ElementTree.parse(path).getroot()
    scale = float(root.get("data-scale"))
    origin = np.array([float(each) for each in root.get("data-origin").split()])

    def to_set(points):
        return (np.asarray(points, float) - origin) * [scale / 1000, -scale / 1000]

    return root, to_set


def points(path):
    """Return the corners of an SVG path of straight lines, shape (n, 2). [mm]"""
    return np.array([float(each) for each in re.findall(r"-?[0-9.]+", path.get("d"))]).reshape(-1, 2)


def paths(root, **attributes):
    return [each for each in root.iter("{http://www.w3.org/2000/svg}path")
            if all(each.get(f"data-{key}") == value for key, value in attributes.items())]


def test_a_page_of_svg_is_as_large_as_it_says(made):
    """One unit of the drawing is 1 mm: width and viewBox agree."""
    folder, _, _ = made
    root, _ = drawing(folder / "plan.svg")
    wide, high = root.get("width"), root.get("height")
    assert root.get("viewBox").split() == ["0", "0", wide.removesuffix("mm"), high.removesuffix("mm")]


def test_walls_of_the_plan_agree_with_the_scene(made):
    folder, scene, _ = made
    root, to_set = drawing(folder / "plan.svg")
    outline, = paths(root, name="walls", part="outline")
    found = to_set(points(outline))
    thick, (across, deep, _) = scene.room.wall_thickness, scene.room.size
    assert found.min(axis=0) == pytest.approx([-thick, -thick], abs=MM)
    assert found.max(axis=0) == pytest.approx([across + thick, deep + thick], abs=MM)
    # The west window: its jambs are 1.50 m and 3.20 m from the south wall.
    window = scene.room.openings[0]
    west = np.unique(np.round(found[np.abs(found[:, 0]) < MM, 1], 4))
    for jamb in (window.along, window.along + window.size[0]):
        assert np.abs(west - jamb).min() < MM


def test_lamps_of_the_plan_stand_where_the_scene_has_them(made):
    """Those within the walls, by the lines that they are aimed along, which begin at the lamp."""
    folder, scene, _ = made
    root, to_set = drawing(folder / "plan.svg")
    seen = 0
    for light in scene.lights:
        inside = all(0 < place < side for place, side in zip(light.at[:2], scene.room.size[:2], strict=True))
        lines = [path for path in paths(root, name=light.name, part="aim") if len(points(path)) == 2]
        if inside and lines:
            assert to_set(points(lines[0]))[0] == pytest.approx(light.at[:2], abs=MM)
            seen += 1
    assert seen == 4


def test_heights_of_the_section_agree_with_the_scene(made):
    folder, scene, _ = made
    root, to_set = drawing(folder / "section.svg")
    outlines = np.concatenate([to_set(points(path)) for path in paths(root, name="walls", part="outline")])
    levels = np.unique(np.round(outlines[:, 1], 4))
    window = scene.room.openings[0]
    for height in (0.0, scene.room.size[2], window.sill, window.sill + window.size[1]):
        assert np.abs(levels - height).min() < MM
    for light in scene.lights:
        group, = [each for each in root.iter("{http://www.w3.org/2000/svg}g")
                  if (each.get("data-name"), each.get("data-part")) == (light.name, "symbol")]
        assert float(group.get("data-at").split()[1]) == pytest.approx(light.at[2], abs=MM)


def test_the_dxf_is_sound_and_at_full_size(made):
    """Its audit finds nothing; lamps are blocks at their places, in mm, or inches of 25.4 mm."""
    folder, scene, units = made
    document = ezdxf.readfile(folder / "drawings.dxf")
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    unit = 0.0254 if units == "imperial" else 0.001
    found = {}
    for insert in document.modelspace().query("INSERT"):
        told = {attribute.dxf.tag: attribute.dxf.text for attribute in insert.attribs}
        if "NUMBER" in told:
            found.setdefault(told["NAME"], []).append(np.array(insert.dxf.insert)[:2] * unit)
    lamps = [light.name for light in scene.lights]
    assert set(lamps) <= set(found)
    # Plans lie side by side: what two lamps are apart does not depend on where.
    one, two = (next(light for light in scene.lights if light.name == name) for name in ("key", "lever rim"))
    apart = np.subtract(two.at[:2], one.at[:2])
    assert any(b - a == pytest.approx(apart, abs=MM) for a in found["key"] for b in found["lever rim"])
