"""One of each sheet, of readings made by arithmetic: what tests of sheets draw."""

import importlib.util
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pack_sample

from previz.deliver import (
    as_shot_sheet,
    balance_sheet,
    compare_sheet,
    haze_sheet,
    looks_sheet,
    match_sheet,
    mood_sheet,
    portrait_sheet,
    read_sheet,
    readings_sheet,
    rig_sheet,
    scopes,
    sheet,
    study_sheet,
    times_sheet,
    walk_sheet,
    what_if_sheet,
    what_if_words,
)
from previz.deliver.balance_words import sentences
from previz.deliver.map import exposure_map
from previz.deliver.pack import contents_of
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
from previz.frames.records import Short
from previz.levels import wants
from previz.levels.advice import Remedy
from previz.levels.answers import Reading
from previz.levels.dependence import Dependence, OnLamp, Other
from previz.physics.exposure import CameraSettings
from previz.physics.safety import NO_SOURCE, Caution
from previz.physics.stops import PLAIN
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
def _synthetic(name="synthetic"):
    path = Path(__file__).parents[1] / "exposure" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(f"samples_{name}", path)
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
                                    things=shown.frames.names_index, face=(-0.25, 0.1), map=PLAIN))
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


def stands(strip, size=(54, 96)):
    """The figure at each mark of a strip: its own face reads a tenth less than the empty place."""
    made = []
    for number, i in enumerate(strip.marks):
        lit, shadow = (Measured(0.9 * each.value, each.error)
                       for each in (strip.readings[i].face.lit, strip.readings[i].face.shadow))
        made.append(walk_sheet.Stand(number, strip.readings[i].point.mark, strip.metres[i],
                                     picture(*size).still, FaceLight("porter", "left", lit, shadow)))
    return made


def walk_blocks(setting, *, size=(54, 96), **more):
    """A walk's sheet."""
    strip = _synthetic("synthetic_walk").strip(**more)
    return walk_sheet.walk_blocks(
        strip, stands(strip, size), setting, title="Lamp room", subject="porter: start, window, bench, 6.0 m",
        short=(Short("porter at 2.25 m: left cheek", 0.0437, True),),
        notes=("The way, straight from mark to mark, goes through 'crate' at 3.1 m; a mark more leads "
               "round it.",),
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


def want_lines():
    """Wants of each kind: met, missed, without light, too warm."""
    asked = (
        ("face at the stop", "lit side, clerk", "A", wants.Want(
            "face at the stop", wants.LEVEL, ("clerk: left cheek",), 0.0, camera="A"), 0.73, -0.01),
        ("fill two under", "shadow side, clerk at window", "A", wants.Want(
            "fill two under", wants.LEVEL, ("clerk at window: left cheek",), -2.0, camera="A"), -0.86, -1.21),
        ("contrast", "ratio, clerk", "", wants.Want("contrast", wants.RATIO, ("a", "b"), 2.0), 1.58, 2.01),
        ("warm face", "colour, clerk", "", wants.Want(
            "warm face", wants.COLOUR, ("a", "b"), 1e6 / 3300, within=10.0), 291.7, 321.0),
        ("window holds", "yard window", "A", wants.Want(
            "window holds", wants.LEVEL, ("yard window, A",), 2.474, at_most=True, camera="A"), 3.1, 2.2),
        ("black stays", "tunnel mouth beyond the second signal", "wide of the yard", wants.Want(
            "black stays", wants.LEVEL, ("tunnel, A",), -5.5, at_most=True, camera="A"), -np.inf, -np.inf),
    )  # fmt: skip
    return [balance_sheet.WantLine(name, words, camera, *(
        Reading(want, Measured(value, 0.013 if want.kind != wants.COLOUR else 1.3), want.miss(value))
        for value in (before, after))) for name, words, camera, want, before, after in asked]


def lamp_lines():
    """Lamps that move, stay, are held, go off and come on."""
    made = balance_sheet.LampLine
    return [made("key", 1.0, 0.416, ("3200 K", "3200 K, half ctb"), 650.0),
            made("dusk through the window", 1.0, 0.958, ("6500 K", "4660 K"), 50.0),
            made("lever lamp", 0.45, 0.45, ("2700 K", "2700 K"), 12.0, True),
            made("desk lamp", 1.0, 0.0, ("2700 K", "2700 K"), 32.0),
            made("stove glow", 0.0, 0.25, ("1900 K", "1900 K"), 12.0)]


def balance_blocks(setting, *, size=(54, 96)):
    """Levels for what is wanted."""
    one, other = picture(*size), picture(*size, (0.5, 0.8))
    charts = tuple(exposure_map(each.signal, each.frames.names_index) for each in (one, other))
    settings = SETTINGS, replace(SETTINGS, stop=4.0)
    seen = [balance_sheet.Seen("A", settings, (one.still, other.still), charts)]
    lines = want_lines()
    said = sentences([line.after for line in lines], ("fill two under", "warm face"), (
        Remedy("bigger", "key", "", 1.0), Remedy("freed", "sky", "", -0.6),
        Remedy("flagged", "desk lamp", "clerk: left cheek", 0.4)))
    return balance_sheet.balance_blocks(
        lines, lamp_lines(), seen, said, setting, title="Signal cabin",
        subject="Levels for what is wanted, option 'bounce', by least squares",
        short=(Short("clerk: left cheek", 0.03, False),), cautions=CAUTIONS)
def readings_blocks(setting, *, size=(90, 160)):
    """Readings against the plan: one lamp off, one dead, one that is not told, one reading left out."""
    lamps = (
        readings_sheet.LampLine("key", 0.7, -0.74, 0.05, True, False, "0.74 stop under", 1.17, 0.23),
        readings_sheet.LampLine("dusk through the window", 1.0, 0.57, 0.12, True, False, "0.57 stop over",
                                0.67),
        readings_sheet.LampLine("lever rim", 0.45, -np.inf, 0.0, True, True, "dead: under 3 % of its plan"),
        readings_sheet.LampLine("stove glow", 1.0, 0.0, 0.9, False, False, "taken as planned"),
        readings_sheet.LampLine("sky", None, 0.39, 0.07, True, False,
                                "0.39 stop over: 7 860 lx in place of 6 000 lx"))
    lines = tuple(readings_sheet.ReadingLine(n, *each) for n, each in enumerate((
        ("clerk: left cheek", "key", "T2.8 1/3", "lx", 605.0, 840.0, 601.0, 14.0, 0.3, False),
        ("clerk: shadow side", "all but dusk through the window and lever rim", "41.5 lx", "lx", 41.5, 62.0,
         42.1, 1.2, -0.4, False),
        ("desk", "all", "78 lx", "lx", 78.0, 1100.0, 839.0, 21.0, -48.0, True,
         "left out: footcandles written down as lux"),
        ("desk", "lever rim", "0 lx", "lx", 0.0, 18.0, 0.0, 0.0, 0.0, False),
        ("back wall", "all, 16:30", "12.5 cd/m2", "cd/m²", 12.5, 14.1, 12.6, 0.4, -0.1, False,
         "hardly so")), 1))
    sheet = readings_sheet.ReadingsSheet(
        "Signal cabin", "Readings against the plan, option 'bounce'", "a reading ± 5 %",
        ("lever rim is dead: look at lamp, cable and address first.", "Off the plan: key 0.74 stop. " * 6),
        lamps, lines, tuple((name, picture(*size).still) for name in ("as planned", "as it is now")),
        CAUTIONS)
    return readings_sheet.readings_blocks(sheet, setting)


def as_shot_blocks(setting, *, size=(90, 160)):
    """A shot against its plan."""
    lamps = (as_shot_sheet.ShotLamp("key", 0.7, 0.85, 4300.0, 3800.0, True),
             as_shot_sheet.ShotLamp("dusk through the window", 1.0, 0.0, 6500.0, 6500.0, True),
             as_shot_sheet.ShotLamp("stove glow", 0.0, 0.5, None, None, True),
             as_shot_sheet.ShotLamp("sky", 1.0, 1.0, None, None, False, True))
    settings = replace(SETTINGS, stop=4.0, nd_density=0.3)
    meters = tuple(
        as_shot_sheet.ShotMeter(name, Measured(lux, 2.0), Measured(0.7 * lux, 2.0), SETTINGS, settings)
        for name, lux in (("clerk: left cheek", 840.0), ("desk", 61.0)))
    meters += (as_shot_sheet.ShotMeter("the dark end", Measured(0.0, 0.0), Measured(0.0, 0.0)),)
    sheet = as_shot_sheet.AsShotSheet(
        "Signal cabin", "As shot, against the plan, take 12A", ("key +0.28 stop (85 % for 70 %).",), lamps,
        (as_shot_sheet.ShotCamera("A", SETTINGS, settings),), meters,
        tuple((name, picture(*size).still) for name in ("camera A, as planned", "as shot")), CAUTIONS)
    return as_shot_sheet.as_shot_blocks(sheet, setting)


def hang_lines(lamps=("key", "dusk through the window", "stove glow", *(f"tube {n}" for n in range(1, 7)))):
    """What wants of each kind hang on: more lamps than a strip holds, errors that matter, no light left."""
    made = []
    for line in want_lines()[:5]:
        want, unit = line.after.want, 60.0 if line.after.want.kind == wants.COLOUR else 1.0
        missed = line.name == "fill two under"
        met = Reading(want, line.after.value, line.after.miss if missed else 0.0)
        lost = Measured(-30.0 * unit, 0.0)
        on = tuple(OnLamp(
            lamp, 0.6 / 2**k, 0.1 / 2**k if want.kind == wants.RATIO else None,
            Measured(0.4 / 2**k * unit, 0.06 * unit), Measured(-0.3 / 2**k * unit, 0.001),
            lost if k == 0 else Measured(-0.9 / 2**k * unit, 0.002),
            (np.nan, np.nan) if missed else (-0.31, 0.42) if k == 0 else (-np.inf, np.inf))
            for k, lamp in enumerate(lamps))
        weather = tuple(Other(what, "sun", Measured(change * unit, 0.01))
                        for what, change in (("sun two stops down", -1.1), ("sun gone", -1.6)))
        steps = tuple(Other(f"0.3 m {where}", "", Measured(change * unit, 0.04 * unit)) for where, change in (
            ("to camera left", -0.75), ("to camera right", 0.05), ("forward", 0.2), ("back", -0.02)))
        made.append(what_if_words.HangLine(line.name, line.words, line.camera, Dependence(
            met, on, weather, () if line.name == "window holds" else steps)))
    return made


def what_if_blocks(setting):
    """What wants hang on."""
    lines = hang_lines()
    return what_if_sheet.what_if_blocks(
        lines, what_if_words.sentences(lines, 0.3), setting, title="Signal cabin",
        subject="What if: what the light hangs on, option 'bounce'",
        notes=("clerk: no room for a step back, there is 'north wall'.",),
        short=(Short("clerk: left cheek", 0.03, False),), cautions=CAUTIONS)
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


def looks_blocks(setting, *, size=(54, 96)):
    """A strip of looks: changed, moved, as written, not rendered yet, and a reference."""
    still = picture(*size).still
    made = looks_sheet.LookLine
    place = "bounce, camera A, T2.8 · ISO 800 · 1/48 s · 5600 K"
    changed = "changed: key at 20 %, desk lamp off, key half ctb, stop 4"
    lines = [made("low key", "the clerk in the dark, the yard bright", place, still,
                  (changed, "moved: key, partition; put in: flag")),
             made("as planned", "", place, still),
             made("the second lamp behind the partition, half blue", "a note that goes on for a while. " * 9,
                  place, picture(*size, (0.3, 1.0)).still, ("changed: dusk through the window at 35 %",)),
             made("for camera B", "", "bounce, camera B", "not rendered yet"),
             made("the old signal box", "from the recce", "reference picture", still[:, :60], reference=True)]
    return looks_sheet.looks_blocks(lines, setting, title="Signal cabin", subject="Looks that were kept",
                                    cautions=CAUTIONS)


def pack_blocks(setting):
    """All pages of a pack under each other, and its pictures."""
    shown = picture(45, 80)
    made = pack_sample.pack(CAUTIONS, shown.still, exposure_map(shown.signal, shown.frames.names_index),
                            SETTINGS)
    return [block for *_, blocks in contents_of(made, setting, 0.7 * setting.width) for block in blocks or ()]


SHEETS = {
    "sheet": sheet_blocks,
    "compare": comparison_blocks,
    "study": study_blocks,
    "match": match_blocks,
    "read": read_blocks,
    "times": times_blocks,
    "balance": balance_blocks,
    "what-if": what_if_blocks,
    "walk": walk_blocks,
    "haze": ladder_blocks,
    "readings": readings_blocks,
    "as shot": as_shot_blocks,
    "portrait": portrait_blocks,
    "mood": mood_blocks,
    "looks": looks_blocks,
    "rig": rig_blocks,
    "scopes": scopes_blocks,
    "pack": pack_blocks,
}
"""Every sheet, by name: a function of the setting."""
