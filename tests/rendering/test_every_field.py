"""A fingerprint that forgets a field serves a wrong picture: every field of every record is changed.

Each is changed alone, and whatever is kept of the light must get another key, or the field stands below
with the reason why it changes no light; then the key must not change either, so no reason outlives its
field.
"""

import contextlib
import dataclasses
import typing
from pathlib import Path

import numpy as np
import pytest

from previz.engine.render import Limits, Sampling
from previz.physics.beam import AngularTable
from previz.physics.light import LampLight
from previz.physics.stops import MapSettings, Zone
from previz.physics.taking import Iris, Optics
from previz.physics.viewing import ShowFile
from previz.rendering.cache import body_files, plan
from previz.rendering.cache.meters import MeterCache
from previz.rendering.job import StageJob
from previz.rendering.meter_kinds import Aim, IncidentMeters, SpotMeters
from previz.rendering.metering import StageMeters
from previz.rendering.request import Order, Request
from previz.sight.rig_bodies import CameraBody, Stand
from previz.sight.rig_seen import scan_hash
from previz.stage import records
from previz.stage.heads import Head
from previz.stage.heat import Surroundings
from previz.stage.ingredients import ingredients
from previz.studies.haze import sums_hash
from previz.studies.state import state_of

CURVE = np.linspace(0.1, 0.6, 81)
CORNERS = np.array([[0.0, 0, 0], [1.25, 0, 0], [0, 0.7, 3.1], [0.3, 0.2, 0.1]])
FACES = np.array([[0, 1, 2], [1, 2, 3]])
PLACE = np.array([0.4, 1.3, 2.2])


def table():
    return AngularTable(np.array([0.0, 20, 30]), np.array([0.0, 90, 360]),
                        np.array([[1.0, 1, 1], [0.5, 0.6, 0.5], [0.1, 0.1, 0.1]]))


def surface(name, share=0.5):
    return records.Surface(name, CURVE, CURVE * share, CURVE / 3, 0.4, 0.25, np.full((2, 3, 3), 0.5), 0.3,
                           0.2, records.Glass(1.5, CURVE, 0.004, True),
                           records.Pattern(np.full((2, 3, 4), 0.5), (0.5, 0.4), CURVE),
                           records.Relief(np.full((2, 3, 2), 0.1), (0.3, 0.2)), 0.4, 0.3, (0.5, 0.25))


def mesh(name, role, surface="grey"):
    return records.Mesh(name, surface, CORNERS, FACES, np.ones((4, 3)), np.ones((4, 2)), role)


def emitter(lamp, name):
    return records.Emitter(lamp, name, CORNERS + lamp, FACES, 0.5, table(), np.eye(3) * 0.9, True, False, 2.5,
                           np.full((2, 2, 3), 0.4), True)


def camera():
    return records.Camera("A", np.eye(3), PLACE, (0.25, 0.14), 16 / 9, 0.006, 2.5, 2.8, 800.0, 1 / 48, 0.3,
                          4300.0, 0.01, 0.035, (0.0249, 0.014), 6.0, 7.0,
                          ShowFile("a.cube", b"LUT_3D_SIZE 2", ".cube", "acescct", "srgb"), Iris(7, 10.0),
                          Optics((0.25, 0.14), (0.0249, 0.014), 5, 0.1, 0.02, 0.7, 0.2, 2e-5))


def stage():
    """A stage in which no field of any record is empty."""
    lamps = tuple(LampLight(name, unit, 100.0, CURVE, CURVE, 0.5, True)
                  for name, unit in (("key", "lm"), ("fill", "lm"), ("sun", "lx"), ("sky", "lx")))
    return records.Stage(
        "a yard", {"grey": surface("grey"), "cloth": surface("cloth", 0.4)},
        (mesh("wall", "set"), mesh("key", "lamp"), mesh("fill", "lamp", "cloth")), lamps,
        (emitter(0, "key"), emitter(1, "fill")),
        records.Sun(2, PLACE, 0.5, records.Face(np.full((3, 3), 0.5), PLACE, PLACE / 2)),
        records.Sky(3, np.full((2, 3), 0.2), np.full((2, 3, 3), 0.7),
                    records.Stars(np.full((2, 3, 4), 0.3), 0.02, 0.1)),
        (records.Pane("window", PLACE, PLACE / 2, PLACE / 3, 1.5, 2, CURVE),),
        (records.Guide("board", PLACE, PLACE / 2, PLACE / 3, 0.2, True),),
        records.Haze(0.02, CURVE, 0.6, 0.1, 0.2, PLACE, PLACE + 1), (camera(),),
        (records.Probe("sill", PLACE, PLACE, True),),
        (records.Patch("card", "A", (0.4, 0.6), (0.1, 0.2), 1.5), records.Patch("low sky", towards=PLACE)),
        (Head("clerk", "door", PLACE, PLACE, PLACE),),
        (records.Rig("key", "panel", PLACE, 60.0, True, 4.0, "boom"),),
        (records.Grip("card", "board", (1.0, 1.0), PLACE, "cord"),), {"clerk.face": PLACE}, ("Hot lamps.",),
        map=MapSettings(True, 4.0, -6.0, (Zone("skin", -0.5, 0.5),)))


ORDER = Order(96, 54, Sampling(8, 4, 3, Limits(32, 4)), 9, "processor", Path("frames"), False, False)


def variants(value, kind, optional=False):
    """Yield (record's field, other value) for everything that a value is made of, one thing changed."""
    if optional and value is not None:
        yield kind, None
    if dataclasses.is_dataclass(value):
        yield from changes(value)
    elif isinstance(value, bool):
        yield kind, not value
    elif isinstance(value, int | float):
        yield kind, 2 * value or 1 if isinstance(value, int) else value * 1.25 + 0.125
    elif isinstance(value, bytes):
        yield kind, value + b"."
    elif isinstance(value, str):
        yield kind, OTHER_WORDS.get(value, f"{value} two")
    elif isinstance(value, Path):
        yield kind, value / "two"
    elif isinstance(value, np.ndarray):
        for place in ((0,) * value.ndim, (1,) * value.ndim, (-1,) * value.ndim):
            other = value.copy()
            other[place] += 1 if value.dtype.kind == "i" else 0.125
            yield kind, other
    elif isinstance(value, tuple):
        for k, each in enumerate(value):
            for which, other in variants(each, kind):
                yield which, (*value[:k], other, *value[k + 1:])
        if value and dataclasses.is_dataclass(value[0]):
            yield kind, value[:-1]
    elif isinstance(value, dict):
        for key, each in value.items():
            for which, other in variants(each, kind):
                yield which, {**value, key: other}
    else:
        assert value is None, f"{kind} is a {type(value).__name__}, which is not known how to change"


EMPTY = ("Patch.size", "Patch.towards", "Stage.around")
"""One patch has the one, another the other."""

OTHER_WORDS = {"lm": "lx", "lx": "lm", "grey": "cloth", "cloth": "grey", "draft": "fine"}
"""Where not any word will do."""


def changes(record):
    """Yield (record's field, the record with that changed), for all its fields at any depth."""
    kinds = typing.get_type_hints(type(record), localns={"Surroundings": Surroundings})
    for field in dataclasses.fields(record):
        name = f"{type(record).__name__}.{field.name}"
        optional = type(None) in typing.get_args(kinds[field.name])
        count = 0
        for which, other in variants(getattr(record, field.name), name, optional):
            # Not every record takes every value: angles rise, and begin at 0.
            with contextlib.suppress(ValueError):
                yield which, dataclasses.replace(record, **{field.name: other})
                count += 1
        assert count or name in EMPTY, f"{name} was not changed"


LEVELS = ("LampLight.output", "LampLight.spectrum", "LampLight.gel", "LampLight.level", "LampLight.on")
EXPOSURE = ("Camera.stop", "Camera.iso", "Camera.shutter_s", "Camera.nd_density", "Camera.white_balance",
            "Camera.tint", "Camera.over", "Camera.under", "Camera.show", "ShowFile", "Camera.optics",
            "Optics")
NOT_LIGHT = {
    "Stage.title": "a word", "Stage.reminders": "words",
    "Stage.around": "what cautions are measured on", "Head": "where meters are put: those are probes",
    "Rig": "paperwork", "Grip": "paperwork", "Stage.rig": "paperwork", "Stage.grip": "paperwork",
    "Stage.heads": "as Head", "Stage.places": "names of places; a face's moves with its mesh",
    "Probe": "a meter takes no light from anything", "Stage.probes": "as Probe",
    "Patch": "as Probe", "Stage.patches": "as Probe",
    "Camera": "it is asked about by itself; where others stand only moves samples about",
    "Stage.cameras": "as Camera", "ShowFile": "a look at what is kept",
    "Iris": "as Camera", "Optics": "put on pictures alone",
    "Stage.map": "what is painted", "MapSettings": "as Stage.map", "Zone": "as Stage.map",
    **dict.fromkeys(LEVELS, "arithmetic on what is kept")}
"""Record's field, or record, of a stage -> why it changes neither paths of light nor what is kept."""

NO_PART = {"Guide": "says where rays are sent, not what comes back", "Stage.guides": "as Guide",
           "Surface.name": "a word", "Mesh.name": "a word", "Mesh.role": "a word; lamps' go by their names",
           "Emitter.name": "a word", "Pane.name": "a word",
           "LampLight.unit": "what an output is in; the light kept is that of one of it"}
"""The same for what is kept lamp by lamp."""

IN_CAMERA = {"Camera.name": "a word", "Camera.focal": "acts by the angle of view and the pupil",
             "Camera.sensor": "acts by the angle of view", **dict.fromkeys(EXPOSURE, "arithmetic")}
BARE = {"Camera.lens_radius": "a meter sees from the middle of the lens", "Camera.focus": "as the radius",
        "Camera.iris": "as the radius", "Iris": "as the radius"}
PASSES = {"Sampling.samples": "more are gone on with, and fewer not used", "Sampling.passes": "as samples"}
IN_ORDER = {"Order.backend": "alike within the noise", "Order.cache": "where it lies",
            "Order.exact": "what is used again is asked of the note",
            "Order.refined": "more paths of the same light"}
NO_PICTURE = {"Order.width": "no picture", "Order.height": "no picture", **PASSES}


def job(of=None, order=ORDER):
    return StageJob(of or stage(), order)


def lamp_keys(job, camera):
    return [(parent.parent.name, parent.name) for parent in (
        job.lamp_cache.lamp_folder(lamp.name, camera) for lamp in job.stage.lamps)]


def meter_keys(job, camera):
    return IncidentMeters(StageMeters(job), job.stage.probes).files


def near_keys(job, camera):
    cache = MeterCache(job)
    return [cache._near(0).name, *((cache.key(lamp), cache.parts.other_bodies(lamp)) for lamp in cache.lamps)]


def spot_keys(job, camera):
    owner = StageMeters(job)
    aims = owner.patch_aims(camera)
    return [*SpotMeters(owner, aims).files, owner.camera_hash(camera)]


def verdict_key(job, camera):
    names = []

    def read(path, kind, of=""):
        names.append(path.name)
        return {}

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan, "read_sealed", read)
        plan._verdict(job.lamp_cache, camera, "then", [lamp.name for lamp in job.stage.lamps], False)
    return names


def planes_key(job, camera):
    return job.lamp_cache.planes_folder(camera).name


def frames_key(job, camera):
    return job.frame_folder(camera).name


def rig_key(job, camera):
    bodies = (Stand("stand", PLACE, PLACE / 2), CameraBody("box", "B", PLACE, np.eye(3)))
    return scan_hash(job, camera, bodies)


UNSEEN = {"LampLight.unit": "a word for outputs", "Sky": "no body", "Stage.sky": "no body",
          "Stars": "no body", "Face": "no body",
          "Sun": "no body", "Stage.sun": "no body", "Haze": "no body", "Stage.haze": "no body",
          "Pane": "clear", "Stage.panes": "clear", "Stage.lamps": "sky and sun have no body",
          **{f"Emitter.{name}": "how light leaves a face, not the face" for name in (
              "thin", "share", "table", "world_from_light", "flat", "symmetric", "focus", "picture")},
          "AngularTable": "as Emitter.table"}
"""What planes of albedo, normal, depth and names do not depend on."""

KEYS = {
    # Key -> (function, exemptions in a stage, in its camera, in an order).
    "a picture": (frames_key, NOT_LIGHT, IN_CAMERA, {
        "Order.backend": IN_ORDER["Order.backend"], "Order.cache": IN_ORDER["Order.cache"]}),
    "a lamp's light": (lamp_keys, NOT_LIGHT | NO_PART, IN_CAMERA, IN_ORDER | PASSES),
    "what bodies do": (verdict_key, NOT_LIGHT | NO_PART, IN_CAMERA, IN_ORDER | PASSES),
    "an incident meter": (meter_keys, {k: v for k, v in NOT_LIGHT.items() if "robe" not in k} | {
        "Probe.name": "a word"}, None, IN_ORDER | NO_PICTURE),
    "a meter lamp by lamp": (near_keys, NOT_LIGHT | NO_PART, None, IN_ORDER | NO_PICTURE),
    "a spot meter": (spot_keys, {k: v for k, v in NOT_LIGHT.items() if "atch" not in k} | {
        "Patch.name": "a word"}, {
        **IN_CAMERA, **BARE, "Camera.name": None}, IN_ORDER | NO_PICTURE),
    "planes": (planes_key, NOT_LIGHT | NO_PART | UNSEEN | {"Mesh.name": None, "Stage.lamps": None}, IN_CAMERA,
               IN_ORDER | PASSES),
    "what of the rig is seen": (rig_key, NOT_LIGHT, IN_CAMERA, IN_ORDER | NO_PICTURE | {
        "Limits": "lines of sight have their own"}),
}


SOMETIMES = {"Mesh.name": "where it makes it a lamp's body", "Mesh.role": "as the name",
             "LampLight.name": "where it has a body", "Patch.middle": "where it is not of the sky",
             "Patch.angle_deg": "where it has no size"}
"""Fields that count in some records only."""


def held(which, pairs, make):
    """Hold every key of every changed record against the one before, and every exemption too.

    `which` is the place of the exemptions in `KEYS`; `make` makes (job, camera) of a record.
    """
    def keys(given):
        return {name: each[0](*given) for name, each in KEYS.items() if each[which] is not None}

    before, wrong, counted = keys((job(), camera())), set(), set()
    for field, other in pairs:
        for name, now in keys(make(other)).items():
            exempt = KEYS[name][which]
            listed = bool(exempt.get(field) or exempt.get(field.split(".")[0]))
            if now != before[name]:
                counted.add((field, name))
            if (now == before[name]) != listed and field not in SOMETIMES:
                what = "is exempt and changes" if listed else "does not change"
                wrong.add(f"{field} {what} the key of {name}")
    assert not wrong, "\n".join(sorted(wrong))
    return counted


def test_every_field_of_a_stage_counts():
    """Surfaces, meshes, lamps, air, meters: each record of the contract with the engine."""
    seen = camera()
    counted = held(1, changes(stage()), lambda other: (job(other), seen))
    for field in SOMETIMES:
        assert any(each == field for each, _ in counted), field


def test_every_field_of_a_camera_counts():
    """Where it stands, what it sees, and its pupil; exposure is arithmetic."""
    of = job()
    held(2, changes(camera()), lambda other: (of, other))


def test_every_field_of_an_order_counts():
    """Size, paths, seed, limits, bands."""
    of, seen = job(), camera()
    held(3, changes(ORDER), lambda other: (of.like(other), seen))


def test_all_that_a_spot_meter_is_pointed_at_counts():
    """Place, extent and outline of a patch, or the name of a thing; a round one is not a square one."""
    owner = StageMeters(job())

    def key(aim):
        return SpotMeters(owner, [aim]).files

    patch = Aim(camera(), "card", 0.1, (0.4, 0.6, 0.1, 0.2, True))
    others = [key(other) for field, other in changes(patch) if field == "Aim.patch"]
    assert len(others) >= 5 and key(patch) not in others
    thing = dataclasses.replace(patch, patch=None)
    assert key(dataclasses.replace(thing, name="wall")) != key(thing) != key(patch)
    assert key(dataclasses.replace(thing, share=0.2)) == key(thing)


def test_every_field_of_a_request_is_in_the_order():
    """Whatever is requested of pictures gets to the engine; the meters' error is theirs."""
    request = Request(Path("frames"), (96, 54), "draft", 16, 3, 9, "processor", False, 0.02)
    before = request.order(1.5), request.meter_order()
    every = [(field, (other.order(1.5), other.meter_order()) != before) for field, other in changes(request)]
    assert {field for field, _ in every} - {field for field, counts in every if counts} == {"Request.error"}
    assert dataclasses.replace(request, error=0.03).precision == 0.03


@pytest.mark.parametrize("where", ["rendering.job", "rendering.cache.store", "sight.rig_seen"])
def test_another_version_finds_nothing(monkeypatch, where):
    """What another version of the program has rendered is not used."""
    before = {name: each[0](job(), camera()) for name, each in KEYS.items()}
    monkeypatch.setattr(f"previz.{where}.__version__", "other")
    changed = {name for name, each in KEYS.items() if each[0](job(), camera()) != before[name]}
    assert changed == {
        "rendering.job": {"a picture", "an incident meter", "a meter lamp by lamp", "a spot meter"},
        "rendering.cache.store": {"a lamp's light", "what bodies do", "planes"},
        "sight.rig_seen": {"what of the rig is seen"}}[where]


def test_what_sums_of_haze_and_pictures_are_of():
    """Levels count where lamps are summed before they are kept, and in what a picture shows."""
    of, seen, request = stage(), camera(), Request(Path("frames"), (96, None), "draft", seed=3)
    weights, paths = np.ones((4, 9, 3)), job().paths

    def key(stage=of, camera=seen, request=request, factors=(0.5, 1.0), weights=weights):
        return sums_hash(stage, camera, request, factors, weights)

    others = [key(camera=dataclasses.replace(seen, focus=3.0)), key(factors=(0.5, 1.5)),
              key(weights=weights * 2), key(stage=dataclasses.replace(of, haze=None)),
              *(key(request=dataclasses.replace(request, **{name: value})) for name, value in (
                  ("size", (64, None)), ("quality", "fine"), ("samples", 64), ("seed", 4), ("bands", 9)))]
    assert len({key(), *others}) == 1 + len(others)
    same = [field for field, other in changes(seen) if state_of(paths, other, of.lamps)
            == state_of(paths, seen, of.lamps)]
    same += [field for lamp in of.lamps for field, other in changes(lamp)
             if state_of(paths, seen, (other,)) == state_of(paths, seen, (lamp,))]
    assert same == []


def test_bodies_come_back_with_every_field(tmp_path):
    """How a lamp's body stood is kept whole, so that what it does to light can be measured later."""
    plain = stage()
    unkept = dict.fromkeys(("texture", "texture_size", "pattern", "relief", "across", "fuzz"))
    bare = {name: dataclasses.replace(each, **unkept) for name, each in plain.surfaces.items()}
    plain = dataclasses.replace(plain, surfaces=bare)
    assert body_files.write_bodies(tmp_path / "bodies.npz", plain, ingredients(plain))
    back = {(lamp, made is None): (mesh, made) for lamp, _, mesh, made in
            body_files.read_bodies(tmp_path / "bodies.npz")}
    for mesh in plain.meshes[1:]:
        kept, surface = back[mesh.name, False]
        for record, other in ((mesh, kept), (plain.surfaces[mesh.surface], surface)):
            for field in dataclasses.fields(record):
                one, two = getattr(record, field.name), getattr(other, field.name)
                if field.name not in ("name", "surface"):
                    assert_alike(one, two, field.name)
    assert ("key", True) in back
    # A picture, pattern or the like on a body is not kept, and is said not to be.
    for field in ("texture", "pattern", "relief", "across", "fuzz"):
        surfaces = {name: dataclasses.replace(each, **{field: getattr(stage().surfaces["grey"], field)})
                    for name, each in bare.items()}
        other = dataclasses.replace(plain, surfaces=surfaces)
        assert not body_files.write_bodies(tmp_path / "other.npz", other, ingredients(other)), field


def assert_alike(one, two, name):
    if dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            assert_alike(getattr(one, field.name), getattr(two, field.name), field.name)
    else:
        np.testing.assert_array_equal(one, two, name)
