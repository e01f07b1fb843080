"""Lamps with a lens, as the scene's kinds are built: their lumens, their angles, their focus."""

import numpy as np
import pytest

from previz.scene.light import Ellipsoidal, Fresnel, Output, Panel, SoftBox
from previz.scene.records import Target
from previz.stage.lights import build_fixture
from previz.stage.lights.fixture import HOUSING, Setting
from previz.stage.lights.fronts import FACE_GAP

pytestmark = pytest.mark.engine

THROW = 5.0
LENS = 0.16


def lamp_stage(tiny, light, probes):
    """One lamp at the origin that shines along +x, its body with it."""
    setting = Setting(np.zeros(3), np.array([THROW, 0, 0]), None, lambda at: 0.0,
                      lambda *_, **__: HOUSING)
    fixture = build_fixture(light, setting)
    return tiny.stage(*fixture.meshes, emitters=fixture.of_lamp(0), probes=probes,
                      surfaces=[tiny.surface(HOUSING, 0.05)]), fixture


def light(kind, **more):
    return kind(name="lamp", at=(0, 0, 0), aim=Target(point=(THROW, 0, 0)), output=Output(value=1.0),
                **more)


LAMPS = {
    "ellipsoidal 26": (light(Ellipsoidal, field=26.0, lens=LENS), 26.0, 0.99),
    "ellipsoidal 50 soft": (light(Ellipsoidal, field=50.0, edge=0.6, lens=LENS), 50.0, 0.99),
    "fresnel spot": (light(Fresnel, flood=0.0), 20.0, 0.99),
    "fresnel 25/45": (light(Fresnel, beam=25.0, field=45.0), 45.0, 0.99),
    "panel 60": (light(Panel, size=(0.3, 0.3), beam=60.0), None, 1.0),
    "soft box": (light(SoftBox, size=(0.4, 0.4)), None, 1.0),
}


def ring_probes(tiny, far, angles):
    """Meters on a sphere about the lamp that face it, each at its own azimuth."""
    turn = np.arange(len(angles)) * 2.399963  # the golden angle spreads them round the axis
    directions = np.stack([np.cos(angles), np.sin(angles) * np.cos(turn), np.sin(angles) * np.sin(turn)],
                    axis=1)
    return [tiny.probe(direction * far, -direction, name=f"{i}") for i, direction in enumerate(directions)]


@pytest.mark.parametrize("name", LAMPS)
def test_lumens_of_a_lamp(tiny, name):
    """What crosses a sphere about a lamp is its lumens: the integral of E over the sphere."""
    # 10 m for lamps of up to half a metre: the meters face the lamp's middle, which costs less
    # than 0.1 % of flux there. Gauss-Legendre in cos(theta), twice as fine inside the field.
    record, field, _ = LAMPS[name]
    split = np.cos(np.radians((field or 120.0) * 0.6))
    node, weight = np.polynomial.legendre.leggauss(24)
    cosines = np.concatenate([(1 + split) / 2 + node * (1 - split) / 2,
                              split / 2 + node * split / 2])
    weights = np.concatenate([weight * (1 - split) / 2, weight * split / 2])
    far = THROW if record.kind == "ellipsoidal" else 10.0
    stage, _ = lamp_stage(tiny, record, ring_probes(tiny, far, np.arccos(cosines)))
    # Light without a bounce is this even: a coarse reading is good to 0.1 %, all of them to more.
    got = tiny.measure(stage, 0.2)
    flux = 2 * np.pi * far**2 * weights @ got.total
    error = 2 * np.pi * far**2 * np.sqrt(weights**2 @ got.total_error**2)
    tiny.agree(flux, error, 1.0)


def fall_off(angles, candela, level):
    """Full angle at which intensity last falls to a share of the axis' own."""
    above = np.nonzero(candela >= level * candela[0])[0][-1]
    return 2 * np.interp(-level * candela[0], -candela[above:above + 2], angles[above:above + 2])


@pytest.mark.parametrize(("name", "beam", "field"), [
    # An ellipsoidal is even to where its edge begins: half is left in the middle of the smooth
    # fall, u = 1/2, a tenth at u = 0.8042 on the field angle; so beam = field (1 - 0.3042 edge).
    ("ellipsoidal 26", 26 * (1 - 0.3042 * 0.1), 26),
    ("ellipsoidal 50 soft", 50 * (1 - 0.3042 * 0.6), 50),
    ("fresnel spot", 10, 20),  # full spot: 10 and 20 deg (common practice, no source)
    ("fresnel 25/45", 25, 45),  # as written in the scene
])
def test_beam_and_field_angle(tiny, name, beam, field):
    """Half of the intensity is left on the beam angle and a tenth on the field angle, to 2 %."""
    angles = np.radians(np.concatenate([[0], np.linspace(0.35, 1.15, 60) * field / 2]))
    far = THROW if name.startswith("ellipsoidal") else 20.0
    stage, _ = lamp_stage(tiny, LAMPS[name][0], ring_probes(tiny, far, angles))
    candela = tiny.measure(stage, 0.2, most_rounds=100).total * far**2
    for level, target in ((0.5, beam), (0.1, field)):
        assert np.degrees(fall_off(angles, candela, level)) == pytest.approx(target, rel=0.02)


def profile(tiny, record, distance, places):
    """Illuminance along a line across the beam, on a wall square to it. [per lumen]"""
    stage, fixture = lamp_stage(tiny, record, [tiny.probe((distance, y, 0), (-1, 0, 0))
                                               for y in places])
    # Dark meters never reach a relative precision: a fixed number of rounds. The 28 000 paths of
    # three leave at most 0.5 / sqrt(28 000) of the full light, 0.3 %.
    return tiny.measure(stage, 0.001, most_rounds=3).total, fixture.emitters[0].table


def thin_lens_profile(table, distance, places):
    """What a lens whose rays all make the same picture on the plane THROW away gives on a wall.

    A ray from the lens point p through the wall's point x meets the focus plane at
    q = p + (x - p) f / z, and carries the table's light of direction q: to first order in the
    lens' width over the throw, E = mean over the lens of I(q) cos³(q) (f / z)² / f².
    """
    radius = LENS / 2 * np.sqrt((np.arange(40) + 0.5) / 40)
    turn = np.arange(80) * 2 * np.pi / 80
    py = (radius[:, None] * np.cos(turn)).ravel()
    pz = (radius[:, None] * np.sin(turn)).ravel()
    focus, wall = THROW - FACE_GAP, distance - FACE_GAP
    qy = py + (places[:, None] - py) * focus / wall
    qz = pz - pz * focus / wall
    off = np.hypot(qy, qz)
    angle = np.arctan(off / focus)
    light = table.intensity(np.degrees(angle)) * np.cos(angle) ** 3 / focus**2
    return light.mean(axis=1) * (focus / wall) ** 2


@pytest.mark.parametrize(("distance", "blur"), [(THROW, 0.0), (THROW / 2, LENS / 2),
                                                (2 * THROW, LENS)])
def test_focus_of_an_ellipsoidal(tiny, distance, blur):
    """An edge is as sharp as its table on the focus plane and blurs by the lens beyond it.

    The blur of a point is lens · |z - f| / f wide (similar triangles).
    """
    record = light(Ellipsoidal, field=20.0, edge=0.0, lens=LENS, focus=THROW)
    rim = distance * np.tan(np.radians(10.0))
    span = max(LENS * abs(distance / THROW - 1), 0.012)
    places = np.linspace(rim - span, rim + span, 61)
    lit, table = profile(tiny, record, distance, places)
    expected = thin_lens_profile(table, distance, places)
    # 3 % of the full light: a hard edge spans five of the 512 steps that the engine tabulates,
    # and the form is of first order in the lens' width over the throw.
    np.testing.assert_allclose(lit / expected[0], expected / expected[0], atol=0.03)

    def width(values):
        values = values / values[0]
        return np.interp(-0.1, -values, places) - np.interp(-0.9, -values, places)

    sharp = (0.8042 - 0.1958) * 0.01 * rim  # 10 to 90 % of the smooth fall of a hard edge
    if blur == 0:
        assert width(lit) == pytest.approx(sharp, rel=0.1)
    else:
        # 10 to 90 % of an even disc of light across an edge is 0.687 of its width.
        assert width(lit) == pytest.approx(0.687 * blur, rel=0.05)
