"""One lamp in several set-ups: what each costs in stops, and what it does to a face."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from previz.deliver.canvas import Paper
from previz.deliver.face_values import side_texts
from previz.deliver.layout import Block, Setting, doubt_blocks, foot, heading, space, write_sheet_files
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.plots import LINES, Panel, widest
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import lux_text, signed, stops_text
from previz.exposure.comparing.wrap import Step
from previz.exposure.meter_report import CameraNote
from previz.exposure.metering import Measured
from previz.physics.safety import Caution

COLOURS = {"direct": LINES[0], "frame": LINES[2], "board": LINES[1]}

TERMS = (
    ("Brightest", "of the flat meters round a head-sized cylinder that stands where the head was: no "
     "cheek, so no lit side. Stops are over (+) or under (\N{MINUS SIGN}) the stop that the camera is "
     "set to."),
    ("Loss", "light at the brightest part of the face against the same lamp aimed straight at it."),
    ("Nose edge", "width of the soft edge of the nose's shadow on the darker cheek, square to the "
     "light: the angle that the source fills, times the distance from the tip of the nose."),
    ("Wrap", "how far round a head-sized cylinder, from its brightest part, the light falls to "
     "half (one stop) and to an eighth (three stops). A small far source gives 60° and 83°, an "
     "even dome before the face 90° and 139°; sources up to 60° wide differ in the second alone."),
    ("Lit part", "what the lamp fills of the board or frame, as the face sees it: beyond that a "
     "larger one changes nothing."),
    ("Spill", "light on the surface named, in stops from the brightest part of the face: the "
     "nearer to nothing, the less the background stays under control."),
    ("Light for each watt", "≈ where the lamp's watts are not stated and were guessed from its "
     "lumens."),
    ("The lamp alone", "others are dark; it is metered in the set without its people. Boards stand "
     "where the scene has one, else at 45° across from the lamp, turned midway between lamp and face."),
)  # fmt: skip
"""What the heads and the scales mean."""


def _round_up(value: float, steps: Sequence[float]) -> float:
    return next((step for step in steps if step >= value), steps[-1])


def _lines(panel: Panel, study, of: Callable[[Step], float]) -> None:
    """Draw direct as a level line, and one line for each distance of frames and boards."""
    direct = next((s for s in study.steps if s.kind == "direct"), None)
    if direct is not None and np.isfinite(of(direct)):
        panel.line(panel.across, (of(direct),) * 2, COLOURS["direct"], 0.11 * panel.size,
                   (0.6 * panel.size, 0.4 * panel.size))
        panel.name_end(panel.across[1], of(direct), "direct", COLOURS["direct"])
    for kind in ("frame", "board"):
        distances = sorted({s.distance for s in study.steps if s.kind == kind})
        for number, distance in enumerate(distances):
            steps = sorted((s for s in study.steps if s.kind == kind and s.distance == distance),
                           key=lambda s: s.size)
            values = [of(s) for s in steps]
            shade = 0.28 * number
            colour = tuple(round(c + (245 - c) * shade) for c in COLOURS[kind])
            panel.line([s.size for s in steps], values, colour, 0.16 * panel.size)
            for step, value in zip(steps, values, strict=True):
                panel.mark(step.size, value, colour)
            if np.isfinite(values[-1]):
                panel.name_end(steps[-1].size, values[-1], f"{kind} {distance:g} m", colour)
    panel.settle_names()


def _ladder(paper: Paper, box: tuple[float, float, float, float], study, size: float, title: str,
            under: str, of: Callable[[Step], float], ticks: Sequence[float],
            words: Sequence[str]) -> None:
    sizes = sorted({s.size for s in study.steps if s.kind != "direct"}) or [1.0]
    edge = 1.12 if len(sizes) > 1 else 1.5
    panel = Panel(paper, box, (sizes[0] / edge, sizes[-1] * edge), (ticks[0], ticks[-1]), size,
                  log=True)
    panel.ground()
    panel.scale_up(ticks, words)
    panel.scale_across(sizes, [f"{s:g} m" for s in sizes])
    panel.title(title, under)
    _lines(panel, study, of)


def _ticks(values: Sequence[float], step_choices: Sequence[float],
           low: float | None = None) -> list[float]:
    """Return round ticks that take in all values."""
    finite = [v for v in values if np.isfinite(v)] or [0.0, 1.0]
    bottom = min(finite) if low is None else low
    step = _round_up((max(finite) - bottom) / 5 or step_choices[0], step_choices)
    first, last = np.floor(bottom / step) * step, np.ceil(max(finite) / step - 1e-9) * step
    last = max(last, first + step)
    return [float(t) for t in np.arange(first, last + step / 2, step)]


def _stops_word(tick: float) -> str:
    return signed(tick, 0 if tick == int(tick) else 1)


_PANELS = (
    # Title and unit, what is drawn, the steps its ticks may have, their least, and how they are written.
    ("loss", "stops", lambda s: s.loss, (0.5, 1, 2, 3), None, _stops_word),
    ("nose edge", "mm", lambda s: 1e3 * s.edge, (1, 2, 5, 10, 20, 50), 0, "{:g}".format),
    ("wrap", "to half", lambda s: s.wrap, (5, 10, 20), 50, "{:g}°".format),
    ("wrap", "to an eighth", lambda s: s.ends, (10, 20), 60, "{:g}°".format),
    ("spill", "stops", lambda s: s.spill, (0.5, 1, 2, 3), None, _stops_word),
)


def _plots(setting: Setting, study) -> Block:
    unit, size = setting.unit, 0.8 * setting.unit
    high = 19 * unit

    def draw(paper, left, top, width):
        names = [f"{s.kind} {s.distance:g} m" for s in study.steps if s.kind != "direct"]
        axis, tail = 2.4 * size, widest([*names, "direct"], size) + 0.9 * size
        gap = 1.0 * unit
        each = (width - 4 * gap) / 5
        for number, (title, under, of, steps, low, word) in enumerate(_PANELS):
            x = left + number * (each + gap) + axis
            box = (x, top + 2.2 * unit, x + each - axis - tail, top + high - 2.6 * unit)
            ticks = _ticks([of(s) for s in study.steps], steps, low)
            _ladder(paper, box, study, size, title, under, of, ticks, [word(t) for t in ticks])

    return Block(high, draw)


def _curves(setting: Setting, study, chosen: Sequence[Step]) -> Block:
    """Return how the light goes round the head, for a few set-ups side by side."""
    unit, size = setting.unit, 0.85 * setting.unit
    high = 15 * unit

    def draw(paper, left, top, width):
        tail = widest([s.name for s in chosen], size) + 1.2 * size
        box = (left + 3.0 * size, top + 2.2 * unit, left + width - tail, top + high - 2.6 * unit)
        panel = Panel(paper, box, (-180, 180), (0, 1.0), size)
        panel.ground()
        panel.scale_up((0, 0.25, 0.5, 0.75, 1), ("0", "¼", "½", "¾", "1"), strong=(0.5,))
        ticks = (-180, -135, -90, -45, 0, 45, 90, 135, 180)
        words = ["back" if abs(t) == 180 else "ahead" if t == 0 else
                 f"{abs(t)}° {'left' if t > 0 else 'right'}" for t in ticks]
        panel.scale_across(ticks, words)
        panel.title("round the head", "light on a flat meter, as a part of its brightest; left and "
                    "right are the figure's own")
        for step in chosen:
            shares = step.ring.lux / max(step.ring.lux.max(), 1e-30)
            angles = np.concatenate([[-180.0], step.ring.angles])
            values = np.concatenate([shares[-1:], shares])
            panel.line(angles, np.minimum(values, 1), COLOURS[step.kind], 0.18 * size)
            panel.name_end(180, float(values[-1]), step.name, COLOURS[step.kind])
        panel.settle_names()

    return Block(high, draw)


def _brightest(camera: CameraNote | None) -> Column:
    """Return the column of what the brightest meter reads, in stops too where there is a camera."""
    if camera is None:
        return Column("brightest", "lx round the head", 1.3, lambda s: lux_text(s.ring.peak))
    return Column("brightest", f"lx, then stops at {camera.name}", 1.3, lambda s: Cell(
        *side_texts(Measured(s.ring.peak, 0.0), camera.settings)))


def _columns(spill: str, camera: CameraNote | None) -> list[Column]:
    return [
        Column("set-up", "", 2.4, lambda s: s.name, align="left"),
        _brightest(camera),
        Column("loss", "stops", 1.0, lambda s: "–" if np.isnan(s.loss)
               else stops_text(s.loss)),
        Column("for the same light", "times the output", 1.3, lambda s: f"{2.0**-s.loss:.1f} ×"
               if np.isfinite(s.loss) else "–"),
        Column("light", "lx / W", 0.9, lambda s: "–" if s.per_watt is None
               else f"{'≈ ' if s.guessed else ''}{s.per_watt:.2f}"),
        Column("looks", "across × up", 1.2, lambda s: "–" if not np.isfinite(s.across)
               else f"{s.across:.0f} × {s.up:.0f}°" if s.across >= 10
               else f"{s.across:.1f} × {s.up:.1f}°"),
        Column("lit part", "m", 1.2, _lit_part),
        Column("nose edge", "mm", 1.0, lambda s: f"{1e3 * s.edge:.1f}" if np.isfinite(s.edge)
               else "–"),
        Column("wrap", "to half; to an eighth", 1.3,
               lambda s: f"{_angle(s.wrap)}; {_angle(s.ends)}"),
        Column("spill", f"stops, {spill}", 1.4, lambda s: stops_text(s.spill)
               if np.isfinite(s.spill) else "–"),
    ]


def lit_part(step: Step) -> tuple[float, float] | None:
    """Return how large the lit part of a board or frame is, seen square on; None for no such thing. [m]"""
    if step.kind == "direct" or not np.isfinite(step.across):
        return None
    # Of a sheet that stands slanted the nearer edge appears larger than the sheet is.
    wide, high = (float(min(2 * step.distance * np.tan(np.radians(a) / 2), step.size))
                  for a in (step.across, step.up))
    return wide, high


def _lit_part(step: Step) -> str:
    part = lit_part(step)
    return "–" if part is None else f"{part[0]:.1f} × {part[1]:.1f}"


def _angle(value: float) -> str:
    return f"{value:.0f}°" if np.isfinite(value) else "never"


def study_blocks(study, examples: Sequence[Plate], setting: Setting,
                 cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a study in blocks.

    Parameters
    ----------
    study : study_session.Study, or anything with its fields
        What was found.
    examples : sequence of Plate
        Pictures, named as the steps; none leaves them out.
    setting : Setting
    cautions : sequence of Caution
        That the scene calls for.

    Raises
    ------
    ValueError
        There is no step.
    """
    if not study.steps:
        raise ValueError("a study needs at least one set-up of the lamp")
    option = f", option '{study.option}'" if study.option else ""
    blocks = [heading(setting, study.title, f"'{study.lamp}' ({study.kind}) on {study.figure}: "
                      f"direct, through a frame, off a board{option}",
                      f"lamp {study.throw:.1f} m from the face"), space(setting.unit)]
    if examples:
        blocks += [*plate_rows(setting, examples, len(examples)), space(0.5 * setting.unit)]
    named = [each.name for each in examples] or [study.steps[0].name, study.steps[-1].name]
    left_out = "; ".join(line.replace(" left out:", ",") for line in study.left_out)
    return [*blocks, _plots(setting, study),
            _curves(setting, study, [s for s in study.steps if s.name in named]),
            *Table(setting, _columns(study.spill, study.camera), study.steps).blocks(),
            *doubt_blocks(setting, [(step.name, step.short) for step in study.steps]),
            *foot(setting, TERMS, f"Left out: {left_out}." if left_out else ""),
            *caution_blocks(setting, cautions)]


def write_study(stem: Path, study, examples: Sequence[Plate], words: dict[str, str],
                cautions: Sequence[Caution] = (), width: int = 2400) -> list[Path]:
    """Write a study as a PNG of a width [px] and a PDF; the rest is of `study_blocks`."""
    setting = Setting(width)
    return write_sheet_files(stem, study_blocks(study, examples, setting, cautions), setting, words)
