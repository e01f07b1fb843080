"""What a face sees: solid angles, sizes, soft edges and directions against closed forms."""

from types import SimpleNamespace

import numpy as np
import pytest

from previz.exposure.comparing.extent import extent_of, shadow_edge
from previz.exposure.comparing.views import SKY, bearing, first_hit, named_sources, panorama, pinhole_rays
from previz.physics.light import LampLight
from previz.physics.spectra import normalise

ONES = np.ones(81)
LAMP = LampLight("lamp", "lm", 1.0, normalise(ONES), ONES)
X, Y, Z = np.eye(3)
AROUND = {"ahead": (X, Z), "left": (Y, Z), "right": (-Y, Z), "above": (Z, -X), "below": (-Z, X)}


def axes(ahead, up):
    return np.stack([np.cross(ahead, up), up, ahead], axis=1)


def pictures(luminance, thing, rows=64):
    """Five pinhole pictures about +x, of light given by direction."""
    made = []
    for ahead, up in AROUND.values():
        turn = axes(ahead, up)
        rays, _ = pinhole_rays(rows, rows, turn, (1.0, 1.0))
        frames = SimpleNamespace(
            slices=luminance(rays)[None, None], lights=("lamp",), shape=(rows, rows),
            names=("board", "wall"), names_index=thing(rays))
        made.append((frames, turn, (1.0, 1.0)))
    return panorama(made, [LAMP])


def test_five_views_take_in_five_sixths_of_all_directions():
    """The solid angle of a 90° square view is a sixth of the sphere: 4 pi / 6."""
    _, omega = pinhole_rays(64, 64, np.eye(3), (1.0, 1.0))
    # Midpoint sums of 64 pixels are within a thousandth of the integral.
    assert omega.sum() == pytest.approx(4 * np.pi / 6, rel=1e-3)


def test_an_even_surround_gives_pi_times_its_luminance():
    """E = pi L on a flat receptor under an even dome (check value 1.15: L = 100 gives 314.159 lx)."""
    view = pictures(lambda rays: np.full(rays.shape[:2], 100.0),
                    lambda rays: np.full(rays.shape[:2], 1))
    # The weights of one lumen of equal-energy light sum to one; pixels cut the horizon in steps.
    assert view.illuminance(X) == pytest.approx(314.159, rel=2e-3)
    assert view.by_thing(X) == pytest.approx({"wall": 314.159}, rel=2e-3)
    assert np.allclose(view.flow() / np.linalg.norm(view.flow()), X, atol=1e-3)


def test_light_is_reported_by_what_it_comes_from():
    """A disc of half angle a on the axis gives E = pi L sin² a; the rest comes from elsewhere."""
    half = np.radians(20.0)

    def thing(rays):
        return np.where(rays[..., 0] > np.cos(half), 0, 1)

    view = pictures(lambda rays: np.where(thing(rays) == 0, 50.0, 1.0), thing, 128)
    parts = view.by_thing(X)
    # Lambert: E = pi L sin² a of a disc on the axis; the wall has the rest of the dome.
    disc = np.pi * 50 * np.sin(half) ** 2
    assert parts["board"] == pytest.approx(disc, rel=0.01)
    assert parts["wall"] == pytest.approx(np.pi * (1 - np.sin(half) ** 2), rel=0.01)
    assert list(parts) == ["board", "wall"]


def test_directions_find_the_pixel_that_was_taken_there():
    """A pixel's own direction gives that pixel; straight back there is none."""
    view = pictures(lambda rays: np.ones(rays.shape[:2]),
                    lambda rays: np.zeros(rays.shape[:2], int))
    assert np.array_equal(view.pixels(view.directions), np.arange(len(view.directions)))
    assert view.pixels(np.array([-X]))[0] == -1


@pytest.mark.parametrize(("source", "to_flag", "to_wall", "expected"), [
    (0.5, 3.0, 1.0, 0.5 / 3),  # check value 1.22: 0.5 m disc 3 m from a flag 1 m from the wall
    (1.2, 2.0, 0.06, 0.036),  # 1.2 m board at 2 m, nose 6 cm before the cheek: 1.2 · 0.06 / 2
])
def test_soft_edges_follow_similar_triangles(source, to_flag, to_wall, expected):
    """Edge width = source width · (object to wall) / (source to object)."""
    # T0: closed form against closed form.
    apparent = 2 * np.degrees(np.arctan(source / (2 * to_flag)))
    assert shadow_edge(apparent, to_wall) == pytest.approx(expected, 1e-9)


def test_the_suns_edge_is_nine_millimetres_per_metre():
    """Sun 0.533° wide: 9.30 mm for each metre (check value 1.22)."""
    assert 1e3 * shadow_edge(0.533, 1.0) == pytest.approx(9.30, abs=0.005)


@pytest.mark.parametrize("wide", [2.3, 9.5, 33.4, 62.0])
def test_a_disc_and_a_square_appear_as_large_as_they_are(wide):
    """Apparent size from a picture agrees with 2 atan(w / 2 d) within 5 %."""
    tan = 1.3 * np.tan(np.radians(wide) / 2)
    rays, omega = pinhole_rays(96, 96, np.eye(3), (tan, tan))
    plane = rays[..., :2] / rays[..., 2:]
    edge = np.tan(np.radians(wide) / 2)
    disc = extent_of(np.where(np.hypot(*np.moveaxis(plane, -1, 0)) < edge, 700.0, 0), omega,
                     (tan, tan))
    square = extent_of(np.where(np.abs(plane).max(axis=-1) < edge, 700.0, 0), omega, (tan, tan))
    for found in (disc, square):
        # One pixel of 96 at either rim is 2.7 % of a source that fills 1 / 1.3 of the picture.
        assert found.across == pytest.approx(wide, rel=0.05)
        assert found.up == pytest.approx(wide, rel=0.05)
    # Solid angle of a cone: 2 pi (1 - cos a).
    assert disc.round == pytest.approx(wide, rel=0.05)


def test_only_the_lit_part_of_a_board_counts_and_specks_do_not():
    """A board lit in its right half is half as wide; stray bright pixels change nothing."""
    tan = 0.4
    _, omega = pinhole_rays(96, 96, np.eye(3), (tan, tan))
    lit = np.zeros((96, 96))
    lit[24:72, 48:72] = 300.0
    lit[24:72, 24:48] = 6.0
    clean = extent_of(lit, omega, (tan, tan))
    lit[[5, 50, 90], [30, 8, 88]] = 5000.0
    found = extent_of(lit, omega, (tan, tan))
    # 24 of 96 pixels from the middle: atan(0.4 · 24 / 48); 2 atan of the same for the height.
    assert found.across == pytest.approx(np.degrees(np.arctan(0.2)), rel=1e-6)
    assert found.up == pytest.approx(2 * np.degrees(np.arctan(0.2)), rel=1e-6)
    assert (found.across, found.up) == (clean.across, clean.up)
    assert found.middle == pytest.approx((0.1, 0.0))


def test_what_is_dim_beside_the_bright_does_not_widen_it():
    """A hot middle that gives most of the light sets the level; what is under a part of that is no source."""
    tan = 0.4
    _, omega = pinhole_rays(96, 96, np.eye(3), (tan, tan))
    lit = np.zeros((96, 96))
    # Two fifths of the light are of the wide part, three fifths of the hot one.
    lit[12:84, 12:84] = 100.0
    lit[36:60, 36:60] = 1100.0
    found = extent_of(lit, omega, (tan, tan))
    # 24 of 96 pixels about the middle, each way.
    assert found.across == found.up == pytest.approx(2 * np.degrees(np.arctan(0.1)), rel=1e-6)


def test_a_lamp_smaller_than_a_pixel_keeps_its_name():
    """The light of a small lamp is not put down to the wall whose pixel it falls in."""
    centre = np.array([1.0, 0.013, -0.011]) / np.linalg.norm([1.0, 0.013, -0.011])

    def light(rays):
        return np.where(rays @ centre > np.cos(np.radians(2.0)), 9e4, 2.0)

    view = pictures(light, lambda rays: np.ones(rays.shape[:2], int), 32)
    assert set(view.by_thing(X)) == {"wall"}
    named = named_sources(view, [("lamp", centre, np.radians(0.5))])
    parts = named.by_thing(X)
    # All of the wall's own light is pi · 2 lx.
    assert parts["wall"] == pytest.approx(2 * np.pi, rel=0.02)
    assert parts["lamp"] > 100
    hidden = named_sources(pictures(lambda rays: np.full(rays.shape[:2], 2.0),
                                    lambda rays: np.ones(rays.shape[:2], int), 32),
                           [("lamp", centre, np.radians(0.5))])
    assert "lamp" not in hidden.by_thing(X)


def test_an_open_direction_can_be_called_after_its_window():
    """What meets nothing is the sky, or the opening that it is seen through."""
    turn = axes(X, Z)
    rays, _ = pinhole_rays(8, 8, turn, (1.0, 1.0))
    frames = SimpleNamespace(slices=np.ones((1, 1, 8, 8)), lights=("lamp",), shape=(8, 8),
                             names=("wall",), names_index=np.full((8, 8), -1))
    view = panorama([(frames, turn, (1.0, 1.0))], [LAMP],
                    lambda outwards: np.where(outwards[:, 1] > 0, "yard window", ""))
    assert set(view.by_thing(X)) == {SKY, "yard window"}


def test_rays_meet_the_first_triangle_only():
    """The nearest of two triangles is met; what lies behind does not count; none is infinite."""
    near = np.array([[1.0, -1, -1], [1, 2, -1], [1, -1, 2]])
    both = np.stack([near, near + [2.0, 0, 0]])
    assert first_hit(both, np.zeros(3), X) == pytest.approx(1.0)
    assert first_hit(both, 1.5 * X, X) == pytest.approx(1.5)
    assert first_hit(both, np.zeros(3), -X) == np.inf


@pytest.mark.parametrize(("direction", "expected"), [
    ((1, 0, 0), (0, 0)), ((0, -1, 0), (90, 0)), ((0, 1, 0), (-90, 0)), ((-1, 0, 0), (180, 0)),
    ((1, 0, 1), (0, 45)), ((1, -1, np.sqrt(2)), (45, 45)),
])  # fmt: skip
def test_bearings_are_reported_to_the_right_and_up(direction, expected):
    """Seen along +x, -y is to the right; heights are over the level."""
    side, height = bearing(np.array(direction, float), X)
    assert abs(side) == pytest.approx(abs(expected[0]), abs=1e-9)
    assert np.sign(round(side, 6)) == np.sign(expected[0]) or abs(expected[0]) == 180
    assert height == pytest.approx(expected[1], abs=1e-9)


@pytest.mark.parametrize(("times", "named"), [(15, False), (25, True)])
def test_a_lamp_in_a_pixel_stands_out_from_those_round_it(times, named):
    """From twenty times the light of the pixels round it on, a pixel is the lamp's."""
    centre = np.array([1.0, 0.3, 0.2]) / np.linalg.norm([1.0, 0.3, 0.2])

    def luminance(rays):
        along = rays @ centre
        return np.where((along == along.max()) & (along > 0.99), 2.0 * times, 2.0)

    view = pictures(luminance, lambda rays: np.ones(rays.shape[:2], int), 32)
    assert ("lamp" in named_sources(view, [("lamp", centre, np.radians(0.5))]).by_thing(X)) == named
