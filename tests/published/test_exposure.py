"""Exposure arithmetic.

Sources: ISO 2720:1974 constants and equations as quoted by a public docstring and two meter
texts; ISO 12232 as quoted in public sources; the international foot; ISO 517 (from memory).
"""

import numpy as np
import pytest

from previz.physics import exposure, meter
from previz.physics.exposure import CameraSettings

EV_TABLE = [
    (0, 2.5, 0.125), (4, 40, 2), (6, 160, 8), (8, 640, 32), (10, 2560, 128), (12, 10240, 512),
    (14, 40960, 2048), (15, 81920, 4096), (16, 163840, 8192), (-3, 0.3125, 0.015625),
]  # fmt: skip


@pytest.mark.parametrize(("ev", "lux", "nits"), EV_TABLE)
def test_ev_table(ev, lux, nits):
    """EV at ISO 100 against lux (C 250) and cd/m² (K 12.5); 2.5 lx is EV 0."""
    assert meter.ev_from_illuminance(lux) == pytest.approx(ev, abs=1e-9)
    assert meter.ev_from_luminance(nits) == pytest.approx(ev, abs=1e-9)
    stop = meter.incident_f_number(lux, exposure_index=100, shutter=1 / 48)
    # EV = log2(N² / t).
    assert np.log2(stop**2 * 48) == pytest.approx(ev, abs=1e-9)


def test_incident_meter_worked_example():
    """2560 lx at EI 100 and 1/48 s reads f/4.62."""
    # ISO 2720: sqrt(2560 · 100 / 48 / 250).
    found = meter.incident_f_number(2560.0, exposure_index=100, shutter=1 / 48)
    assert found == pytest.approx(4.62, abs=0.005)


def test_constants_lie_in_the_standards_ranges():
    """K 10.6 to 13.4, C 240 to 400 flat and 320 to 540 domed."""
    # ISO 2720:1974.
    assert 10.6 <= exposure.REFLECTED_CONSTANT <= 13.4
    assert exposure.REFLECTED_CONSTANT == 12.5
    assert exposure.INCIDENT_CONSTANT == 250
    assert 320 <= exposure.DOME_CONSTANT <= 540


def test_grey_card_on_which_meters_agree():
    """Pi K / C is 15.71 %, or 17.59 % with K = 14; an 18 % card differs by 0.1965 stop."""
    assert meter.agreeing_reflectance() == pytest.approx(0.1571, abs=5e-5)
    assert meter.agreeing_reflectance(14.0) == pytest.approx(0.1759, abs=5e-5)
    incident = meter.ev_from_illuminance(1000.0)
    spot = meter.ev_from_luminance(0.18 * 1000 / np.pi)
    assert incident == pytest.approx(8.644, abs=5e-4)
    assert spot == pytest.approx(8.840, abs=5e-4)
    assert spot - incident == pytest.approx(0.1965, abs=5e-5)
    assert np.log2(340 / 250) == pytest.approx(0.4436, abs=5e-5)


def test_sunny_sixteen():
    """f/16 at one over the ISO is EV 14.644: 3200 cd/m², 64 000 lx flat, 87 040 domed at 340."""
    ev = np.log2(16.0**2 * 100)
    assert ev == pytest.approx(14.644, abs=5e-4)
    assert meter.ev_from_luminance(3200) == pytest.approx(ev, abs=1e-9)
    assert meter.ev_from_illuminance(64000) == pytest.approx(ev, abs=1e-9)
    assert meter.ev_from_illuminance(81920, 320) == pytest.approx(ev, abs=1e-9)
    assert meter.ev_from_illuminance(87040, 340) == pytest.approx(ev, abs=1e-9)


@pytest.mark.parametrize(
    ("iso", "lux"),
    [(100, (240, 480, 960, 1920, 3840, 7680)), (800, (30, 60, 120, 240, 480, 960))],
)
def test_lux_for_a_stop_at_24_frames(iso, lux):
    """From T1.4 to T8 at 180 degrees and 24 frames: doubling from 240 lx at ISO 100."""
    # ISO 2720 with C = 250, true stops sqrt(2)^n.
    stops = exposure.full_stop_series(1, 6)
    found = meter.illuminance_for_stop(stops, exposure_index=iso, shutter=1 / 48)
    assert found == pytest.approx(lux, rel=1e-9)


def test_hundred_footcandle_rule():
    """The old rule, 100 fc for T2.8 at ISO 100, lies within a quarter stop."""
    # ASC Manual incident table (from memory): matches C of about 280.
    found = meter.illuminance_for_stop(np.sqrt(8), exposure_index=100, shutter=1 / 48)
    assert found / meter.LUX_PER_FOOTCANDLE == pytest.approx(89.2, abs=0.05)
    assert abs(np.log2(100 * meter.LUX_PER_FOOTCANDLE / found)) < 0.25


@pytest.mark.parametrize(
    ("angle", "fps", "seconds", "stops"),
    [(180, 24, 1 / 48, 0), (172.8, 24, 1 / 50, -0.059), (144, 24, 1 / 60, -0.322),
     (90, 24, 1 / 96, -1), (45, 24, 1 / 192, -2), (180, 25, 1 / 50, -0.059)],
)  # fmt: skip
def test_shutter_angle(angle, fps, seconds, stops):
    """Exposure time is angle over 360 frames."""
    # Cinematography texts.
    found = exposure.shutter_time(angle, fps)
    assert found == pytest.approx(seconds, rel=1e-12)
    assert np.log2(found * 48) == pytest.approx(stops, abs=5e-4)


@pytest.mark.parametrize(
    ("number", "transmission", "stop"), [(2, 0.75, 2.309), (4, 0.5, 5.66), (2, 0.8, 2.236)]
)
def test_t_stop(number, transmission, stop):
    """T is N over the root of the transmission, and back."""
    # 'T-stop' encyclopaedia entry; a photographic dictionary.
    assert exposure.t_number(number, transmission) == pytest.approx(stop, abs=5e-3)
    back = exposure.f_number(exposure.t_number(number, transmission), transmission)
    assert back == pytest.approx(number, rel=1e-12)


@pytest.mark.parametrize(
    ("density", "stops"),
    [(0.3, 0.997), (0.6, 1.993), (0.9, 2.990), (1.2, 3.986), (1.8, 5.979), (2.1, 6.976)],
)
def test_neutral_density(density, stops):
    """A density of 0.3 costs 0.997 stop, and its transmission says the same."""
    assert exposure.density_stops(density) == pytest.approx(stops, abs=5.1e-4)
    assert -np.log2(exposure.density_transmission(density)) == pytest.approx(stops, abs=5.1e-4)


def test_saturation():
    """A sensor saturates at 1.2 · 2^EV, 7.8 times the reference exposure."""
    # ISO 12232: H_sat = 78 / S, H_ref = 10 / S, q = 0.65; q = pi/4 · 0.9 · 0.98 · cos⁴ 10°.
    assert meter.saturation_luminance(0.0) == pytest.approx(1.2, rel=1e-12)
    assert meter.saturation_luminance(3.0) == pytest.approx(9.6, rel=1e-12)
    q = np.pi / 4 * 0.9 * 0.98 * np.cos(np.radians(10)) ** 4
    assert q == pytest.approx(0.6516, abs=5e-5)
    # An 18 % reference at 12.8 % of the clip: the clip lies at 141 %.
    assert pytest.approx(1.404, abs=5e-4) == 0.18 / (10 / 78)


def test_feet():
    """1 fc = 10.763910 lx and 1 fL = 3.426259 cd/m²."""
    assert pytest.approx(10.763910, abs=5e-7) == meter.LUX_PER_FOOTCANDLE
    assert pytest.approx(3.426259, abs=5e-7) == meter.NITS_PER_FOOTLAMBERT


def test_stop_series():
    """True stops are 2.8284, 5.6569, 11.3137; the marked 11 is 0.081 stop off."""
    # ISO 517 (from memory).
    series = exposure.full_stop_series()
    assert series[[3, 5, 7]] == pytest.approx([2.8284, 5.6569, 11.3137], abs=5e-5)
    assert series[0] == 1
    assert 2 * np.log2(series[7] / 11) == pytest.approx(0.081, abs=5e-4)
    assert 2 * np.log2(series[5] / 5.6) == pytest.approx(0.029, abs=5e-4)


def test_grey_card_at_its_metered_stop_is_mid_grey():
    """An 18 % card in light metered at the set stop gives a signal of 0.18."""
    for stop, iso, shutter, density in ((2.0, 800, 1 / 48, 0.0), (5.6, 320, 1 / 200, 0.6)):
        settings = CameraSettings(stop, iso, shutter, density)
        open_stop = stop / np.sqrt(10.0**-density)
        lux = meter.illuminance_for_stop(open_stop, exposure_index=iso, shutter=shutter)
        card = 0.18 * lux / np.pi
        signal = exposure.signal_from_luminance(card, settings)
        assert signal == pytest.approx(0.18, rel=1e-12)
        assert exposure.stops_from_grey(signal) == pytest.approx(0.0, abs=1e-12)
        assert exposure.luminance_from_signal(signal, settings) == pytest.approx(card, rel=1e-12)
        # The same by hand: pi L t S tau / (C T²).
        by_hand = np.pi * card * shutter * iso * 10**-density / (250 * stop**2)
        assert signal == pytest.approx(by_hand, rel=1e-12)


def test_moon_and_sun():
    """A full moon's 0.25 lx is EV -3.3, 18.8 stops under a bright sun of 111 klx."""
    # 'Orders of magnitude (illuminance)'; a rendering course's table: 444 000 to 1.
    assert meter.ev_from_illuminance(0.25) == pytest.approx(-3.3, abs=0.05)
    assert np.log2(444_000 * 0.25 / 0.25) == pytest.approx(18.8, abs=0.05)


def test_lux_with_the_spot_constant_is_four_stops_wrong():
    """C = 12.5 with lux would be 4.32 stops off: the constants are distinguished."""
    ratio = exposure.INCIDENT_CONSTANT / exposure.REFLECTED_CONSTANT
    assert np.log2(ratio) == pytest.approx(4.32, abs=5e-3)
