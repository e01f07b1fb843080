"""Pieces of yards and streets, and what ends the view: sizes, sound triangles, the same again."""

import itertools

import numpy as np
import pytest

from previz.scene.daylight import Daylight
from previz.scene.piece import USUAL_SIZES, Piece
from previz.scene.read import load
from previz.scene.scene import Scene
from previz.scene.skyline import BANDS, Band
from previz.scene.surface import Surface
from previz.stage.build import build_stage
from previz.stage.skyline import GROUND, MOST, build_skyline
from previz.stage.surfaces import SurfaceRegistry, luminance
from previz.stage.yard import YARD, yard_meshes
from previz.stage.yard.railway import GAUGE


def meshes(shape, size=None, name="thing", turn=0.0):
    """A piece's meshes and their surfaces."""
    registry = SurfaceRegistry()
    piece = Piece(name=name, shape=shape, at=(0.0, 0.0, 0.0), size=size or USUAL_SIZES[shape], turn=turn)
    return yard_meshes(piece, registry), registry.surfaces


def sound(found):
    """Hold triangles to have areas, finite corners and normals on the side that faces look to."""
    for mesh in found:
        corners = mesh.vertices[mesh.faces]
        cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        assert np.all(np.isfinite(mesh.vertices))
        assert np.linalg.norm(cross, axis=1).min() > 1e-9, mesh.name
        if mesh.normals is not None:
            lean = np.einsum("fij,fj->fi", mesh.normals[mesh.faces], cross)
            assert np.mean(lean.mean(axis=1) > 0) > 0.97, mesh.name


@pytest.mark.parametrize("shape", YARD)
def test_pieces_are_sound_and_as_large_as_they_say(shape):
    """Within a tenth of their size, on the ground, of few triangles."""
    found, surfaces = meshes(shape)
    sound(found)
    assert {mesh.surface for mesh in found} <= set(surfaces)
    assert {mesh.name for mesh in found} == {"thing"}
    corners = np.concatenate([mesh.vertices for mesh in found])
    low, high = corners.min(axis=0), corners.max(axis=0)
    size = np.array(USUAL_SIZES[shape])
    assert low[2] >= 0
    # What hangs over (eaves, roofs of lanterns, mirrors, buffers) is a little more.
    room = {"lamp post": 0.6, "signal": 1.0, "track": 0.1}.get(shape, 0.16)
    assert np.all(high - low <= size * (1 + room) + 0.03)
    assert np.all((high - low)[[0, 2]] >= 0.8 * size[[0, 2]] - 0.01)
    assert sum(len(mesh.faces) for mesh in found) < 10_000


def test_rails_are_of_standard_gauge():
    """1435 mm between the heads' inner faces (EN 15273, UIC 510), 14 mm under their tops."""
    found, _ = meshes("track")
    top = USUAL_SIZES["track"][2]
    rails = np.concatenate([m.vertices for m in found if m.surface == "rust"])
    heads = rails[(rails[:, 2] > top - 0.04) & (rails[:, 2] < top)]
    inner = np.abs(heads[:, 1]).min()
    assert 2 * inner == pytest.approx(GAUGE, abs=0.0005)
    assert GAUGE == 1.435
    outer = np.abs(heads[:, 1]).max()
    assert outer - inner == pytest.approx(0.071, abs=0.001)


def test_a_van_is_seen_through():
    """Its panes are sheets of glass, and behind them are seats."""
    for shape in ("van", "car"):
        found, surfaces = meshes(shape)
        glass = [m for m in found if surfaces[m.surface].is_sheet]
        assert glass
        area = sum(
            np.linalg.norm(
                np.cross(*(m.vertices[m.faces[:, k]] - m.vertices[m.faces[:, 0]] for k in (1, 2))), axis=1
            ).sum()
            / 2
            for m in glass
        )
        assert 0.8 < area < 6.0
        assert any(m.surface.startswith("black leather") for m in found)


def test_pieces_are_drawn_by_their_names():
    """The same name gives the same tree, another name another."""
    one, two, other = (meshes("tree", name=name)[0] for name in ("oak", "oak", "elm"))
    for a, b in zip(one, two, strict=True):
        np.testing.assert_array_equal(a.vertices, b.vertices)
    assert any(
        a.vertices.shape != c.vertices.shape or np.any(a.vertices != c.vertices)
        for a, c in zip(one, other, strict=True)
    )
    bare, surfaces = meshes("bare tree")
    assert len(bare) == 1
    leaves = next(m for m in one if m.surface.startswith("leaves"))
    assert np.any(meshes("tree")[1][leaves.surface].transmission)
    assert surfaces


def scene_of(*bands, **more):
    return Scene(surroundings=bands, **more)


@pytest.mark.parametrize("kind", BANDS)
def test_bands_stand_where_they_are_written(kind):
    """Between their bearings, from their distance on, no higher than they say, on the ground."""
    band = Band(
        name="band", kind=kind, distance=80.0, start=30.0, end=100.0, height=10.0 if kind != "hills" else 60.0
    )
    registry = SurfaceRegistry()
    found = build_skyline(scene_of(band, daylight=Daylight(sky="none", north=20.0)), registry)
    sound(found)
    corners = np.concatenate([mesh.vertices for mesh in found])
    away = np.hypot(corners[:, 0], corners[:, 1])
    bearing = np.degrees(np.arctan2(corners[:, 0], corners[:, 1]))
    # North is turned 20 deg clockwise; things at the ends reach out by their own width.
    edge = np.degrees(25.0 / 80.0)
    assert bearing.min() > 50 - edge and bearing.max() < 120 + edge
    assert np.median(bearing) == pytest.approx(85, abs=12)
    assert away.min() > 80 - 22
    assert corners[:, 2].min() >= GROUND - 1e-6
    assert corners[:, 2].max() < band.height * (2.5 if kind == "works" else 1.35)
    assert all(mesh.role == "outside" for mesh in found)


def test_all_bands_together_are_few_triangles():
    """However many there are, and all round."""
    bands = [
        Band(name=f"{kind} {k}", kind=kind, distance=60.0 + 90 * k)
        for kind, k in itertools.product(BANDS, (0, 1))
    ]
    found = build_skyline(scene_of(*bands), SurfaceRegistry())
    assert sum(len(mesh.faces) for mesh in found) < 1.25 * MOST
    again = build_skyline(scene_of(*bands), SurfaceRegistry())
    for a, b in zip(found, again, strict=True):
        np.testing.assert_array_equal(a.vertices, b.vertices)


def test_far_bands_are_paler_and_only_if_wished():
    """By their distance, or by what is written; nothing at all with 0 %."""

    def light(**more):
        registry = SurfaceRegistry()
        band = Band(name="hill", kind="hills", surface=Surface(reflectance=0.05), **more)
        mesh = build_skyline(scene_of(band), registry)[0]
        return luminance(registry.surfaces[mesh.surface].reflectance)

    assert light(distance=500.0, pale=0.0) == pytest.approx(0.05, rel=1e-6)
    assert 0.05 < light(distance=500.0) < light(distance=2000.0) < 0.3
    assert light(distance=500.0, pale=0.5) == pytest.approx((0.05 + 0.30) / 2, abs=0.01)


def test_wet_ground_is_darker_and_mirrors_where_water_stands(tmp_path, monkeypatch):
    """Dry ground stays as it was; wet it has a second, darker albedo, and puddles as smooth as water."""
    monkeypatch.chdir(tmp_path)
    made = {}
    for wet in ("0 %", "30 %", "80 %"):
        (tmp_path / "scene.yaml").write_text(
            f"previz: 1\nground: {{name: asphalt, wet: {wet}}}\n", encoding="utf-8"
        )
        stage = build_stage(load("scene.yaml").scene())
        made[wet] = next(iter(s for n, s in stage.surfaces.items() if n.startswith("asphalt")))
    dry, damp, wet = made.values()
    assert dry.name == "asphalt"
    assert luminance(wet.pattern.second) < 0.65 * luminance(dry.reflectance)
    # Water stands from 40 % on: there the gloss is whole and nearly a mirror.
    for surface, stands in ((damp, False), (wet, True)):
        tile = surface.pattern.tile
        still = (tile[..., 2] > 0.99) & (tile[..., 3] * surface.roughness < 0.03)
        assert still.any() == stands
    share = np.mean(wet.pattern.tile[..., 3] * wet.roughness < 0.03)
    assert share == pytest.approx(0.5 * 0.4 / 0.6, abs=0.05)
    assert np.mean(damp.pattern.tile[..., 0]) < np.mean(wet.pattern.tile[..., 0])
    # Water mirrors 2 % straight on: ((1.333 - 1) / 2.333)², Fresnel.
    assert wet.specular.mean() == pytest.approx(0.0204, abs=0.0002)
