"""One of each sheet, of readings made by arithmetic: what tests of sheets draw."""

import importlib.util
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np

from previz.deliver import (
    compare_sheet,
    haze_sheet,
    match_sheet,
    mood_sheet,
    portrait_sheet,
    read_sheet,
    rig_sheet,
    scopes,
    sheet,
    study_sheet,
    times_sheet,
)
from previz.deliver.map import exposure_map
from previz.deliver.plates import Plate
from previz.deliver.reminders import words_alone
from previz.exposure import display
from previz.exposure.camera import expose
from previz.exposure.comparing import match
from previz.exposure.comparing import measures as comparing
from previz.exposure.comparing.coverage import GLASS, IN_FRAME, NEAR_EDGE, Coverage, Sighting
from previz.exposure.comparing.day import Hour, outside_lamp
from previz.exposure.comparing.difference import difference, difference_index
from previz.exposure.comparing.eyes import EyeLight
from previz.exposure.comparing.haze import Rung
from previz.exposure.comparing.wrap import Ring, Step, ring_angles
from previz.exposure.faces import FaceLight
from previz.exposure.meter_report import CameraNote
from previz.exposure.metering import Measured
from previz.exposure.mix import mix_xyz
from previz.physics.exposure import CameraSettings
from previz.physics.safety import NO_SOURCE, Caution
from tests.oracles.light import signal_luminance

CAUTIONS = (
    Caution("heat", "heat near cloth and boards", "Heat: key is 0.4 m from silk, up to 7.8 kW/m² there, more "
            "than full sun; 4.3 set wood alight within hours", "Heat.", "Babrauskas 2001", 1,
            ("key", "silk"), 7800.0),
    Caution("heat", "heat near people", "Heat: desk lamp is 0.2 m from clerk", "Heat of a bulb.", NO_SOURCE,
            1, ("desk lamp", "clerk"), 40.0),
    Caution("mains", "the load on the mains", "Mains: 12400 W, 59.9 A at 230 V, 5 of 8 lamps guessed from "
            "their lumens: at least 5 circuits; a 16 A circuit holds 12.8 A in continuous use", "Mains.",
            "NEC 210.20(A)", 2, ("mains",), 12400.0),
    Caution("overhead", "things hung overhead", "Overhead: key, dusk through the window, lever rim and 4 "
            "more, 240 kg stated: rated points, a second suspension on each, a licensed rigger", "Overhead.",
            "IEC 60598-2-17, 17.6.6", 3, ("key",)),
    Caution("outdoors", "mains outside", "Outside: dusk through the window: an RCD (GFCI) of 30 mA, joints "
            "dry and off the ground, stop in rain", "Outside.", "IEC 60364-4-41, 411.3.3, from memory", 4,
            ("dusk",)),
    Caution("haze", "haze in the air", "Haze, about 4 to 13 mg/m³: tell people, those with asthma first; "
            "ventilate; ask before smoke detectors trip", "Haze.", "ANSI E1.5, 29 CFR 1910.1000", 5,
            ("haze",)),
    Caution("note", "things to check", "Check: nothing is above glow that its cord could hang from", "Check.",
            NO_SOURCE, 99),
)
"""More than three lines hold."""

LONG = "the version with the second lamp behind the partition, dimmed, and half blue on the window"
SETTINGS = CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=5600)
"""18 % grey at 117.6 lx: 250 · 2.8² · 48 / 800 (ISO 2720:1974, C = 250)."""


@cache
def _synthetic():
    path = Path(__file__).parents[1] / "exposure" / "synthetic.py"
    spec = importlib.util.spec_from_file_location("samples_synthetic", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@cache
def picture(rows=54, columns=96, levels=(1.0, 1.0)):
    """The synthetic scene, mixed and shown."""
    frames = _synthetic().frames(rows, columns)
    xyz = mix_xyz(frames, _synthetic().lamps(levels))
    linear = expose(xyz, SETTINGS)
    return SimpleNamespace(xyz=xyz, linear=linear, signal=signal_luminance(xyz, SETTINGS),
                           still=display.show_8bit(linear), frames=frames)


def measures(option="", camera="A", lit=1000.0, **more):
    """What one camera's frame of one option measures; the face is 5 : 1 at 1000 lx."""
    face = FaceLight("clerk", "left", Measured(lit, 9), Measured(200.0, 2), 3200.0, 0.002)
    key = comparing.KeySource(("key",), "card", 0.9, 33.4, 31.0, -48.0, 30.0, 40.0, 0.036, 0.06)
    found = comparing.ShotMeasures(
        option, camera, SETTINGS, face, key, comparing.Area("back wall", -1.83),
        comparing.Area("desk lamp", 4.21), comparing.Area("coat", -5.0),
        comparing.Spill("back wall", -2.0, 0.61), (EyeLight("card", 1.0, 4.0, 0.0021, 11),),
        comparing.Load(1240.0, 5.39, 230.0, ("key",), 0.81))
    return replace(found, **more)


def comparison(options=2, cameras=1, names=None, size=(45, 80)):
    """A comparison of so many options and cameras."""
    shown, base = {}, None
    names = names or [f"option {i}" for i in range(options)]
    for number, option in enumerate(names):
        made = picture(*size, (1.0, 1.0 + number))
        base = made.signal if base is None else base
        for camera in "ABCDE"[:cameras]:
            coverage = Coverage(option, camera, "clerk", (
                Sighting("card", "board", IN_FRAME, 0.021, False, "left"),
                Sighting("lever lamp", "lamp", IN_FRAME, 0.004, True, "right"),
                Sighting("camera B", "camera", NEAR_EDGE, 0.0, False, "right")))
            shown[option, camera] = compare_sheet.Shown(
                measures(option, camera), made.still,
                exposure_map(made.signal, made.frames.names_index),
                None if number == 0 else difference_index(difference(made.signal, base)),
                coverage)
    return compare_sheet.Comparison("Signal cabin", tuple(names), tuple("ABCDE"[:cameras]), shown,
                                    {}, CAUTIONS)


def comparison_blocks(setting, *, size=(45, 80), **more):
    """The comparison sheet."""
    return compare_sheet.comparison_blocks(comparison(size=size, **more), setting)


def step(kind, size, distance, loss):
    """One use of a lamp."""
    angles = ring_angles(24)
    lux = 1000 * 2.0**loss * (0.05 + np.maximum(np.cos(np.radians(angles)), 0))
    return Step(kind, size, distance, Ring(angles, lux), loss, 30 * size / distance,
                30 * size / distance, 0.02 * size, 60.0, 85.0, -2.0, 0.4)


def steps():
    """A lamp direct, through frames and off boards."""
    return [step("direct", 0.2, 4.0, 0.0),
            *(step(kind, size, distance, -2.0 - distance + size) for kind in ("frame", "board")
              for distance in (1.0, 2.0) for size in (0.6, 1.2, 2.4))]


NOTE = CameraNote("A", SETTINGS)


def study(made, camera=NOTE):
    """A study of one lamp."""
    return SimpleNamespace(title="Signal cabin", option="bounce", lamp="key", kind="ellipsoidal",
                           figure="clerk", steps=tuple(made), left_out=("board 9 m left out: no",),
                           spill="back wall", throw=4.0, camera=camera)


def study_blocks(setting, *, size=(54, 96)):
    """The study's sheet."""
    made = steps()
    examples = [Plate([[picture(*size).still]], made[k].name, "this lamp alone, exposed for the face")
                for k in (0, 3, 9)]
    return study_sheet.study_blocks(study(made), examples, setting, CAUTIONS)


def shots(size=(54, 96), lit=2000.0):
    """Two shots that are to cut."""
    made = []
    for name, level in (("overcast", 1000.0), ("low sun", lit)):
        shown = picture(*size)
        made.append(SimpleNamespace(side=match.Side(name, measures(lit=level), 2.0, -1.0),
                                    title="Engine shed", still=shown.still, signal=shown.signal,
                                    things=shown.frames.names_index, face=(-0.25, 0.1)))
    return made


def points(pair):
    """What is compared between two shots."""
    gap = match.differences(pair[0].side, pair[1].side)["face"]
    return [match.Point("face", "lit side", "+3.1", "+4.1", gap, 0.5, "close low sun"),
            match.Point("sky", "sky", "not in the frame", "not in the frame", None, 1.0),
            match.Point("mired", "colour", "3200 K", "3200 K", -0.2, 15.0),
            match.Point("direction", "key direction", "48° left", "48° left", 0.0, 30.0)]


def match_blocks(setting, *, size=(54, 96)):
    """The match's sheet."""
    pair = shots(size)
    compared = points(pair)
    return match_sheet.match_blocks(pair, compared, match.verdict(compared), setting,
                                    CAUTIONS)


def hours(size=(54, 96)):
    """Three times of a day."""
    made = []
    for number, (label, sun) in enumerate((("08:00", 900.0), ("12:00", 80.0), ("20:00", 0.0))):
        lamp = outside_lamp("great door", 60e3, 8.0, 4.0) if sun else None
        made.append(Hour(label, 8.0 + 4 * number, 20.0 if sun else -4.0, 100.0 + 60 * number,
                         measures(), picture(*size).still, sun, 90.0, 10.0, lamp))
    return made


def times_blocks(setting, *, size=(54, 96)):
    """A day's sheet."""
    return times_sheet.times_blocks(hours(size), setting, title="Engine shed",
                                    subject="2026-09-22, camera A, on clerk", distance=8.0, least=1.0,
                                    cautions=CAUTIONS)


def ladder(count=4, size=(54, 96)):
    """A scene at several densities of its haze, from none on."""
    still = picture(*size).still
    air = [np.full_like(still, 8 * k) for k in range(count)]
    made = tuple(haze_sheet.Step(k / 2, "without haze" if k == 0 else f"{k / 2:g} times", 0.03 * k,
                                 k == 3, still, air[k],
                                 Rung(0.5, -1.5 + 0.2 * k, 2.0 - 0.2 * k, 0.1, -5.0 + k,
                                      -np.inf if k == 0 else -6.0 + k)) for k in range(count))
    return haze_sheet.Ladder("Engine shed", "smoke", "A", "fitter", SETTINGS, made,
                             CAUTIONS, "back wall")


def ladder_blocks(setting, *, size=(54, 96), count=4):
    """The haze ladder's sheet."""
    return haze_sheet.ladder_blocks(ladder(count, size), setting)


FRAMES = [("Last light", 120), ("The <lamp> & \"he\"", 60), ("Low sun", 200)]


def mood_frames(size=(60, 143)):
    """Three frames of one grey each."""
    return [mood_sheet.MoodFrame(title, np.full((*size, 3), level, np.uint8))
            for title, level in FRAMES]


def mood_blocks(setting):
    """Mood frames as a sheet."""
    return mood_sheet.mood_blocks(mood_frames(), setting, title="The depot",
                                  subtitle="For the director", care=words_alone(CAUTIONS))


def spotted(name, where=IN_FRAME, *, mask, box=(0.2, 0.3, 0.4, 0.5), **more):
    """One thing of the rig, as lines of sight found it."""
    return SimpleNamespace(sighting=Sighting(name, "lamp", where, float(mask.mean()), box=box, **more),
                           mask=mask)


def rig_blocks(setting, *, size=(90, 160)):
    """The rig in a picture."""
    still = picture(*size).still
    here, there = np.zeros((45, 80), bool), np.zeros((45, 80), bool)
    here[10:20, 10:30], there[30:40, 60:70] = True, True
    things = [spotted("bulb", mask=here, on_purpose=True, side="upper left",
                      box=(10 / 80, 10 / 45, 30 / 80, 20 / 45)),
              spotted("key", mask=there, side="lower right", within="window", by=GLASS, lift=1.25,
                      box=(60 / 80, 30 / 45, 70 / 80, 40 / 45))]
    return rig_sheet.rig_blocks(still, things, setting, title="Signal cabin", subject="camera A",
                                cautions=CAUTIONS)


def scopes_blocks(setting, *, size=(54, 96)):
    """A still with its scopes."""
    return scopes.scopes_blocks(picture(*size), SETTINGS, setting, title="Signal cabin",
                                subject="camera A")


FACE = FaceLight("clerk", "left", Measured(310.0, 2.0), Measured(42.0, 0.4))


def sheet_option(name, levels=(1.0, 1.0), *, size=(90, 160), **change):
    """One option of a camera."""
    made = picture(*size, levels)
    option = sheet.SheetOption(
        name=name, note="two boxes off, the window in half blue", still=made.still,
        chart=exposure_map(made.signal, made.frames.names_index), settings=SETTINGS,
        face=FACE, spill=Measured(31.0, 0.3))
    return replace(option, **change)


def sheet_blocks(setting, *, size=(90, 160), count=2):
    """A camera's options."""
    options = [sheet_option(f"option {i}", (1.0, 1.0 + i), size=size) for i in range(count)]
    return sheet.sheet_blocks(options, setting, title="Signal cabin", subject="Camera A", cautions=CAUTIONS)


PLACEMENTS = ("frontal", "45° high", "side", "three-quarter back", "under", "overhead")


def portrait_row(name, words="a lens of 12 cm at 2 m", names=PLACEMENTS):
    """One head under all placements: 235.2 lx is one stop over the working light, 14.7 lx three under."""
    face = FaceLight("subject", "right", Measured(235.2, 2.0), Measured(14.7, 0.2))
    cells = tuple(
        portrait_sheet.PortraitCell(each, f"{15 * n}° across, 45° up",
                                    np.full((250, 200, 3), 40 * n, np.uint8),
                                    np.full((77, 200, 3), 255 - 40 * n, np.uint8), face, SETTINGS)
        for n, each in enumerate(names))
    return portrait_sheet.PortraitRow(name, words, cells)


def portrait_blocks(setting):
    """A portrait sheet."""
    return portrait_sheet.portrait_blocks(
        [portrait_row("hard"), portrait_row("soft")], setting, title="Portrait: person one",
        subject="T8", note="Every lamp gives. " * 12, cautions=CAUTIONS)


def read_blocks(setting, *, size=(54, 96)):
    """A reference still that was read: lamps that are told and not, and light that is missing."""
    line = read_sheet.LampLine
    lines = [line("dusk through the window", "told", 1.42, 0.08, 2.67, 6404.0, 121.0, -4.2, 0.62),
             line("desk lamp", "looks like another: lever lamp", -0.6, 0.9, 0.66, 2700.0, 300.0, 12.0, 0.2,
                  True, False),
             line("green tube", "gives too little here to be told", 0.0, 2.0, 1.0, None, None, None, 0.01,
                  False)]
    stops = np.zeros(size)
    stops[:20, 60:], stops[40:] = 1.2, np.nan
    pictures = [read_sheet.PictureLine(name, picture(*size).still, 1.2, 2.6, 8.0)
                for name in ("reference", "bounce", "nearest")]
    pictures.append(read_sheet.PictureLine("late, with the second lamp", picture(*size).still))
    made = read_sheet.ReadSheet(
        "Signal cabin", "Read from reference.jpg, bounce, camera A", SETTINGS, pictures, lines, stops,
        picture(*size).frames.names_index, -0.4, 0.2, 4310.0, -0.002, 1.24,
        ("Levels are against each other: a picture cannot tell a brighter scene from a wider stop.",
         f"Light is missing on back wall, from {read_sheet.direction_text(-124.0, 30.0)}."), "clerk")
    return read_sheet.read_blocks(made, setting, CAUTIONS)


SHEETS = {
    "sheet": sheet_blocks,
    "compare": comparison_blocks,
    "study": study_blocks,
    "match": match_blocks,
    "read": read_blocks,
    "times": times_blocks,
    "haze": ladder_blocks,
    "portrait": portrait_blocks,
    "mood": mood_blocks,
    "rig": rig_blocks,
    "scopes": scopes_blocks,
}
"""Every sheet, by name: a function of the setting."""
