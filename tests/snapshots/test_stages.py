"""Snapshots: what scenes are built into, thing by thing. Light that was rendered is found again by it."""

import pytest
import snapshot

from previz.physics.materials import MATERIALS
from previz.stage.surfaces import library_surface

PARTS = ("meshes", "lamps", "emitters", "panes", "guides", "cameras", "probes", "patches", "heads", "rig",
         "grip")


def numbers_of(stage):
    """A number for each thing of a stage, by part and name; those of one name are counted."""
    found = {}
    for part in PARTS:
        for each in getattr(stage, part):
            name = f"{part} {getattr(each, 'name', getattr(each, 'figure', ''))}"
            count = sum(key.split(" #")[0] == name for key in found)
            found[f"{name} #{count}" if count else name] = snapshot.number(each)
    for name, surface in stage.surfaces.items():
        found[f"surface {name}"] = snapshot.number(surface)
    return found | {part: snapshot.number(getattr(stage, part)) for part in ("sun", "sky", "haze")}


@pytest.mark.parametrize("name", ["signal-cabin", "everything"])
def test_snapshot_stage(built, name):
    """A scene becomes the very things that it became before."""
    snapshot.hold("stages", name, numbers_of(built(name)), 3e-6)


def test_snapshot_materials():
    """Every material of the library sends on what it did."""
    now = {name: snapshot.number(library_surface(name)) for name in MATERIALS}
    snapshot.hold("stages", "materials", now, 1e-5)
