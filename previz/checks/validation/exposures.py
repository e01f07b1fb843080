"""Exposure, video levels and lenses."""

from __future__ import annotations

import numpy as np

from previz.checks.validation.records import Group
from previz.physics import exposure, lens, meter, transfer
from previz.physics.exposure import CameraSettings
from previz.stage.views import frame_tangents

EXPOSURE = Group("Exposure")
LEVELS = Group("Video levels")
LENS = Group("Lens")
ISO_2720 = "ISO 2720:1974, as quoted by two meter texts"

EV = {-3: (0.3125, 0.015625), 0: (2.5, 0.125), 4: (40, 2), 8: (640, 32), 10: (2560, 128),
      12: (10240, 512), 15: (81920, 4096)}
CARDS = {0.05: (18.65, 227), 0.09: (27.29, 303), 0.18: (40.90, 422), 0.36: (59.50, 585),
         0.72: (84.90, 808), 0.90: (94.91, 895), 1.00: (100.0, 940)}
LINE_UP = {0.18: (26, 38, 38), 0.83: (162, 56, 71), 0.90: (179, 57, 73), 1.00: (203, 58, 75)}
DEPTHS = {(50, 2.8, 3.0): (35.76, 2.771, 3.270), (35, 2.8, 2.5): (17.54, 2.191, 2.910),
          (85, 2.0, 3.0): (144.6, 2.941, 3.062), (25, 5.6, 2.0): (4.489, 1.387, 3.587)}
ANGLES = {(24.89, 25, 1): 52.93, (24.89, 35, 1): 39.15, (24.89, 50, 1): 27.95,
          (24.89, 85, 1): 16.66, (36, 35, 1): 54.43, (22, 40, 2): 57.62, (24.89, 40, 1.8): 58.50}


def checks():
    """Yield the checks of exposure."""
    for ev, (lux, nits) in EV.items():
        yield EXPOSURE.near(f"EV at ISO 100 of {lux:g} lx and of {nits:g} cd/m²",
                            f"{ISO_2720}; C 250, K 12.5", (ev, ev),
                            (meter.ev_from_illuminance(lux), meter.ev_from_luminance(nits)), 1e-6,
                            "EV")
    stops = exposure.full_stop_series(1, 6)
    for iso, first in ((100, 240.0), (800, 30.0)):
        yield EXPOSURE.share(f"light for T1.4 to T8, ISO {iso}, 180° at 24 frames/s",
                             f"{ISO_2720}; C 250", first * 2.0 ** np.arange(6),
                             meter.illuminance_for_stop(stops, exposure_index=iso,
                                                        shutter=1 / 48), 1e-6, "lx")
    yield EXPOSURE.near("card on which spot and incident meter agree", ISO_2720, 0.1571,
                        meter.agreeing_reflectance(), 5e-5)
    spot, flat = meter.ev_from_luminance(180 / np.pi), meter.ev_from_illuminance(1000.0)
    yield EXPOSURE.near("18 % card by spot over incident", ISO_2720, 0.1965, spot - flat, 5e-5,
                        "stops")
    settings = CameraSettings(2.8, 800, 1 / 48)
    card = 0.18 * 250 * 2.8**2 * 48 / 800 / np.pi
    yield EXPOSURE.near("signal of an 18 % card in the light that meters at the stop",
                        "design of the program: E = C T² / (t S), L = ρ E / π", 0.18,
                        exposure.signal_from_luminance(card, settings), 1e-9)
    for angle, fps, seconds in ((180, 24, 1 / 48), (172.8, 24, 1 / 50), (90, 24, 1 / 96),
                                (180, 25, 1 / 50)):
        yield EXPOSURE.share(f"shutter of {angle:g}° at {fps} frames/s", "cinematography texts",
                             seconds, exposure.shutter_time(angle, fps), 1e-9, "s")
    for number, tau, stop in ((2, 0.75, 2.309), (4, 0.5, 5.657), (2, 0.8, 2.236)):
        yield EXPOSURE.near(f"T-stop of f/{number:g} glass that passes {tau:g}",
                            "encyclopaedia and photographic dictionary", stop,
                            exposure.t_number(number, tau), 5e-4, "")
    for density, loss in ((0.3, 0.997), (0.6, 1.993), (1.2, 3.986), (2.1, 6.976)):
        yield EXPOSURE.near(f"loss of ND {density:g}", "definition of density", loss,
                            exposure.density_stops(density), 5.1e-4, "stops")
    yield EXPOSURE.near("true full stops near 2.8, 5.6 and 11", "ISO 517 (from memory)",
                        (2.8284, 5.6569, 11.3137), exposure.full_stop_series()[[3, 5, 7]], 5e-5)
    yield EXPOSURE.near("footcandle and footlambert", "the international foot",
                        (10.763910, 3.426259),
                        (meter.LUX_PER_FOOTCANDLE, meter.NITS_PER_FOOTLAMBERT), 5e-7,
                        "lx, cd/m²")
    yield EXPOSURE.near("saturating luminance over 2^EV", "ISO 12232, as quoted in public sources",
                        1.2, meter.saturation_luminance(0.0), 1e-9, "cd/m²")
    for key, fill, alone, both in ((200, 100, 2, 3), (800, 200, 4, 5)):
        yield EXPOSURE.near(f"key alone {key} and fill {fill}: key alone : fill, and lit : shadow",
                            "two versions of an encyclopaedia's article", (alone, both),
                            (meter.key_to_fill(key, fill), meter.lighting_ratio(key, fill)), 1e-9)


def level_checks():
    """Yield the checks of video levels."""
    for card, (percent, code) in CARDS.items():
        signal = transfer.bt709_signal(card)
        yield LEVELS.near(f"BT.709 signal of a {100 * card:g} % card",
                          "ITU-R BT.709-6; by colour-science 0.4.7", percent, 100 * signal,
                          0.0051, "%")
        yield LEVELS.near(f"10-bit code of a {100 * card:g} % card", "ITU-R BT.709-6, item 4.6",
                          code, transfer.narrow_code(signal), 0)
    yield LEVELS.near("BT.1886 light of an 18 % card", "ITU-R BT.1886", 11.7,
                      100 * transfer.bt1886_light(transfer.bt709_signal(0.18)), 0.051, "%")
    yield LEVELS.near("sRGB signal of an 18 % card", "IEC 61966-2-1", 46.14,
                      100 * transfer.srgb_signal(0.18), 0.0051, "%")
    for card, (nits, pq, hlg) in LINE_UP.items():
        found = transfer.hdr_lineup(card)
        source = "Report ITU-R BT.2408, table 1 (rows as quoted in public tests)"
        yield LEVELS.share(f"HDR line-up of a {100 * card:g} % card, light", source, nits,
                           found["luminance"], 0.01, "cd/m²")
        yield LEVELS.near(f"HDR line-up of a {100 * card:g} % card, PQ and HLG", source,
                          (pq, hlg), (100 * found["pq"], 100 * found["hlg"]), 0.5, "%")


def lens_checks():
    """Yield the checks of lenses."""
    source = "Gaussian thin lens, 1/f = 1/s + 1/s', and its blur disc; derived"
    for (focal, number, focus), (reach, near, far) in DEPTHS.items():
        given = {"f_number": number, "circle": 25e-6}
        said = f"{focal} mm f/{number:g}, circle 0.025 mm"
        yield LENS.share(f"hyperfocal distance, {said}", source, reach,
                         lens.hyperfocal(focal / 1000, **given), 4e-4, "m")
        yield LENS.near(f"near and far limit at {focus:g} m, {said}", source, (near, far),
                        lens.depth_of_field(focal / 1000, focus=focus, **given), 1e-3, "m")
    for (width, focal, squeeze), angle in ANGLES.items():
        # The frame is as wide as the sensor here, so the stage's camera has the whole angle.
        across, _ = frame_tangents((width / 1000, width / 2000), focal / 1000, 2 * squeeze, squeeze)
        yield LENS.near(f"horizontal angle, {width:g} mm by {focal} mm"
                        + (f", squeeze {squeeze:g}" if squeeze != 1 else ""), "geometry", angle,
                        2 * np.degrees(np.arctan(across)), 0.0051, "°")
    yield LENS.near("50 mm at 2 m, image distance", "thin lens", 51.282,
                    1000 * lens.image_distance(0.05, 2.0), 5e-4, "mm")
    for angle, share in ((10, 0.9406), (30, 0.5625), (45, 0.25)):
        yield LENS.near(f"cos⁴ of {angle}°", "photographic dictionary", share,
                        lens.cos_fourth(angle), 5.1e-5)
