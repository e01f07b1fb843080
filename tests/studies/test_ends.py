"""What `check` lets pass renders, meters and prints: every end of every field, all numbers finite.

A quarter of an hour on two free cores.
"""

import json

import ends
import numpy as np
import pytest

from previz.errors import SceneError
from previz.rendering.request import Request
from previz.scene.camera import Camera
from previz.scene.fields import table
from previz.scene.read import load
from previz.stage import named_files, rehearsal
from previz.studies.meter import Meters, meter
from previz.studies.render import render
from previz.studies.render_files import RenderFiles

pytestmark = [pytest.mark.long, pytest.mark.engine]

SKY = {"sky": "clear", "illuminance": "1e-6 lx", "sky_cct": "25000 K"}


def all_of(cls, end):
    """Every number of a record at its least or greatest at once."""
    return {name: ends.written(getattr(entry, end), entry) for name, entry in table(cls).items()
            if entry.kind == "quantity"}


def camera(**changes):
    return {**ends.BASE, "cameras": [{**ends.BASE["cameras"][0], **changes}]}


TOGETHER = {
    "cameras at their least": camera(**all_of(Camera, "minimum")),
    "cameras at their greatest": camera(**all_of(Camera, "maximum")),
    "a view of 180 degrees": camera(lens="1 mm", sensor=["1 m", "1 m"]),
    "a view of no width": camera(lens="5 m", sensor=["0.1 mm", "1 m"], focus="100000 m"),
    "the slowest frames": camera(iso="1e7", fps="1e-5", shutter="360 deg", stop="T0.5"),
    "the shortest frames": camera(iso="1", fps="1e5", shutter="0.1 deg", stop="T128", nd="6"),
    "no lamps": {**ends.BASE, "lights": []},
    "a level of all but nothing": {**ends.BASE, "lights": [{**ends.BASE["lights"][0], "dimmer": "5e-324"}]},
    "midnight at the pole": {**ends.BASE, "lights": [], "daylight": {
        "sky": "clear", "time": "2026-12-21 00:00 UTC", "latitude": "90 deg", "longitude": "180 deg"}},
    "the sun on the horizon": {**ends.BASE, "daylight": SKY | {
        "sun": {"azimuth": "360 deg", "altitude": "0 deg", "cct": "1600 K"}}},
    "a room of nothing": {"previz": "1", "room": {"size": ["0.1 mm"] * 3, "wall_thickness": "0.1 mm"},
                          "lights": ends.BASE["lights"], "cameras": [{
                              **ends.BASE["cameras"][0], "at": ["0.05 mm", "0.02 mm", "0.05 mm"],
                              "aim": ["0.05 mm", "0.08 mm", "0.05 mm"]}]},
    "lamps of any size": {**ends.BASE, "lights": [
        {"name": "one", "kind": "soft box", "at": ["2 m", "3 m", "2 m"], "aim": "crate", "depth": "10 m",
         "size": ["0.1 mm", "1000 m"], "output": "1e9 lm", "grid": "0.1 deg"},
        {"name": "two", "kind": "tube", "at": ["1 m", "3 m", "2 m"], "length": "0.1 mm", "diameter": "10 m",
         "output": "1 lm"}]},
    "a figure at its ends": {**ends.BASE, "figures": [{
        "name": "clerk", "at": ["2 m", "4 m"], "facing": ["2 m", "4 m", "3 m"], "stature": "1.4 m",
        "head_turn": "-80 deg", "head_tilt": "45 deg", "looking_at": ["2 m", "4 m", "10000 m"]}]},
}  # fmt: skip


def unfinite(found):
    """The rows of a result whose value or error is a number and not finite."""
    return [row["quantity"] for row in found.rows()
            for value in (row["value"], row["standard_error"])
            if isinstance(value, float) and not np.isfinite(value)]


def rendered(folder, scene):
    """Render and meter a scene, if `check` lets it pass; say what of it is not finite."""
    path = folder / "scene.yaml"
    path.write_text(ends.as_text(scene), encoding="utf-8")
    try:
        file = load(path)
    except SceneError:
        return None
    if named_files.faults(file.scene()) or rehearsal.faults(file.scene()):
        return None
    files = RenderFiles(file, folder / "out")
    request = Request(cache=folder / "frames", size=(32, 18), samples=2, bands=8, error=0.5)
    found = render(file, request, shown=files.still)
    files.deliver(found, exr=True, mark_rig=False, scopes=False)
    bad = unfinite(found) + unfinite(meter(file, request, meters=Meters(seconds=1)))
    bad += [shot.camera.name for shot in found.shots if not np.isfinite(shot.developed.signal).all()]
    return bad


@pytest.mark.parametrize("name", TOGETHER)
def test_ends_that_meet(tmp_path, name):
    """Several fields at their ends at once."""
    assert rendered(tmp_path, TOGETHER[name]) == []


def test_every_end(tmp_path):
    """One field after the other; what stands in one list is rendered together."""
    inside = [end for end in ends.edges() if end.inside and end.kind not in ("choice", "text", "name")]
    passed = 0
    for number, (group, scene) in enumerate(ends.together(inside, 4)):
        folder = tmp_path / str(number)
        folder.mkdir()
        found = rendered(folder, scene)
        assert not found, json.dumps([end.label for end in group])
        passed += found is not None
    assert passed > 150
