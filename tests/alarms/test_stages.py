"""Alarms: what scenes are built into, thing by thing. Light that crews have rendered is found again by it."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import kept

from previz.physics.materials import MATERIALS
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.surfaces import library_surface

SCENES = Path(__file__).parents[2] / "scenes"
EVERYTHING = Path(__file__).parent / "everything.yaml"


def numbers_of(stage):
    """A number for each thing of a stage, by part and name; those of one name are counted."""
    found = {}
    for part in ("meshes", "lamps", "emitters", "panes", "guides", "cameras", "probes", "patches", "heads", "rig",
                 "grip"):
        for each in getattr(stage, part):
            name = f"{part} {getattr(each, 'name', getattr(each, 'figure', ''))}"
            count = sum(key.split(" #")[0] == name for key in found)
            found[f"{name} #{count}" if count else name] = kept.number(each)
    for name, surface in stage.surfaces.items():
        found[f"surface {name}"] = kept.number(surface)
    return found | {part: kept.number(getattr(stage, part)) for part in ("sun", "sky", "haze", "places")}


@pytest.mark.parametrize("path", [SCENES / "signal-cabin.yaml", EVERYTHING], ids=lambda path: path.stem)
def test_alarm_stage(path):
    """A scene becomes the very things that it became before.

    The cloth of figures differs by half a millimetre on three of 5874 corners where sums are added in another
    order: 3e-7 of a mean, 3e-5 with what normals and skins do of it.
    """
    kept.ring("stages", path.stem, numbers_of(build_stage(load(path).scene(None))), 5e-5)


def test_alarm_materials():
    """Every material of the library sends on what it did."""
    kept.ring("stages", "materials", {name: kept.number(library_surface(name)) for name in MATERIALS}, 1e-5)
