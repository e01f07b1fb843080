"""Eye-lights on a ball-shaped cornea, where the mirror direction has a closed form."""

from types import SimpleNamespace

import numpy as np
import pytest

from previz.exposure.comparing.eyes import Cornea, eye_lights, fresnel, mirrored
from previz.exposure.comparing.views import Panorama, pinhole_rays
from previz.physics.exposure import CameraSettings, signal_per_luminance, stops_from_grey

X, Y, Z = np.eye(3)
RADIUS = 7.8e-3
F0 = 0.025
SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48)
CAMERA = SimpleNamespace(
    position=np.array([1.5, 0, 0]),
    # It faces along -x: its right is +y.
    world_from_camera=np.stack([Y, Z, -X], axis=1))


@pytest.fixture(scope="module")
def cornea():
    """A cap of a ball about the origin, facing along +x, out to the limbus."""
    rim = np.arcsin(5.9e-3 / RADIUS)
    polar = (np.arange(96) + 0.5) / 96 * rim
    around = np.arange(96) * 2 * np.pi / 96
    t, p = (each.ravel() for each in np.meshgrid(polar, around, indexing="ij"))
    normals = np.stack([np.cos(t), np.sin(t) * np.cos(p), np.sin(t) * np.sin(p)], axis=1)
    areas = RADIUS**2 * np.sin(t) * (rim / 96) * (2 * np.pi / 96)
    return Cornea(RADIUS * normals, normals, areas, F0)


def view(towards, half_deg, luminance, dim=1.0, name="card"):
    """Light from one round source in an even dim room, seen in five pinhole pictures."""
    directions, omega, pictures = [], [], []
    for ahead, up in ((X, Z), (Y, Z), (-Y, Z), (Z, -X), (-Z, X)):
        axes = np.stack([np.cross(ahead, up), up, ahead], axis=1)
        rays, solid = pinhole_rays(96, 96, axes, (1.0, 1.0))
        directions.append(rays.reshape(-1, 3))
        omega.append(solid.ravel())
        pictures.append((axes, (1.0, 1.0), (96, 96)))
    rays = np.concatenate(directions)
    inside = rays @ (towards / np.linalg.norm(towards)) > np.cos(np.radians(half_deg))
    return Panorama(rays, np.concatenate(omega), np.where(inside, luminance, dim)[None], ("lamp",),
                    ("room", name), inside.astype(int), tuple(pictures))


def test_the_mirror_image_lies_midway_to_the_source(cornea):
    """A source 60° to the side is mirrored where the normal is turned 30° (law of reflection)."""
    source = np.array([np.cos(np.radians(60)), np.sin(np.radians(60)), 0])
    light, thing, _ = mirrored(cornea, CAMERA.position, view(source, 6, 4000.0))
    bright = cornea.normals[thing == 1]
    turned = np.degrees(np.arctan2(bright[:, 1], bright[:, 0]))
    # 1.5 m away the camera itself is seen under 0.15° from the axis at the limbus.
    assert turned.mean() == pytest.approx(30, abs=0.5)
    # Its luminance is the source's times what a clear surface mirrors at 30° to the normal.
    expected = 4000.0 * fresnel(np.cos(np.radians(30)), F0)
    assert light[thing == 1].mean() == pytest.approx(expected, rel=0.01)


def test_fresnel_ends_at_f0_and_at_one():
    """Schlick's form gives f0 straight on and all of the light at grazing."""
    assert fresnel(1.0, F0) == pytest.approx(F0)
    assert fresnel(0.0, F0) == pytest.approx(1.0)


@pytest.mark.parametrize(("towards", "hour"), [
    ((1, 0.8, 0), 3), ((1, -0.8, 0), 9), ((1, 0, 0.8), 12), ((1, 0, -0.8), 6),
    ((1, 0.6, 0.6 * np.sqrt(3)), 1),
])  # fmt: skip
def test_an_eye_light_is_reported_by_the_clock(cornea, towards, hour):
    """A source to the camera's right is mirrored at 3 o'clock, one above at 12."""
    found, = eye_lights(cornea, CAMERA, SETTINGS, view(np.array(towards, float), 8, 5000.0),
                        {"card"})
    assert (found.thing, found.clock) == ("card", hour)
    expected = stops_from_grey(found_luminance(towards) * signal_per_luminance(SETTINGS))
    assert found.stops == pytest.approx(float(expected), abs=0.1)


def found_luminance(towards):
    """The image's luminance: 5000 cd/m² times the mirrored share at half the source's angle."""
    angle = np.arccos(1 / np.linalg.norm(towards)) / 2
    return 5000.0 * fresnel(np.cos(angle), F0)


def test_a_balls_mirror_image_is_as_large_as_optics_has_it(cornea):
    """A far source of angle a is imaged R a / 2 wide: focal length of a mirror ball is R / 2."""
    found, = eye_lights(cornea, CAMERA, SETTINGS, view(X, 10, 5000.0), {"card"})
    # Small-angle form; a ring of the cap is 0.07 mm, a pixel of the view 1°, the image 1.36 mm.
    assert found.width == pytest.approx(RADIUS / 2 * np.radians(20), rel=0.06)


def test_none_where_nothing_stands_out_or_shows(cornea):
    """No eye-light from the room's walls, a dim source, one behind, a hidden one, or at night."""
    source = np.array([1.0, 0.5, 0.3])
    bright = view(source, 8, 5000.0)
    assert len(eye_lights(cornea, CAMERA, SETTINGS, bright, {"card"})) == 1
    assert eye_lights(cornea, CAMERA, SETTINGS, bright, {"lamp"}) == ()
    assert eye_lights(cornea, CAMERA, SETTINGS, view(source, 8, 5.0), {"card"}) == ()
    assert eye_lights(cornea, CAMERA, SETTINGS, view(-X, 8, 5000.0), {"card"}) == ()
    assert eye_lights(cornea, CAMERA, SETTINGS, bright, {"card"},
                      lambda parts: np.ones(len(parts), bool)) == ()
    # 60 cd/m² mirrored by 2.5 % is 1.5 cd/m²: lost in black with 9 stops of filters.
    dark = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, nd_density=2.7)
    assert eye_lights(cornea, CAMERA, dark, view(source, 2, 60.0, 0.01), {"card"}) == ()


def test_an_eye_light_stands_out_from_the_iris_by_three_stops(cornea):
    """What the clear surface mirrors counts from 2^3 of an iris of 5 % on, in whatever light it is."""
    def over_iris(luminance):
        seen = view(X, 3, luminance, 40.0)
        iris = 0.05 * seen.illuminance(X) / np.pi
        return np.log2(F0 * luminance / iris), eye_lights(cornea, CAMERA, SETTINGS, seen, {"card"})

    (under, none), (above, found) = over_iris(560.0), over_iris(760.0)
    assert 2.7 < under < 2.97 and none == ()
    assert 3.05 < above < 3.3
    assert found[0].over_iris == pytest.approx(above, abs=0.05)


@pytest.mark.parametrize(("share", "wide"), [(0.2, 8), (0.3, 20)])
def test_an_eye_light_is_as_wide_as_what_has_a_quarter_of_its_peak(cornea, share, wide):
    """A skirt of a fifth of the core's light is no part of it, one of three tenths is."""
    outer, inner = view(X, 10, share * 5000.0), view(X, 4, 5000.0)
    outer.luminance[0] = np.maximum(outer.luminance[0], inner.luminance[0])
    found, = eye_lights(cornea, CAMERA, SETTINGS, outer, {"card"})
    # R a / 2 by small angles; a ring of the cap is 0.07 mm.
    assert found.width == pytest.approx(RADIUS / 2 * np.radians(wide), rel=0.12)
