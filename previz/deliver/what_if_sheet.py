"""What wants hang on: each want, strips of what every lamp does to it, the weather, a step off the mark."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from previz.deliver.balance_words import miss_text, value_text, wanted_text
from previz.deliver.canvas import INK
from previz.deliver.layout import (
    Block,
    Setting,
    doubt_blocks,
    foot,
    heading,
    paragraph,
    space,
    subheading,
    write_sheet_files,
)
from previz.deliver.reminders import caution_blocks
from previz.deliver.strips import Mark, Strip, StripRow, strip_key
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.what_if_words import (
    HangLine,
    change_text,
    error_text,
    least_text,
    most_text,
    room_text,
    share_text,
)
from previz.exposure.metering import Measured
from previz.frames.records import Short
from previz.levels.dependence import Dependence, Other
from previz.physics.safety import Caution

LAMPS_A_STRIP = 8
"""Lamps side by side; more are set in another strip below."""

DOUBTED = 0.25
"""A change of a lamp is set with its error where that is such a part of it, and over `NOTED`. [1]"""

NOTED = 0.05
"""[stops]"""

TERMS = (
    ("½ stop more, less", "the lamp half a stop up or down, all else as it is set; tungsten is cooler or "
     "warmer then. What a dimmer has no room for takes a larger or nearer lamp."),
    ("Out", "the lamp fails, or is switched off."),
    ("Share", "of the light that a want is read from; of a ratio, of the lit and of the shadow side's."),
    ("May go", "how far the lamp may fall and rise, in stops, before the want is missed; 'out' and 'any' "
     "where no level is too little or too much."),
    ("Lit side", "stays the cheek that is lit as everything is set, also where another is brighter then."),
    ("Weather", "only the sun's or the sky's own light changes: a real cloud changes the sky as well."),
    ("Off the mark", "by flat meters at the cheeks' places with nobody there, on the mark and a step away, "
     "turned as the face is; left and right are the camera's, forward is where the face points."),
    ("±", "the standard error of a change. Lamps are compared on the same paths of light, so theirs is "
     "small; it is written where it matters."),
)
"""What the heads mean."""


def _want_columns(held: bool) -> list[Column]:
    return [
        Column("want", "", 2.0, lambda w: w.name, align="left", wraps=True),
        Column("of", "", 2.2, lambda w: Cell(w.words, f"camera {w.camera}" if w.camera else ""),
               align="left"),
        Column("wanted", "stops, ratio or K", 1.0,
               lambda w: "as it is" if held else wanted_text(w.reading.want)),
        Column("now", "", 1.0, lambda w: Cell(*value_text(w.reading.want, w.reading.value))),
        Column("", "", 1.4, lambda w: Cell(miss_text(w.reading), _within(w.of), strong=not w.reading.met),
               align="left"),
        Column("hangs most on", "its share", 1.8, lambda w: Cell(*most_text(w.of)), align="left"),
        Column("missed by", "least change of one lamp", 1.6, lambda w: Cell(*least_text(w.of)), align="left"),
    ]


def _within(of: Dependence) -> str:
    want = of.reading.want
    return f"within {want.within:.0f} mired" if of.unit != 1.0 else f"within {want.within:.2f} stops"


def _mark(of: Dependence, change: Measured, always: bool) -> Mark:
    """Return a change as a box, with its error where that is asked for or matters, and what it turns."""
    matters = change.error > NOTED * of.unit and change.error > DOUBTED * abs(change.value)
    size = 1.0 if of.gone(change) else abs(change.value) / of.unit
    error, met = error_text(of, change) if always or matters else "", of.then(change).met
    under = [error] * bool(error) + ["met"] * (met and not of.reading.met)
    return Mark(change_text(of, change), ", ".join(under), size, of.reading.met and not met)


def _under(line: HangLine) -> str:
    return line.words if line.reading.met else f"{line.words}; missed as it is set"


def lamp_strips(setting: Setting, lines: Sequence[HangLine]) -> list[Strip]:
    """Return what every lamp does to every want, so many lamps to a strip."""
    lamps = [each.lamp for each in lines[0].of.lamps]
    made = []
    for first in range(0, len(lamps), LAMPS_A_STRIP):
        some = range(first, min(first + LAMPS_A_STRIP, len(lamps)))
        rows = []
        for line in lines:
            of = [line.of.lamps[number] for number in some]
            changes = [(called, [_mark(line.of, each.changes[k], always=False) for each in of])
                       for k, called in enumerate(("½ stop more", "½ stop less", "out"))]
            rows.append(StripRow(line.name, _under(line), [
                ("share", [Mark(share_text(each)) for each in of]), *changes,
                ("may go", [Mark(room_text(each.room)) for each in of])]))
        made.append(Strip(setting, [(lamps[number], "") for number in some], rows))
    return made


def other_strip(setting: Setting, lines: Sequence[HangLine]) -> Strip | None:
    """Return what the weather and steps off the mark do to every want; None where there are none."""
    weather = [each.what for each in lines[0].of.weather]
    steps = list(dict.fromkeys(each.what for line in lines for each in line.of.steps))
    if not weather and not steps:
        return None
    heads = [(what, "weather" if number == 0 else "") for number, what in enumerate(weather)]
    heads += [(what, "off the mark" if number == 0 else "") for number, what in enumerate(steps)]

    def marks(line: HangLine) -> list[Mark]:
        taken: dict[str, Other] = {each.what: each for each in (*line.of.weather, *line.of.steps)}
        return [_mark(line.of, taken[what].change, always=what in steps) if what in taken else Mark("")
                for what, _ in heads]

    return Strip(setting, heads, [StripRow(line.name, _under(line), [("", marks(line))]) for line in lines])


def what_if_blocks(lines: Sequence[HangLine], said: Sequence[str], setting: Setting, *, title: str,
                   subject: str, held: bool = False, notes: Sequence[str] = (), short: Sequence[Short] = (),
                   cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return what wants hang on, in blocks.

    Parameters
    ----------
    lines : sequence of HangLine
        All with the same lamps and weather.
    said : sequence of str
        The answer in sentences, the weakest point first.
    setting : Setting
    title, subject : str
        Of the scene; of what.
    held : bool
        Whether nothing was wanted, and what is there is to stay.
    notes : sequence of str
        Steps that there is no room for.
    short : sequence of Short
        Meters that did not come to the requested error.
    cautions : sequence of Caution

    Raises
    ------
    ValueError
        Nothing is wanted.
    """
    if not lines:
        raise ValueError("what a want hangs on needs at least one want")
    unit = setting.unit
    blocks = [heading(setting, title, subject), space(0.4 * unit)]
    blocks += [paragraph(setting, words, colour=INK, size=1.15 if number == 0 else 1.0)
               for number, words in enumerate(said)]
    head = subheading(setting, "What is there, to stay as it is" if held else "What is wanted")
    blocks += [space(0.6 * unit), *Table(setting, _want_columns(held), lines).under(head),
               space(0.6 * unit),
               subheading(setting, "What each change does", "sorted by what half a stop does"),
               strip_key(setting)]
    if lines[0].of.lamps:
        for strip in lamp_strips(setting, lines):
            blocks += [*strip.blocks(), space(0.8 * unit)]
    other = other_strip(setting, lines)
    if other is not None:
        blocks += [*other.blocks(), space(0.4 * unit)]
    return [*blocks, *doubt_blocks(setting, [("", short)]), *foot(setting, TERMS, *notes),
            *caution_blocks(setting, cautions)]


def write_what_if(stem: Path, lines: Sequence[HangLine], said: Sequence[str], words: dict[str, str],
                  width: int = 2200, *, title: str, subject: str, held: bool = False,
                  notes: Sequence[str] = (), short: Sequence[Short] = (),
                  cautions: Sequence[Caution] = ()) -> list[Path]:
    """Write what wants hang on as a PNG of a width [px] and a PDF; the rest is of `what_if_blocks`."""
    setting = Setting(width)
    blocks = what_if_blocks(lines, said, setting, title=title, subject=subject, held=held, notes=notes,
                            short=short, cautions=cautions)
    return write_sheet_files(stem, blocks, setting, words)
