"""What figures wear: garments on everyone in every pose, layers, hems, cloth, and messages about words."""

import numpy as np
import pytest

from previz.errors import SceneError
from previz.scene.read import load
from previz.scene.wear import GARMENTS, OUTFITS, options_of
from previz.stage.build import build_stage
from previz.stage.figures.body import settle
from previz.stage.figures.build import PEOPLE, FigureSpec, build_figure
from previz.stage.figures.data import body_data
from previz.stage.figures.dress import suit
from previz.stage.figures.mesh import edges_of, smooth_normals
from previz.stage.figures.wardrobe.cloth import drape, rest_of, weave
from previz.stage.figures.wardrobe.cutting import cut, hemmed
from previz.stage.figures.wardrobe.garment import GAP
from previz.stage.figures.wardrobe.outfit import outfit_of, plain
from previz.stage.figures.wardrobe.worn import Wear, covered, cut_outfit, heights, worn

POSES = ("standing", "seated", "leaning", "walking")


def wear(kind, **fields):
    return Wear(kind, options_of(GARMENTS[kind](**fields)))


LAYERED = (plain("shirt"), plain("trousers"), plain("jumper"), plain("jacket"), plain("coat"))

OUTFITS_TRIED = (
    (
        "person one",
        "standing",
        (
            plain("shirt"),
            wear("jacket", open=True),
            wear("trousers", crease=True, turn_ups=True, belt=False),
            plain("flat cap"),
        ),
    ),
    ("person two", "seated", (plain("dress"), plain("apron"), plain("scarf"), plain("wool hat"))),
    ("person three", "leaning", (plain("shirt"), wear("overalls", style="boiler suit"), plain("peaked cap"))),
    ("person four", "walking", (plain("shirt"), plain("jumper"), plain("skirt"), plain("shoes"))),
    (
        "person five",
        "seated",
        (
            plain("shirt"),
            plain("trousers"),
            wear("coat", open=True, collar="up", length="calf"),
            plain("scarf"),
        ),
    ),
    ("person six", "walking", (plain("shirt"), plain("overalls"), plain("boots"))),
    ("person six", "lying", (plain("shirt"), plain("skirt"), plain("coat"))),
)


@pytest.mark.parametrize(("person", "pose", "wears"), OUTFITS_TRIED)
def test_every_garment_is_sound(person, pose, wears):
    """Triangles have areas, normals a length of 1; nothing is in the floor; at most 150 000 triangles"""
    built = build_figure(FigureSpec(person, pose=pose, wears=wears))
    parts = [part for part in built.parts if part.garment is not None]
    assert {built.wears[part.garment].kind for part in parts} >= {each.kind for each in wears}
    assert sum(len(part.faces) for part in parts) < 160_000
    for part in parts:
        assert np.all(np.isfinite(part.vertices)) and np.all(np.isfinite(part.uv)), part.name
        assert len(part.uv) == len(part.vertices) == part.faces.max() + 1, part.name
        np.testing.assert_allclose(np.linalg.norm(part.normals, axis=1), 1.0, atol=1e-6, err_msg=part.name)
        corners = part.vertices[part.faces]
        square = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert np.linalg.norm(square, axis=1).min() > 1e-12, part.name
        agree = np.einsum("ij,ij->i", part.normals[part.faces].mean(axis=1), square) > 0
        # Hems and folds turn by more than a right angle in a few places.
        assert agree.mean() > 0.95, part.name
        assert part.vertices[:, 2].min() > -6e-3, part.name


@pytest.mark.parametrize("person", PEOPLE)
def test_default_outfits_are_of_known_garments(person):
    """Everyone is dressed from neck to foot where nothing is written."""
    outfit = outfit_of(person, None)
    places = {place for each in outfit if each.kind in GARMENTS for place in GARMENTS[each.kind].place_on}
    assert places >= {"body", "legs", "feet"} and set(OUTFITS) == set(PEOPLE)


@pytest.mark.parametrize("pose", POSES)
def test_layers_lie_over_one_another(pose):
    """Where two garments both have cloth the outer is over the inner, with its folds, by a gap at least."""
    body = settle("person one", 1.75, pose, 0.45, 0.74, None, {}, 0.0, 0.0)
    drawn = drape("person one", body.posed, 0.45 / body.scale if pose in ("seated", "leaning") else None)
    below = np.full(len(drawn.points), -np.inf)
    for made, lift, _ in heights(drawn, LAYERED):
        assert (lift - below)[covered(made)].min() >= GAP - 1e-9
        below = np.where(covered(made), lift, below)
    assert np.isfinite(below).sum() > 30_000


@pytest.mark.parametrize(
    ("person", "pose"), [("person one", "walking"), ("person three", "seated"), ("person two", "standing")]
)
def test_clothes_are_outside_the_body(person, pose):
    """Shirt and trousers lie over the body's own surface, but in creases of the body and on shoulders' caps.

    Held vertex against vertex, since limbs touch one another. What is let in by design is the cap of a
    hanging arm's shoulder (13 mm at rest); in the crotch of who walks or sits skin itself folds.
    """
    body = settle(person, 1.7, pose, 0.45, 0.74, None, {}, 0.0, 0.0)
    drawn = drape(person, body.posed, None)
    net, data = weave(), body_data()
    shape = data.shapes[data.people.index(person)][suit().rows]
    skin = net.apply(body.posed.skin(shape, net.weights))
    normals = smooth_normals(skin, net.quads)
    for made, lift, shift in heights(drawn, (plain("shirt"), plain("trousers"))):
        cloth = drawn.points + drawn.normals * lift[:, None] + shift
        over = np.einsum("ij,ij->i", cloth - skin, normals)
        worn_there = np.zeros(len(over), bool)
        for panel in made.panels:
            worn_there |= panel.panel.keep > 0
        elsewhere = worn_there & ((net.arm < 0.05) | (drawn.rest.along > 0.12))
        assert np.percentile(over[elsewhere], 2) > -5e-3
        assert over[worn_there].min() > -25e-3 and np.median(over[worn_there]) > 6e-3


def test_hems_are_turned_in():
    """A cut edge is rounded and goes on inside: what stays open lies under the cloth by the hem."""
    rest = rest_of("person one")
    piece = cut(rest.level(0.6))
    points = piece.apply(rest.points)
    whole, faces, copied = hemmed(points, piece.faces, piece.rim, 3e-3)
    edges, _, faces_at = edges_of(faces)
    open_edge = np.unique(edges[faces_at[:, 1] < 0])
    turned = len(np.unique(piece.rim))
    last = np.arange(len(whole) - turned, len(whole))
    assert np.isin(last, open_edge).all() and np.mean(np.isin(piece.rim, open_edge)) < 0.02
    normals = smooth_normals(points, piece.faces)
    under = np.einsum("ij,ij->i", points[copied[last]] - whole[last], normals[copied[last]])
    # 1.3 of the thickness, less where the cloth bends within the 12 mm of the hem.
    assert np.median(under) == pytest.approx(3.9e-3, abs=0.3e-3) and under.min() > 0


def test_a_cut_follows_its_line():
    """Vertices of a cut's rim lie where the field is 0, to a share of an edge of 7 mm."""
    rest = rest_of("person two")
    field = rest.level(0.55)
    piece = cut(field)
    off = piece.apply(field)[np.unique(piece.rim)]
    assert np.abs(off).max() < 0.4e-3 and np.all(field[piece.first[piece.place[:, 0] == 0]] > 0)


@pytest.mark.parametrize("person", ["person one", "person four"])
def test_texture_is_in_metres_along_the_grain(person):
    """On the cloth of shirt and trousers lengths in uv are those of the cloth, but for darts."""
    body = settle(person, 1.7, "standing", 0.45, 0.74, None, {}, 0.0, 0.0)
    drawn = drape(person, body.posed, None)
    for piece in worn(drawn, (plain("shirt"), plain("trousers"))):
        sheet = piece.sheet
        if sheet.stuff != "cloth" or len(sheet.points) < 10_000:
            continue
        sides = sheet.faces[:, [0, 1]]
        true = np.linalg.norm(sheet.points[sides[:, 0]] - sheet.points[sides[:, 1]], axis=1)
        flat = np.linalg.norm(sheet.uv[sides[:, 0]] - sheet.uv[sides[:, 1]], axis=1)
        stretch = (flat / true)[(true > 2e-3) & (flat > 0)]
        assert np.median(stretch) == pytest.approx(1.0, abs=0.15)
        assert np.percentile(stretch, 5) > 0.5 and np.percentile(stretch, 95) < 1.6


def test_a_hat_hides_the_hair_under_it_and_leaves_the_face():
    """No hair stands out of a cap's crown, and the points of the face stay where they were."""
    bare = build_figure(FigureSpec("person one"))
    capped = build_figure(FigureSpec("person one", wears=(*outfit_of("person one", None), plain("flat cap"))))
    assert len(capped.part("strands").faces) < 0.6 * len(bare.part("strands").faces)
    top = max(part.vertices[:, 2].max() for part in capped.parts if part.name.startswith("flat cap"))
    assert top > max(capped.part(name).vertices[:, 2].max() for name in ("strands", "skin"))
    for name in ("face", "nose", "left cheek", "eyes", "mouth"):
        np.testing.assert_allclose(capped.anchors[name][0], bare.anchors[name][0], atol=1e-12)


def test_what_is_cut_is_kept():
    """Two figures in the same clothes share what was cut."""
    assert cut_outfit("person one", LAYERED) is cut_outfit("person one", LAYERED)


SCENE = """\
previz: 1
figures:
  - name: clerk
    at: [0 m, 0 m]
    facing: 0 deg
    wears: {wears}
"""


def problems(tmp_path, wears):
    path = tmp_path / "scene.yaml"
    path.write_text(SCENE.replace("{wears}", wears))
    with pytest.raises(SceneError) as caught:
        load(path).scene(None)
    return str(caught.value)


@pytest.mark.parametrize(
    ("wears", "told"),
    [
        ("[shirt, trouser]", "has no garment 'trouser'. Did you mean 'trousers'?"),
        ("[shirt]", "wears nothing on the legs. Add for example 'trousers'"),
        ("[trousers]", "wears nothing on the body. Add for example 'shirt'"),
        (
            "[shirt, trousers, flat cap, wool hat]",
            "wears a flat cap and a wool hat on the head. Keep one of the two",
        ),
        ("[shirt, {kind: trousers, collar: up}]", "has no field 'collar'"),
        ("[shirt, {cloth: wool}]", "has no 'kind'"),
        ("[[shirt], trousers]", "is a list"),
        ("[shirt, {kind: trousers, cloth: navy}]", "is a colour, not a surface"),
        ("[shirt, dress, overalls]", "Keep one of the two"),
    ],
)
def test_messages_say_what_to_write(tmp_path, wears, told):
    """Wrong words and what cannot be worn together are told at their place."""
    text = " ".join(problems(tmp_path, wears).split())
    assert "scene.yaml:6:" in text
    for part in told.split(". "):
        assert part in text, text


def stage_of(tmp_path, more):
    path = tmp_path / "scene.yaml"
    path.write_text("previz: 1\nfigures:\n  - name: clerk\n    at: [0 m, 0 m]\n    facing: 0 deg\n" + more)
    return build_stage(load(path).scene(None))


def test_cloth_comes_from_the_garment_the_figure_or_the_usual(tmp_path):
    """A garment's own cloth counts first, then 'clothing' on the outermost, darker on the legs."""
    stage = stage_of(
        tmp_path,
        "    clothing: {colour: red, reflectance: 0.2}\n"
        "    wears: [{kind: shirt, cloth: denim}, jacket, trousers]\n",
    )
    names = {mesh.surface for mesh in stage.meshes if mesh.role == "figure"}
    share = {name: stage.surfaces[name].reflectance.mean() for name in names}
    assert "denim" in names
    jacket = next(name for name in names if name == "plain (own)")
    legs = next(name for name in names if "plain (own), darker" in name)
    assert share[legs] == pytest.approx(0.6 * share[jacket])
    plain_stage = stage_of(tmp_path, "    wears: [shirt, jacket, trousers]\n")
    woollen = [surface for surface in plain_stage.surfaces.values() if surface.fuzz is not None]
    assert woollen and all(0 < surface.fuzz <= 1 for surface in woollen)
    cloth = [mesh for mesh in plain_stage.meshes if mesh.role == "figure" and "wool" in mesh.surface]
    assert cloth and all(mesh.uv is not None for mesh in cloth)
