"""Numbers that make no sense are refused by name, with the value and what is allowed."""

from datetime import datetime

import numpy as np
import pytest

from previz.physics import (
    blackbody,
    chromatic_adaptation,
    colour_report,
    colourtemp,
    daylight,
    exposure,
    gel,
    haze,
    lamps,
    lens,
    materials,
    meter,
    optics,
    safety,
    skin,
    solar,
    spectra,
    tungsten,
)
from tests.oracles.matter import henyey_greenstein, watts_at_light

REFUSED = {
    "negative power": (lambda: spectra.normalise(np.r_[-1e-9, np.ones(80)]), "finite and 0 or more"),
    "power that is no number": (lambda: spectra.normalise(np.r_[np.ones(80), np.nan]), "be finite"),
    "one spectrum of two dark": (
        lambda: spectra.normalise(np.stack([np.ones(81), np.zeros(81)])), "without visible"),
    "cold body": (lambda: blackbody.radiance(500.0, 0.0), "above 0 K, got 0.0"),
    "no wavelength": (lambda: blackbody.radiance(0.0, 3000.0), "above 0 nm"),
    "adaptation": (
        lambda: chromatic_adaptation.adaptation_matrix((0.3, 0.3), (0.3, 0.3), "none"),
        "one of .*'bradford', 'cat02'.*, got 'none'",
    ),
    "no temperature": (lambda: colourtemp.cct_duv((0.7, 0.29)), "has no colour temperature"),
    "not a colour": (lambda: colourtemp.cct_duv((np.nan, 0.3)), "must be finite"),
    "past blue": (lambda: colourtemp.shifted_kelvin(5600, -200), "past any temperature"),
    "too warm for D": (lambda: daylight.daylight_xy(3200), "4000 to 25000 K, got 3200 K"),
    "no such sky": (lambda: daylight.sky_dome("stormy"), "overcast.*got 'stormy'"),
    "sun down": (lambda: daylight.sky_dome("clear", sun_altitude_deg=-1), "0 to 90 deg up"),
    "sky type": (lambda: daylight.general_sky_luminance(16, 0, 0, 0), "1 to 15, got 16"),
    "sun below": (lambda: daylight.sun_spectrum(-1), "0 to 90 deg high"),
    "negative haze of the air": (lambda: daylight.sun_spectrum(20, -0.1), "0 or more"),
    "no stop": (lambda: exposure.CameraSettings(0.0, 800, 1 / 48), "stop must be above 0"),
    "no iso": (lambda: exposure.CameraSettings(2.0, -1, 1 / 48), "iso must be above 0"),
    "brightening filter": (
        lambda: exposure.CameraSettings(2.0, 800, 1 / 48, -0.3),
        "nd_density must be 0 or more",
    ),
    "no latitude": (lambda: exposure.CameraSettings(2, 800, 0.02, over=0.0), "over must be above 0"),
    "no dark": (lambda: exposure.CameraSettings(2, 800, 0.02, under=np.inf), "under must be above 0"),
    "no tint": (lambda: exposure.CameraSettings(2, 800, 0.02, tint=np.nan), "tint must be"),
    "shutter": (lambda: exposure.shutter_time(400, 24), "up to 360 deg"),
    "frame rate": (lambda: exposure.shutter_time(180, 0), "frames_per_second must be above 0"),
    "lens glass": (lambda: exposure.t_number(2, 1.2), "up to 1, got 1.2"),
    "lens glass back": (lambda: exposure.f_number(2, 0.0), "above 0"),
    "gel name": (lambda: gel.named_gel("double cto"), "no gel 'double cto'; known are: full cto"),
    "gel words": (lambda: gel.named_gel("full of green"), "no gel 'full of green'"),
    "gel density": (lambda: gel.named_gel("nd lots"), "no gel 'nd lots'"),
    "too bright a gel": (lambda: gel.shift_gel(-134, 0.5), r"passes 50% .* most is about 4\d%"),
    "gel without light": (lambda: gel.shift_gel(20, 0.0), "above 0 and up to 1"),
    "too green": (lambda: gel.shift_gel(0, green=0.3), "no gel gives Duv"),
    "grey": (lambda: gel.neutral(1.5), "from 0 to 1, got 1.5"),
    "negative haze": (lambda: haze.beam_transmission(-1.0, 2.0), "0 /m or more, got -1.0"),
    "no visibility": (lambda: haze.density_from_visibility(0.0), "above 0 m"),
    "asymmetry": (lambda: henyey_greenstein(1.0, 1.0), "below 1, got 1.0"),
    "straight into the lamp": (
        lambda: haze.airlight(1.0, 0.1, distance=1.0, angle_deg=0.0), "between 0 and 180 deg"
    ),
    "lamp colour": (lambda: lamps.spectrum_of("led", 900), "1600 to 25000 K, got 900 K"),
    "lamp kind": (lambda: lamps.spectrum_of("candle", 1900), "blackbody, daylight, led"),
    "mix": (lambda: lamps.led_mix(7000), "2700 to 6500 K, not 7000 K"),
    "illuminant": (lambda: lamps.illuminant("F13"), "known are: A, D50"),
    "tint": (lambda: lamps.tinted(np.ones(81), (0.7, 0.29)), "no smooth filter"),
    "macro": (
        lambda: lens.depth_of_field(0.05, f_number=2, circle=1e-5, focus=0.04),
        "0.05 m lens cannot focus at 0.04 m",
    ),
    "macro image": (lambda: lens.image_distance(0.05, 0.05), "cannot focus"),
    "material": (lambda: materials.material("velvet rope"), "known are: white paint"),
    "dark meter": (
        lambda: meter.incident_f_number(-1.0, exposure_index=100, shutter=0.02),
        "illuminance must be finite and 0 lx or more, got -1 lx",
    ),
    "meter setting": (
        lambda: meter.incident_f_number(1.0, exposure_index=0, shutter=0.02),
        "exposure_index must be above 0, got 0",
    ),
    "thin glass": (lambda: optics.pane(1.0, 0.9), "index must be above 1, got 0.9"),
    "no glass": (lambda: optics.pane(1.0, sheets=0), "1 sheet or more"),
    "bright glass": (lambda: optics.pane(1.0, internal=1.1), "from 0 to 1"),
    "mains": (lambda: safety.current(100, 0), "volts above 0"),
    "skin": (lambda: skin.face_reflectance("pale"), "very light, light, medium"),
    "hair": (lambda: skin.hair_reflectance("blue"), "not 'blue'"),
    "light on skin": (lambda: skin.luminance_reflectance(np.ones(81), np.ones(3)), "81 samples"),
    "no zone": (
        lambda: solar.sun_position(datetime(2026, 6, 21), latitude_deg=0, longitude_deg=0),
        "time zone",
    ),
    "off the globe": (
        lambda: solar.sun_position(datetime(2026, 6, 21), latitude_deg=95, longitude_deg=0),
        "latitude -90..90",
    ),
    "no volts": (lambda: tungsten.at_volts(0.0), "above 0"),
    "no light": (lambda: tungsten.cct_at_light(0.0), "above 0"),
    "report": (lambda: colour_report.colour_rendering_index(np.ones(5)), "81 samples"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name):
    """Each raises ValueError whose text says what is wrong and what is allowed."""
    call, message = REFUSED[name]
    with pytest.raises(ValueError, match=message):
        call()


def test_dark_and_empty_cases_give_plain_answers():
    """Zero is an answer where zero makes sense."""
    assert meter.incident_f_number(0.0, exposure_index=100, shutter=0.02) == 0
    assert exposure.stops_from_grey(0.0) == -np.inf
    assert haze.airlight(1000.0, 0.0, distance=5.0, angle_deg=30.0) == 0.0
    assert gel.stack([]) == pytest.approx(np.ones(81))
    assert gel.stack([gel.neutral(0.5), gel.neutral(0.4)]) == pytest.approx(np.full(81, 0.2))
    assert watts_at_light(0.0, 1000) == 0
