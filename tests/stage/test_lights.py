"""Lamps of a scene as the stage holds them: faces, lumens, bodies, and what they stand on.

What comes out of them is metered in `test_lamp_kinds.py`.
"""

import numpy as np
import pytest

from previz.errors import SceneError
from previz.scene.light import LIGHTS, Glow
from previz.stage import shapes
from previz.stage.lights.ahead import face_ahead
from previz.stage.lights.fixture import HOUSING

AT = np.array([1.0, 2.0, 1.5])
AIM = np.array([3.0, 5.0, 0.5])

# What a kind must have beyond what all lamps have.
NEEDED = {kind: ", ".join(f"{field}: {value}" for field, value in cls.sample.items()
                          if field not in ("aim", "output"))
          for kind, cls in LIGHTS.items() if cls is not Glow}
FACES = [kind for kind, cls in LIGHTS.items() if "aim" in cls.sample or cls.held == "above"]


def lamp_text(kind, more, output="1000 lm", aim="[3 m, 5 m, 0.5 m]"):
    parts = [f"name: lamp, kind: {kind}, at: [1 m, 2 m, 1.5 m], output: {output}"]
    parts += [f"aim: {aim}"] if aim else []
    parts += [more] if more else []
    return "lights:\n  - {" + ", ".join(parts) + "}\n"


def face_normals(emitter):
    corners = emitter.vertices[emitter.faces]
    double = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return double / np.linalg.norm(double, axis=1, keepdims=True)


@pytest.mark.parametrize("kind", FACES)
def test_faces_point_at_the_aim(stage_of, kind):
    """A lamp with a face has it at its place, turned to its aim, its body all behind it."""
    stage = stage_of(lamp_text(kind, NEEDED[kind]))
    ahead = (AIM - AT) / np.linalg.norm(AIM - AT)
    for emitter in stage.emitters:
        np.testing.assert_allclose(face_normals(emitter), ahead[None].repeat(
            len(emitter.faces), axis=0), atol=1e-9)
        np.testing.assert_allclose(emitter.world_from_light[:, 2],
                                   ahead if emitter.table is not None
                                   else emitter.world_from_light[:, 2])
        middle = (emitter.vertices.min(axis=0) + emitter.vertices.max(axis=0)) / 2
        np.testing.assert_allclose(middle, AT, atol=0.01)
        front = ((emitter.vertices - AT) @ ahead).max()
        assert front > 0
        for mesh in stage.meshes:
            assert mesh.surface == HOUSING
            assert ((mesh.vertices - AT) @ ahead).max() < front


@pytest.mark.parametrize("kind", NEEDED)
def test_faces_carry_the_lamps_lumens(stage_of, kind):
    """Tables are at one lumen, and the shares of a lamp's faces are those it puts out."""
    stage = stage_of(lamp_text(kind, NEEDED[kind]))
    assert stage.lamps[0].output == pytest.approx(1000)
    for emitter in stage.emitters:
        assert emitter.lamp == 0
        if emitter.table is not None:
            assert emitter.table.flux() == pytest.approx(1, abs=1e-9)
    # A bulb makes up for what its holder takes, a flame for what burns, and tongues of a fire for each other;
    # all else gives what is said.
    share = sum(emitter.share for emitter in stage.emitters)
    most = 3 if kind == "fire" else 1.15
    assert 1 <= share < most if LIGHTS[kind].ball or LIGHTS[kind].flame else share == 1


@pytest.mark.parametrize(("kind", "output", "lumens"), [
    # A Lambertian face has I0 = Phi / pi; 500 lx at 200 m are 2e7 cd (check values 1.21, 1.1).
    ("soft box", "1000 cd", 1000 * np.pi),
    ("soft box", "500 lx at 200 m", 2e7 * np.pi),
    # A 120 deg panel is cos^1: Phi = 2 pi I0 / (n + 1) = pi I0 (check value 1.21).
    ("panel", "1000 cd", 1000 * np.pi),
    # A thin diffuse tube: Phi = pi² I0 (pi L times its area over 2 r l L).
    ("tube", "100 cd", 100 * np.pi**2),
])
def test_output_written_as_candela_or_lux(stage_of, kind, output, lumens):
    """However it is written, the lamp holds lumens."""
    stage = stage_of(lamp_text(kind, NEEDED[kind], output))
    # 1e-3: a panel's table ends a little before 90 deg.
    assert stage.lamps[0].output == pytest.approx(lumens, rel=1e-3)


@pytest.mark.parametrize(("kind", "more", "output", "lumens"), [
    # 1000 cd/m² of a rectangle seen on its axis (check value 1.6), with nothing on it as with a grid.
    ("soft box", "size: [1.2 m, 1.2 m]", "977.906 lx at 1 m", np.pi * 1000 * 1.44),
    ("soft box", "size: [1.2 m, 1.2 m], grid: 40 deg", "321.61 lx at 2 m", np.pi * 1000 * 1.44),
    ("overhead soft", "size: [2 m, 1 m]", "203.626 lx at 3 m", np.pi * 1000 * 2),
    ("backdrop", "size: [1.2 m, 0.3 m]", "84.694 lx at 2 m", np.pi * 1000 * 0.36),
    # 10 000 cd/m² of a tube 26 mm thick (check value 1.9).
    ("tube", "length: 1.2 m", "255.21 lx at 1 m", np.pi * 10_000 * 2 * np.pi * 0.013 * 1.2),
])
def test_lux_is_what_a_meter_reads_at_that_distance(stage_of, kind, more, output, lumens):
    """Near a large face a meter reads less than the inverse square says, and lux mean the meter."""
    # 2e-4: the face is cut into about 20 000 pieces.
    assert stage_of(lamp_text(kind, more, output)).lamps[0].output == pytest.approx(lumens, rel=2e-4)


def test_a_disc_ahead_of_a_meter():
    """E = pi L R² / (R² + d²): the closed form of a disc on its axis (check value 1.2)."""
    ahead = face_ahead(shapes.disc(0.5, sides=96), None)
    flux = np.pi * 1000 * np.pi * 0.25
    for distance, lux in ((0.5, 1570.796), (1, 628.319), (2, 184.8), (5, 31.1049)):
        assert ahead(distance) * flux == pytest.approx(lux, rel=5e-4)


def test_a_beams_lumens_follow_from_its_candela(stage_of):
    """An even 26 deg disc of 10 000 cd is about 2 pi I (1 - cos 13 deg) = 1610 lm (check value 1.21)."""
    stage = stage_of(lamp_text("ellipsoidal", "field: 26 deg, edge: 0", "10000 cd"))
    # 2 %: the hardest edge still falls within 1 % of the field's half angle.
    assert stage.lamps[0].output == pytest.approx(
        2 * np.pi * 10_000 * (1 - np.cos(np.radians(13))), rel=0.02)


def test_a_file_says_the_lumens_of_a_candle(stage_of, tmp_path):
    """100 cd all round are 1256.64 lm (check value 6.3), unless an output is written with the file."""
    angles = range(0, 181, 10)
    (tmp_path / "flame.ies").write_text(
        f"IESNA:LM-63-2002\nTILT=NONE\n1 -1 1 {len(angles)} 1 1 2 0 0 0\n1 1 2\n"
        f"{' '.join(map(str, angles))}\n0\n{'100 ' * len(angles)}\n")
    text = "lights:\n  - {name: c, kind: candle, at: [0 m, 0 m, 1 m], photometry: flame.ies%s}\n"
    assert stage_of(text % "").lamps[0].output == pytest.approx(1256.64, rel=1e-3)
    assert stage_of(text % ", output: 2 cd").lamps[0].output == pytest.approx(8 * np.pi, rel=1e-3)


def test_the_roll_of_a_soft_box(stage_of):
    """Level, its width lies level; turned by 90 deg, its height does."""
    for turn, level in ((0, 0.9), (90, 0.6)):
        stage = stage_of(lamp_text("soft box", f"size: [0.9 m, 0.6 m], turn: {turn} deg"))
        corners = stage.emitters[0].vertices
        edges = np.roll(corners, -1, axis=0) - corners
        flat = [np.linalg.norm(edge) for edge in edges if abs(edge[2]) < 1e-9]
        np.testing.assert_allclose(flat, level)


def test_a_ball_and_a_tube_are_their_own_reflection(stage_of):
    """What is sampled by its facing half alone is convex and symmetric about its middle."""
    for kind in ("bulb", "lantern ball", "tube"):
        emitter, = stage_of(lamp_text(kind, NEEDED[kind])).emitters
        assert emitter.symmetric
        middle = (emitter.vertices.min(axis=0) + emitter.vertices.max(axis=0)) / 2
        offsets = emitter.vertices - middle
        gap = np.linalg.norm(offsets[:, None] + offsets[None], axis=2).min(axis=1)
        assert gap.max() < 1e-6
        # Faces point away from the middle (a tube's from its axis).
        outwards = np.einsum("ij,ij->i", face_normals(emitter),
                             offsets[emitter.faces].mean(axis=1))
        assert np.all(outwards > 0)


def test_lit_area_of_a_tube(stage_of):
    """A tube of length l and diameter d shines from pi d l."""
    emitter, = stage_of(lamp_text("tube", "length: 1.2 m, diameter: 26 mm")).emitters
    corners = emitter.vertices[emitter.faces]
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0],
                                         corners[:, 2] - corners[:, 0]), axis=1).sum()
    assert area == pytest.approx(np.pi * 0.026 * 1.2)


@pytest.mark.parametrize(("along", "axis"), [
    ("along: 0 deg", (1, 0, 0)), ("along: 90 deg", (0, 1, 0)),
    ("along: [1 m, 2 m, 9 m]", (0, 0, 1)),
    ("", (3, -2, 0)),  # level and square to the aim
])
def test_the_direction_of_a_tube(stage_of, along, axis):
    """A tube lies as it is written, or level and square to where it is aimed."""
    more = "length: 1.2 m" + (f", {along}" if along else "")
    emitter, = stage_of(lamp_text("tube", more)).emitters
    spread = emitter.vertices - emitter.vertices.mean(axis=0)
    longest = np.linalg.svd(spread)[2][0]
    assert abs(longest @ axis) / np.linalg.norm(axis) == pytest.approx(1, abs=1e-6)


def test_a_practical_stands_on_what_is_below_it(stage_of):
    """Its foot is on the table, its shade is about the bulb and is a guide that holds it all."""
    stage = stage_of("""
pieces:
  - {name: desk, shape: table, at: [1 m, 2 m, 0 m], size: [1 m, 1 m, 0.75 m]}
""" + lamp_text("practical", "", aim=None).replace("1.5 m]", "1.2 m]"))
    own = [mesh for mesh in stage.meshes if mesh.name == "lamp"]
    low = min(mesh.vertices[:, 2].min() for mesh in own)
    assert low == pytest.approx(0.75)
    guide, = stage.guides
    bulb, = stage.emitters
    shade = next(mesh for mesh in own if mesh.surface != HOUSING)
    for points in (bulb.vertices, shade.vertices):
        assert np.all(np.linalg.norm(points - guide.centre, axis=1) <= guide.radius + 1e-9)
    assert np.any(stage.surfaces[shade.surface].transmission > 0.2)


def test_each_lamp_has_its_own_faces(stage_of):
    """Faces are in the order of the lamps, and name them."""
    stage = stage_of("""lights:
  - {name: b, kind: bulb, at: [0 m, 0 m, 1 m], output: 100 lm}
  - {name: a, kind: tube, at: [1 m, 0 m, 1 m], length: 1 m, output: 100 lm}
  - {name: c, kind: bulb, at: [2 m, 0 m, 1 m], output: 100 lm}
""")
    assert [lamp.name for lamp in stage.lamps] == ["b", "a", "c"]
    assert [emitter.lamp for emitter in stage.emitters] == [0, 1, 2]
    assert [emitter.name for emitter in stage.emitters] == ["b", "a", "c"]


def test_a_lamp_aimed_at_its_own_place(stage_of):
    """A thing in the very place of the lamp is no aim: reported where, what is wrong, what to write."""
    marker = "  - {name: marker, kind: bulb, at: [1 m, 2 m, 1.5 m], output: 1 lm}\n"
    with pytest.raises(SceneError) as caught:
        stage_of(lamp_text("fresnel", "", aim="marker") + marker)
    reported = str(caught.value)
    assert reported.startswith("scene.yaml:3:")
    assert "light 'lamp' (fresnel)" in reported.splitlines()[0]
    assert len(reported.splitlines()) >= 4
