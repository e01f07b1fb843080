"""A card in light: what the meter next to it reads, what the camera sees, what the signal is."""

import numpy as np
import pytest

from previz.exposure.camera import expose
from previz.exposure.mix import mix_xyz
from previz.physics.exposure import CameraSettings
from previz.physics.lamps import spectrum_of
from previz.physics.meter import incident_f_number
from tests.oracles.light import signal_luminance

pytestmark = pytest.mark.engine


def card_stage(tiny, reflectance, spectrum=None):
    """A card under a soft front, in a grey room that bounces; meters on it and turned away."""
    more = {} if spectrum is None else {"spectrum": spectrum}
    return tiny.stage(
        tiny.closed_box((-2, -2, -1), (2, 2, 3)),
        tiny.patch(0.6, 0.6, (0, 0, 0), (0, 0, 1), "card", "card"),
        surfaces=[tiny.surface(reflectance=0.4), tiny.surface("card", reflectance)],
        emitters=[tiny.rectangle_lamp(0.5, 0.5, (0.3, 0.2, 2.5))],
        lamps=[tiny.lamp("lamp 0", output=2000, **more)],
        probes=[tiny.probe((0, 0, 0.001)), tiny.probe((0, 0, 1), (0, 0, -1))])


def card_camera(tiny, at=(1.2, -0.9, 1.6)):
    """Sees 10 cm of the middle of the card."""
    return tiny.camera(at, (0, 0, 0), tan_half=(0.02, 0.02))


@pytest.mark.parametrize("reflectance", [0.18, 0.9])
def test_grey_card_and_meter_agree(tiny, reflectance):
    """L = rho E / pi: 1000 lx give 57.296 cd/m² on 18 %, 286.48 on 90 % (check value 1.16)."""
    stage = card_stage(tiny, reflectance)
    got = tiny.measure(stage)
    frames = tiny.picture(stage, card_camera(tiny), 16, 16, 512)
    luminance = 2000 * tiny.luminance(frames)[0].mean()
    error = 2000 * np.sqrt(frames.variance[0].sum()) / 256
    at_1000_lx = {0.18: 57.296, 0.9: 286.48}[reflectance]
    tiny.agree(luminance, error + got.total_error[0] * luminance / got.total[0],
               at_1000_lx * got.total[0] / 1000)
    # Both parts count: the room bounces a good deal of what the card gets.
    direct, bounced = 2000 * got.each[0, 0]
    assert bounced > 0.1 * direct
    assert got.total[0] == pytest.approx(direct + bounced)


def test_a_meter_turned_away_reads_only_what_bounced(tiny):
    """The direct and the bounced part of a meter add up; one that sees no lamp has no direct."""
    stage = card_stage(tiny, 0.18)
    got = tiny.measure(stage)
    assert got.each[1, 0, 0] == 0
    assert got.each[1, 0, 1] > 0
    np.testing.assert_allclose(got.total, 2000 * got.each[:, 0].sum(axis=1))


def test_18_percent_at_the_metered_stop_is_mid_grey(tiny):
    """A card in metered light comes out at 0.18 of the signal, in all three channels."""
    # signal = pi L t S / (250 T²) and N² / t = E S / 250 (ISO 2720:1974; check value 3.1), L = 0.18 E/pi.
    stage = card_stage(tiny, 0.18, spectrum_of("daylight", 5600.0))
    meter = tiny.measure(stage, 0.001).total[0]
    lit = stage.lamps[0].__class__(**{**vars(stage.lamps[0]), "output": 2000 * 1000 / meter})
    shutter, iso = 1 / 48, 800
    stop = float(incident_f_number(1000.0, exposure_index=iso, shutter=shutter))
    # At 1000 lx, ISO 800, 1/48 s and C = 250 that is T8.16 (check value 9.3).
    assert stop == pytest.approx(8.16, abs=0.01)
    settings = CameraSettings(stop=stop, iso=iso, shutter_s=shutter, white_balance=5600)
    frames = tiny.picture(stage, card_camera(tiny), 16, 16, 512, bands=12)
    xyz = mix_xyz(frames, [lit])
    assert signal_luminance(xyz, settings).mean() == pytest.approx(0.18, rel=0.01)
    np.testing.assert_allclose(expose(xyz, settings).mean(axis=(1, 2)), 0.18, rtol=0.01)


def semicircle_width():
    """2 to 98 % width of an even disc's shadow edge, as a share of its whole width."""
    # The lit part of a disc cut at x (in radii): 1/2 + (x sqrt(1 - x²) + asin x) / pi.
    x = np.linspace(0, 1, 100_001)
    lit = 0.5 + (x * np.sqrt(1 - x**2) + np.arcsin(x)) / np.pi
    return float(np.interp(0.98, lit, x))


def width_2_to_98(places, lit):
    return np.interp(0.98, lit, places) - np.interp(0.02, lit, places)


def test_penumbra_of_a_disc(tiny):
    """0.5 m of lamp, 3 m from a flag that is 1 m from the wall: 0.1667 m soft (check value 1.22)."""
    # Similar triangles give the whole width; its 2 to 98 % part follows from the disc's outline.
    places = np.linspace(-0.1, 0.1, 41)
    probes = [tiny.probe((x, 0, 0)) for x in places]
    lamp = tiny.disc_lamp(0.25, (0, 0, 4), sides=96)
    flag = tiny.patch(10, 10, (-5, 0, 1), (0, 0, 1))
    shaded = tiny.measure(tiny.stage(flag, emitters=[lamp], probes=probes,
                                     surfaces=[tiny.surface(reflectance=0)]), 0.1, most_rounds=8)
    # All of the disc is seen at nearly one angle: every path says the same to 1 %.
    bare = tiny.measure(tiny.stage(emitters=[lamp], probes=probes), 0.2)
    lit = shaded.total / bare.total
    assert np.all(np.diff(lit) > -0.02)
    assert width_2_to_98(places, lit) == pytest.approx(0.16667 * semicircle_width(), rel=0.03)


def test_penumbra_of_the_sun(tiny):
    """The sun's edge is 9.30 mm soft for each metre from flag to wall (check value 1.22)."""
    places = np.linspace(-0.012, 0.012, 41)
    stage = tiny.stage(tiny.patch(10, 10, (-5, 0, 2), (0, 0, 1)), sun=tiny.sun((0, 0, 1)),
                       surfaces=[tiny.surface(reflectance=0)],
                       probes=[tiny.probe((x, 0, 0)) for x in places])
    lit = tiny.measure(stage, 0.1, most_rounds=8).total
    assert width_2_to_98(places, lit) == pytest.approx(2 * 0.0093 * semicircle_width(), rel=0.03)


def test_light_through_a_sheet(tiny):
    """Behind a cloth that passes tau of the light, L = tau E / pi, the same from every angle."""
    stage = tiny.stage(
        tiny.patch(2, 2, (0, 0, 0), (0, 0, 1), "cloth"), emitters=[tiny.disc_lamp(0.1, (0, 0, 3))],
        surfaces=[tiny.surface("cloth", 0.5, transmission=0.35)],
        probes=[tiny.probe((0, 0, 0.001))])
    got = tiny.measure(stage)
    directions = np.array([[0, 0, -1], [0.6, 0, -0.8], [0, 0.96, -0.28], [0, 0, 1]], float)
    seen, error = tiny.radiance(stage, directions * 1.5, -directions)
    tiny.agree(seen[:, 0, 0], error[:, 0, 0],
               got.total[0] / np.pi * np.array([0.35, 0.35, 0.35, 0.5]))
