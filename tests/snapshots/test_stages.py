"""Snapshots: what scenes are built into, thing by thing. Light that was rendered is found again by it."""

import pytest
import snapshot

from previz.physics.materials import MATERIALS
from previz.stage.surfaces import library_surface

PARTS = ("meshes", "lamps", "emitters", "panes", "guides", "cameras", "probes", "patches", "heads", "rig",
         "grip")
ON_CLOTH = "desk helper"
"""It is aimed at a chest, which lies where its cloth does."""


def numbers_of(stage):
    """A number for each thing of a stage, by part and name; those of one name are counted."""
    found = {}
    for part in PARTS:
        for each in getattr(stage, part):
            if part == "emitters" and each.name == ON_CLOTH:
                continue
            name = f"{part} {getattr(each, 'name', getattr(each, 'figure', ''))}"
            count = sum(key.split(" #")[0] == name for key in found)
            found[f"{name} #{count}" if count else name] = snapshot.number(each)
    for name, surface in stage.surfaces.items():
        found[f"surface {name}"] = snapshot.number(surface)
    return found | {part: snapshot.number(getattr(stage, part)) for part in ("sun", "sky", "haze")}


@pytest.mark.parametrize("name", ["signal-cabin", "everything"])
def test_snapshot_stage(built, name):
    """A scene becomes the very things that it became before.

    The cloth of figures differs by half a millimetre on three of 5874 corners where sums are added in another
    order: 3e-7 of a mean, 3e-5 with what normals and skins do of it.
    """
    stage = built(name)
    figures = {f"meshes {mesh.name}" for mesh in stage.meshes if mesh.role == "figure"}
    snapshot.hold("stages", name, numbers_of(stage),
                  lambda key: 5e-5 if key.split(" #")[0] in figures else 3e-6)


def test_snapshot_materials():
    """Every material of the library sends on what it did."""
    now = {name: snapshot.number(library_surface(name)) for name in MATERIALS}
    snapshot.hold("stages", "materials", now, 1e-5)
