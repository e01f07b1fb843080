"""Furniture and dressing: size, soundness, triangles, texture coordinates, what may be written of it."""

import numpy as np
import pytest

from previz.errors import SceneError
from previz.physics.materials import MATERIALS
from previz.scene import piece
from previz.scene.furniture import ISO_216, KINDS
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.furniture import BUILDERS, build
from previz.stage.mesh_parts import parts_of

SKINS = {("plant", "leaves"), ("coat hooks", "coat")}
"""Parts that are one skin, seen from both sides."""

FORMS = ("chair", "stool", "table", "plant", "bottle")
"""Kinds with more than one form."""

MOST = {"chair": 3_000, "couch": 8_000, "bookcase": 8_000, "plant": 10_000}
"""Most triangles of some kinds; of others 9000."""


def whole(parts):
    vertices = np.concatenate([each.vertices for each in parts.values()])
    return vertices.min(axis=0), vertices.max(axis=0)


def corners_of(solid):
    return solid.vertices[solid.faces]


def crosses(corners):
    return np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])


def test_every_kind_has_a_builder_and_says_where_its_size_is_from():
    """A row, a function, and surfaces that the library has."""
    assert set(BUILDERS) == set(KINDS)
    for word, kind in KINDS.items():
        assert kind.source and kind.help.endswith("."), word
        assert piece.USUAL_SIZES[word] == kind.size
        for part, surface in kind.parts.items():
            assert surface is None or surface.colour or surface.name in MATERIALS, (word, part)
            assert surface is not None or part != kind.main, word
        assert bool(kind.opens) == bool(kind.widest), word
    assert {"table", "desk", "chair", "bench", "stool", "shelf", "cabinet", "box", "cylinder", "sphere",
            "panel", "partition"} <= set(piece.SHAPES)


def test_a_sheet_of_paper_has_its_standard_size():
    """ISO 216: A4 is 210 mm by 297 mm."""
    assert KINDS["paper"].size[:2] == (0.21, 0.297) and KINDS["paper"].source == ISO_216


@pytest.mark.parametrize("word", KINDS)
def test_a_kind_fills_its_size_and_is_sound(word):
    """It stands on z = 0, measures what is written to 0.1 mm, faces outwards, is closed where it is solid."""
    kind = KINDS[word]
    for variant in (1, 2, 3) if word in FORMS else (1,):
        parts = build(word, kind.size, "north", 0.0, variant)
        low, high = whole(parts)
        w, d, h = kind.size
        np.testing.assert_allclose(low, [-w / 2, -d / 2, 0], atol=1e-4)
        np.testing.assert_allclose(high, [w / 2, d / 2, h], atol=1e-4)
        count = 0
        for part, solid in parts.items():
            count += len(solid.faces)
            assert len(solid.vertices) == len(solid.normals) == len(solid.uv)
            np.testing.assert_allclose(np.linalg.norm(solid.normals, axis=1), 1, atol=1e-6)
            own = crosses(corners_of(solid))
            area = np.linalg.norm(own, axis=1)
            assert area.min() > 1e-13, part
            if (word, part) in SKINS:
                continue
            for each in parts_of(solid.vertices, solid.faces):
                assert each.closed and each.wound and each.volume > 0, part
            # Shading is to the side that a face looks to, but for a few in tight bends.
            facing = np.einsum("fki,fi->fk", solid.normals[solid.faces], own / area[:, None]).min(axis=1)
            assert area[facing < 0.1].sum() < 0.04 * area.sum(), part
        assert count <= MOST.get(word, 9_000), count


@pytest.mark.parametrize("word", KINDS)
def test_texture_coordinates_are_in_metres(word):
    """A square metre of a part has about a square metre of the pattern."""
    for part, solid in build(word, KINDS[word].size, "north").items():
        corners, flat = corners_of(solid), solid.uv[solid.faces]
        area = np.linalg.norm(crosses(corners), axis=1)
        one, two = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
        spread = np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
        assert 0.6 < spread.sum() / area.sum() < 1.5, part


@pytest.mark.parametrize(("size", "first"), [((1e-4,) * 3, 0), ((1000.0,) * 3, 1), ((1000.0, 1.0, 1e-4), 2)])
def test_the_ends_of_sizes(size, first):
    """As small and as large as may be written, in one direction or in all."""
    for word in list(KINDS)[first::3]:
        parts = build(word, size)
        low, high = whole(parts)
        np.testing.assert_allclose(high - low, size, rtol=1e-9)
        for solid in parts.values():
            assert np.isfinite(solid.vertices).all() and np.isfinite(solid.normals).all()


def test_names_set_what_is_uneven():
    """The same name has the same books, another name others."""
    one, same, other = (build("bookcase", KINDS["bookcase"].size, name) for name in ("a", "a", "b"))
    for part in one:
        np.testing.assert_array_equal(one[part].vertices, same[part].vertices)
    assert any(one[part].vertices.shape != other[part].vertices.shape for part in one)


def test_doors_open_about_their_hinges():
    """Shut it is as deep as written; open its leaf stands out from its hinge, 49 mm behind the front."""
    size = KINDS["cupboard"].size
    shut, ajar = (build("cupboard", size, "a", angle) for angle in (0.0, 90.0))
    assert whole(shut)[0][1] == pytest.approx(-size[1] / 2)
    assert whole(ajar)[0][1] == pytest.approx(0.049 - size[1] / 2 - (size[0] - 0.04) / 2, abs=0.006)
    for axis in (0, 2):
        assert whole(ajar)[1][axis] == pytest.approx(whole(shut)[1][axis], abs=1e-9)


def test_the_grain_runs_along_boards():
    """U follows the length of a table's legs, and of its top."""
    solid = build("table", (1.6, 0.8, 0.75))["top"]
    reach = np.ptp(solid.uv, axis=0)
    assert reach[0] == pytest.approx(1.6, abs=0.02) and reach[1] < 1.0


SCENE = """previz: 1
pieces:
  - {{name: thing, at: [2 m, 2 m], {fields}}}
lights:
  - {{name: key, kind: bulb, at: [2 m, 0 m, 2 m], output: 900 lm}}
cameras:
  - {{name: A, at: [2 m, -3 m, 1.5 m], aim: thing, lens: 25 mm, stop: T2.8, iso: 800}}
"""


def read(folder, fields):
    path = folder / "scene.yaml"
    path.write_text(SCENE.format(fields=fields), encoding="utf-8")
    return load(path).scene()


def test_a_part_has_its_own_surface(tmp_path):
    """The main part has `surface`, others what `also` says, the rest what they usually are."""
    stage = build_stage(read(tmp_path, "shape: cupboard, surface: pine, also: {handles: steel}"))
    found = {mesh.surface for mesh in stage.meshes if mesh.name == "thing"}
    assert found == {"pine", "steel"}
    stage = build_stage(read(tmp_path, "shape: bottle"))
    assert [stage.surfaces[mesh.surface].glass is not None for mesh in stage.meshes
            if mesh.name == "thing"] == [True, False]
    # Aimed at as a whole, not at the part that came last.
    np.testing.assert_allclose(stage.places["thing"], [2, 2, 0.15], atol=1e-3)


@pytest.mark.parametrize(("fields", "message", "advice"), [
    ("shape: chair, also: {legs: pine}", "has no other part 'legs'", "Its parts are: seat."),
    ("shape: couch, also: {cover: wool}", "has no other part 'cover'", "Write it as 'surface:'."),
    ("shape: chair, open: 30 deg", "is a chair, which has nothing to open", "Leave out 'open'."),
    ("shape: cupboard, open: 150 deg", "opens no further than 110 deg", "Write 110 deg or less."),
    ("shape: plant, variant: 1.5", "is not a whole number", "1 to 9"),
    ("shape: chair, also: pine", "is not a group of parts", "{handles: steel}"),
    ("shape: armchiar", "cannot be 'armchiar'", "Did you mean 'armchair'?"),
])  # fmt: skip
def test_what_a_kind_does_not_have(tmp_path, fields, message, advice):
    """Messages say what is wrong, and what there is."""
    with pytest.raises(SceneError) as caught:
        read(tmp_path, fields)
    (problem,) = caught.value.problems
    assert message in problem.message and advice in problem.advice
    assert problem.line == 3


def test_a_part_can_glow(tmp_path):
    """The mica of a stove's door, and nothing else of it, is a lamp."""
    path = tmp_path / "scene.yaml"
    text = SCENE.format(fields="shape: stove").replace(
        "lights:\n",
        "lights:\n  - {name: fire, kind: glow, piece: thing, material: mica, output: 300 cd/m2}\n")
    path.write_text(text, encoding="utf-8")
    stage = build_stage(load(path).scene())
    assert sum(len(each.faces) for each in stage.emitters if each.name == "fire") >= 12
    assert {mesh.surface for mesh in stage.meshes if mesh.name == "thing"} == {"black paint", "steel"}
    path.write_text(text.replace("mica", "coal"), encoding="utf-8")
    with pytest.raises(SceneError, match="Write one of its parts: iron, mica, handles"):
        load(path).scene()


def test_a_box_stays_an_exact_solid(tmp_path):
    """Twelve triangles, as before there was furniture."""
    stage = build_stage(read(tmp_path, "shape: box, size: [1 m, 1 m, 1 m]"))
    (mesh,) = [each for each in stage.meshes if each.name == "thing"]
    assert len(mesh.faces) == 12 and mesh.normals is None and mesh.surface == "grey paint"


ROOM = """previz: 1
room:
  size: [4 m, 3 m, 2.6 m]
  trim: {trim}
  openings:
    - {{name: window, wall: west, along: 1 m, sill: 0.9 m, size: [1 m, 1.2 m], frame: pine}}
    - {{name: way, wall: north, along: 2.5 m, sill: 0 m, size: [0.9 m, 2 m], frame: pine,
       door: {{open: {open} deg}}}}
lights:
  - {{name: key, kind: bulb, at: [2 m, 1.5 m, 2 m], output: 900 lm}}
cameras:
  - {{name: A, at: [2 m, 1 m, 1.5 m], aim: way, lens: 25 mm, stop: T2.8, iso: 800}}
"""


def room_stage(folder, trim, angle=0.0):
    path = folder / "scene.yaml"
    path.write_text(ROOM.format(trim=trim, open=angle), encoding="utf-8")
    return build_stage(load(path).scene())


def boards(stage, name):
    """All that is on a wall but the wall itself."""
    return [mesh for mesh in stage.meshes if mesh.name == name and mesh.normals is not None]


def test_boards_run_along_walls_and_stop_at_openings(tmp_path):
    """A skirting is as high as written, on the wall's inside, mitred at corners, and leaves doors free."""
    stage = room_stage(tmp_path, "{skirting: 140 mm, cornice: 90 mm}")
    (skirting, cornice) = boards(stage, "north wall")
    low, high = skirting.vertices.min(axis=0), skirting.vertices.max(axis=0)
    np.testing.assert_allclose([low[2], high[2], high[1], low[1]], [0, 0.14, 3, 3 - 0.018], atol=1e-9)
    inside = skirting.vertices[(skirting.vertices[:, 0] > 2.5) & (skirting.vertices[:, 0] < 3.4)]
    assert len(inside) == 0
    # At the corner its face begins as far from the end as the other wall's stands out.
    face = skirting.vertices[np.isclose(skirting.vertices[:, 1], 3 - 0.018)]
    assert face[:, 0].min() == pytest.approx(0.018)
    assert cornice.vertices[:, 2].max() == pytest.approx(2.6)
    assert cornice.vertices[:, 2].min() == pytest.approx(2.51)
    for mesh in (skirting, cornice):
        for part in parts_of(mesh.vertices, mesh.faces):
            assert part.closed and part.wound and part.volume > 0


def test_all_that_a_room_can_have_is_sound(tmp_path):
    """Panelling, rails, rose, beams, frames and doors, on walls that run either way."""
    stage = room_stage(tmp_path, "{skirting: 140 mm, panelling: 1100 mm, dado: 1200 mm, "
                       "picture_rail: 2100 mm, cornice: 90 mm, rose: 600 mm, beams: 3}", 40.0)
    for mesh in stage.meshes:
        if mesh.normals is None:
            continue
        own = crosses(mesh.vertices[mesh.faces])
        facing = np.einsum("fki,fi->fk", mesh.normals[mesh.faces], own).mean(axis=1)
        assert (facing > 0).mean() > 0.97, mesh.name
        for part in parts_of(mesh.vertices, mesh.faces):
            assert part.closed and part.volume > 0, mesh.name
    beams = next(mesh for mesh in boards(stage, "ceiling"))
    assert len(parts_of(beams.vertices, beams.faces)) == 4
    assert np.all(np.concatenate([m.vertices for m in boards(stage, "window")])[:, 0] < 0.06)


def test_a_door_opens_into_the_room(tmp_path):
    """Shut it lies in its opening, at a right angle it stands its own width into the room; it has no pane."""
    shut, wide = (room_stage(tmp_path, "{skirting: 140 mm}", angle) for angle in (0.0, 90.0))
    reach = [min(mesh.vertices[:, 1].min() for mesh in boards(stage, "way")) for stage in (shut, wide)]
    assert reach[0] == pytest.approx(3 - 0.054, abs=0.01)
    assert reach[1] == pytest.approx(3 - 0.9, abs=0.02)
    assert [pane.name for pane in shut.panes] == ["window"]
