"""A walk on a sheet: stops on both sides of the face against metres, lamp by lamp, a still at each mark."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.canvas import INK, QUIET, Colour, Paper, shortened, width_of
from previz.deliver.face_values import FACE_TERMS, face_line, ratio_texts, side_texts
from previz.deliver.layout import (
    Block,
    Setting,
    doubt_blocks,
    foot,
    heading,
    paragraph,
    space,
    write_sheet_files,
)
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.plots import LINES, Panel
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import settings_text, signed
from previz.exposure.comparing.uneven import DARKEST, HOLE, Uneven
from previz.exposure.comparing.walk import Reading, Strip
from previz.exposure.comparing.walk_words import summary
from previz.exposure.faces import FaceLight
from previz.exposure.metering import Measured, from_working
from previz.frames.records import Short
from previz.physics.safety import Caution

NAMES = 0.2
"""Most of the width that the names of lamps take. [1]"""

ACROSS = 4
"""Most stills side by side."""

LAMPS = len(LINES) - 1
"""Most lamps with a line of their own; the others have one together."""

HELD, DEEPER, BRIGHTER = (231, 238, 228), (226, 230, 240), (246, 232, 214)
"""Grounds of the wanted range, of a hole and of a hot spot."""

WORST = 3
"""Most meters of the way that are named where they fell short."""

DEEPEST = 8.0
"""A lamp's line is shown down to so far under the strongest place of any. [stops]"""

TERMS = (
    ("Along the way", "metres on the floor, straight from mark to mark. At a mark the head is as the mark "
     "has it; in between it is carried upright: to where they go, turned to each mark's facing within half a "
     "metre of it (eyes that are on one thing at both ends stay on it), or, where the head of the sheet says "
     "so, turned evenly from mark to mark."),
    ("The strip", "light at the two cheeks with nobody there: without the figure's own shade and what its "
     "clothes throw back. Dots are the figure's own face, metered as it stands at its marks."),
    ("Hole, hot spot", "the least (most) light between two brighter (darker) places, so many stops off the "
     "straight line between them, and under (over) the middle of the walk; or a stretch outside the wanted "
     "range, within which nothing is named. What the readings' errors could make is left out."),
    ("Each lamp", "what it gives to the lit side, with what comes back of it off the walls; what is more "
     f"than {DEEPEST:g} stops under the strongest is not drawn."),
    *FACE_TERMS,
    ("Lamps stay", "as they are put and aimed for the option, also where one is aimed at the figure; a "
     "camera that is aimed at the figure follows it."),
)
"""What the heads mean."""


@dataclass(frozen=True, eq=False)
class Stand:
    """The figure at one of its marks.

    Parameters
    ----------
    number : int
        Of the mark on the way, from 0.
    place : str
        What the mark is called.
    metres : float
        Along the way. [m]
    still : uint8 array, shape (row, column, 3)
        sRGB.
    face : FaceLight
        Its own face, metered there.
    short : tuple of Short
        Meters there that did not come to the precision.
    seen : bool
        Whether the camera sees the figure there.
    """

    number: int
    place: str
    metres: float
    still: np.ndarray
    face: FaceLight
    short: tuple[Short, ...] = ()
    seen: bool = True


def _step(span: float, most: int, steps: Sequence[float]) -> float:
    """Return the least step that gives no more than so many parts of a span."""
    return next((each for each in steps if span / each <= most), steps[-1])


def _spread(places: Sequence[tuple[float, str]], size: float, left: float,
            right: float) -> list[tuple[float, str]]:
    """Return middles of words of a size in a row, moved where they would touch or leave the row. [px]"""
    moved: list[list[float]] = []
    words = sorted(places)
    edge = left
    for at, text in words:
        half = width_of(text, round(size), "strong") / 2
        at = max(at, edge + half)
        moved.append([at, half])
        edge = at + half + 0.9 * size
    edge = right
    for each in reversed(moved):
        each[0] = min(each[0], edge - each[1])
        edge = each[0] - each[1] - 0.9 * size
    return [(at, text) for (at, _), (_, text) in zip(moved, words, strict=True)]


def _levels(values: Sequence[Measured]) -> np.ndarray:
    """Return stops to be drawn; nan where there is no light."""
    return np.array([each.value if each.value > DARKEST else np.nan for each in values])


class _Strip:
    """The panels of a strip, one under the other, over the same metres."""

    def __init__(self, paper: Paper, strip: Strip, stands: Sequence[Stand], setting: Setting,
                 left: float, width: float):
        self.paper, self.strip, self.stands, self.unit = paper, strip, stands, setting.unit
        self.size = 0.85 * setting.unit
        names = [*strip.lamps, "all others", "shadow side"]
        # Names of lamps stand at the right; long ones are cut there, and whole in the table.
        self.room = min(max(width_of(name, round(self.size)) for name in names), NAMES * width)
        self.left, self.right = left + 3.4 * self.size, left + width - self.room - 1.2 * self.size
        self.edge = left + width
        self.across = (0.0, max(strip.metres[-1], 1e-6))

    def panel(self, top: float, high: float, up: tuple[float, float]) -> Panel:
        """Return the next panel, its ground drawn."""
        made = Panel(self.paper, (self.left, top, self.right, top + high), self.across, up, self.size)
        made.ground()
        return made

    def span(self, panel: Panel, first: float, last: float, colour: Colour) -> None:
        """Tint a stretch of a panel; a place alone is a narrow one."""
        low, high = panel.x(first), panel.x(last)
        more = max(0.0, 0.5 * self.size - (high - low)) / 2
        self.paper.fill(round(max(low - more, panel.box[0])), round(panel.box[1]),
                        round(min(high + more, panel.box[2])), round(panel.box[3]), colour)

    def posts(self, panel: Panel) -> None:
        """Draw an upright line at each mark."""
        for number in self.strip.marks:
            x = round(panel.x(self.strip.metres[number]))
            self.paper.fill(min(x, round(panel.box[2]) - 1), round(panel.box[1]),
                            min(x + 1, round(panel.box[2])), round(panel.box[3]), QUIET)

    def names(self, panel: Panel) -> None:
        """Set the marks' names over a panel."""
        size = round(self.size)
        most = min(NAMES, 1 / len(self.strip.marks)) * (self.edge - self.left) - self.size
        words = [(panel.x(self.strip.metres[i]),
                  shortened(self.strip.readings[i].point.mark or "", size, most, "strong"))
                 for i in self.strip.marks]
        for at, text in _spread(words, size, panel.box[0], self.edge):
            self.paper.text((at, panel.box[1] - 0.7 * self.size), text, size, weight="strong",
                            align="centre")

    def metres(self, panel: Panel) -> None:
        """Set the metres under a panel."""
        step = _step(self.across[1], 14, (0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0))
        ticks = np.arange(0, self.across[1] + 1e-6, step)
        panel.scale_across(list(ticks), [f"{tick:g} m" for tick in ticks])

    def sides(self, top: float, high: float) -> None:
        """Draw lit side and shadow side, with holes, hot spots and what is wanted."""
        strip = self.strip
        lit = _levels([each.lit for each in strip.readings])
        shadow = _levels([each.shadow for each in strip.readings])
        own = [from_working(each, strip.settings).value for stand in self.stands
               for each in (stand.face.lit, stand.face.shadow)]
        seen = np.array([*lit, *shadow, *own, *(strip.wanted or ())])
        seen = seen[np.isfinite(seen) & (seen > DARKEST)]
        low, up = (np.floor(seen.min() - 0.6), np.ceil(seen.max() + 0.6)) if len(seen) else (-4.0, 2.0)
        panel = self.panel(top, high, (float(low), float(up)))
        if strip.wanted is not None:
            box = panel.box
            self.paper.fill(round(box[0]), round(panel.y(strip.wanted[1])), round(box[2]),
                            round(panel.y(strip.wanted[0])), HELD)
        for each in strip.unevens:
            self.span(panel, strip.metres[each.first], strip.metres[each.last],
                      DEEPER if each.kind == HOLE else BRIGHTER)
        ticks = np.arange(low, up + 0.5, _step(float(up - low), 9, (1, 2, 4)))
        panel.scale_up(list(ticks), [signed(tick) for tick in ticks], strong=(0,))
        for level in strip.wanted or ():
            panel.line(self.across, [level, level], LINES[3], 0.1 * self.size,
                       (0.6 * self.size, 0.4 * self.size))
        self.posts(panel)
        for name, values, readings, colour in (
                ("lit side", lit, [each.lit for each in strip.readings], LINES[0]),
                ("shadow side", shadow, [each.shadow for each in strip.readings], LINES[2])):
            panel.line(strip.metres, list(values), colour, 0.2 * self.size)
            self.whiskers(panel, values, readings, colour)
            known = np.flatnonzero(np.isfinite(values))
            if len(known):
                panel.name_end(strip.metres[known[-1]], float(values[known[-1]]), name, colour)
        for stand in self.stands:
            for light, colour in ((stand.face.lit, LINES[0]), (stand.face.shadow, LINES[2])):
                at = from_working(light, strip.settings).value
                if at > DARKEST:
                    panel.mark(stand.metres, at, (250, 250, 249), colour)
        panel.settle_names()
        self.tags(panel)
        self.names(panel)

    def whiskers(self, panel: Panel, values: np.ndarray, readings: Sequence[Measured],
                 colour: Colour) -> None:
        """Draw the standard errors that can be seen."""
        for at, value, each in zip(self.strip.metres, values, readings, strict=True):
            if np.isfinite(value) and panel.y(value - each.error) - panel.y(value) > 0.2 * self.size:
                panel.line([at, at], [value - each.error, value + each.error], colour, 0.08 * self.size)

    def tags(self, panel: Panel) -> None:
        """Name holes along the foot of a panel, and hot spots along its head."""
        strip, size = self.strip, round(0.9 * self.size)
        for kind, y in ((HOLE, panel.box[3] - 0.45 * self.size), ("", panel.box[1] + 1.05 * self.size)):
            words = [(panel.x(strip.metres[each.at]), tag_text(each)) for each in strip.unevens
                     if (each.kind == HOLE) == (kind == HOLE)]
            for at, text in _spread(words, size, panel.box[0] + 0.4 * size, panel.box[2] - 0.4 * size):
                self.paper.text((at, y), text, size, weight="strong", align="centre")

    def lamps(self, top: float, high: float) -> None:
        """Draw what each lamp gives to the lit side."""
        strip = self.strip
        light = np.array([[each.value for each in reading.lamps] for reading in strip.readings])
        light = light.reshape(len(strip.readings), len(strip.lamps))
        order = [k for k in np.argsort(-light.max(axis=0, initial=0.0), kind="stable")
                 if light[:, k].max() > 0]
        lines = [(strip.lamps[k], light[:, k]) for k in order[:LAMPS]]
        if len(order) == LAMPS + 1:
            lines.append((strip.lamps[order[LAMPS]], light[:, order[LAMPS]]))
        elif len(order) > LAMPS:
            lines.append(("all others", light[:, order[LAMPS:]].sum(axis=1)))
        stops = [_levels([from_working(Measured(max(lux, 0.0), 0.0), strip.settings) for lux in values])
                 for _, values in lines]
        seen = np.concatenate([*stops, [np.nan]])
        seen = seen[np.isfinite(seen)]
        highest = np.ceil(seen.max() + 0.01) if len(seen) else 2.0
        lowest = max(np.floor(seen.min()), highest - DEEPEST) if len(seen) else -4.0
        panel = self.panel(top, high, (float(lowest), float(highest)))
        ticks = np.arange(lowest, highest + 0.5, _step(float(highest - lowest), 5, (1, 2, 4)))
        panel.scale_up(list(ticks), [signed(tick) for tick in ticks], strong=(0,))
        self.posts(panel)
        for (name, _), values, colour in zip(lines, stops, LINES, strict=False):
            for xs, ys in _over(np.asarray(strip.metres), values, float(lowest)):
                panel.line(xs, ys, colour, 0.16 * self.size)
            known = np.flatnonzero(values >= lowest)
            if len(known):
                panel.name_end(strip.metres[known[-1]], float(values[known[-1]]),
                               shortened(name, round(self.size), self.room), colour)
        panel.settle_names()
        panel.title("each lamp on the lit side", "stops from the working stop")

    def colour(self, top: float, high: float) -> None:
        """Draw how warm the light on the lit side is against the balance."""
        strip = self.strip
        off = np.array([np.nan if each.mired is None else each.mired.value for each in strip.readings])
        known = off[np.isfinite(off)]
        reach = max(20.0, *(abs(known) * 1.1)) if len(known) else 20.0
        step = _step(2 * reach, 5, (10, 20, 50, 100, 200))
        low = np.floor(min(known.min(initial=0.0) * 1.1, -step / 2) / step) * step
        high_end = np.ceil(max(known.max(initial=0.0) * 1.1, step / 2) / step) * step
        panel = self.panel(top, high, (float(low), float(high_end)))
        ticks = np.arange(low, high_end + 0.5 * step, step)
        panel.scale_up(list(ticks), [signed(tick) for tick in ticks], strong=(0,))
        self.posts(panel)
        for part in _runs(off):
            panel.line(np.asarray(strip.metres)[part], off[part], LINES[1], 0.18 * self.size)
        x = panel.box[2] + 0.6 * self.size
        self.paper.text((x, panel.box[1] + 1.0 * self.size), "warmer", round(self.size), colour=QUIET)
        self.paper.text((x, panel.box[3] - 0.3 * self.size), "cooler", round(self.size), colour=QUIET)
        panel.title("colour on the lit side", "mired off the camera's balance")
        self.metres(panel)


def _runs(values: np.ndarray) -> list[np.ndarray]:
    """Return the numbers of neighbours that are all there, run by run."""
    known = np.flatnonzero(np.isfinite(values))
    return np.split(known, np.flatnonzero(np.diff(known) > 1) + 1) if len(known) else []


def _over(metres: np.ndarray, levels: np.ndarray, lowest: float) -> list[tuple[np.ndarray, np.ndarray]]:
    """Return what of a line lies over a level, piece by piece, each up to where it crosses that."""
    filled = np.where(np.isfinite(levels), levels, DARKEST)
    pieces = []
    for part in _runs(np.where(filled >= lowest, filled, np.nan)):
        xs, ys = list(metres[part]), list(filled[part])
        for inner, outer, place in ((part[0], part[0] - 1, 0), (part[-1], part[-1] + 1, len(xs) + 1)):
            if 0 <= outer < len(metres):
                share = (filled[inner] - lowest) / (filled[inner] - filled[outer])
                xs.insert(place, metres[inner] + share * (metres[outer] - metres[inner]))
                ys.insert(place, lowest)
        pieces.append((np.array(xs), np.array(ys)))
    return pieces


def tag_text(uneven: Uneven) -> str:
    """Return what a hole or hot spot is called in the plot: 'hole, 1.3 stops'."""
    word = uneven.kind if uneven.beyond is None else ("too dark" if uneven.kind == HOLE else "too bright")
    return f"{word}, {uneven.amount.value:.1f} stops"


def _plots(setting: Setting, strip: Strip, stands: Sequence[Stand]) -> Block:
    unit = setting.unit
    head, sides, gap, lamps, colour, tail = (each * unit for each in (3.4, 17.0, 3.0, 9.0, 5.0, 2.6))

    def draw(paper: Paper, left: float, top: float, width: float) -> None:
        panels = _Strip(paper, strip, stands, setting, left, width)
        paper.text((panels.left, top + 1.1 * unit), "both sides of the face", round(1.1 * panels.size),
                   weight="strong")
        paper.text((panels.left + width_of("both sides of the face", round(1.1 * panels.size), "strong")
                    + 0.8 * panels.size, top + 1.1 * unit), "stops from the working stop"
                   + (", wanted range in green" if strip.wanted is not None else ""), round(panels.size),
                   colour=QUIET)
        at = top + head
        panels.sides(at, sides)
        at += sides + gap
        panels.lamps(at, lamps)
        at += lamps + gap
        panels.colour(at, colour)

    return Block(head + sides + 2 * gap + lamps + colour + tail, draw)


@dataclass(frozen=True, eq=False)
class _Line:
    """A row of the table: a mark, or a hole or hot spot."""

    reading: Reading
    name: str


def _lines(strip: Strip) -> list[_Line]:
    lines = {number: strip.readings[number].point.mark or "" for number in strip.marks}
    for each in strip.unevens:
        word = tag_text(each).split(",")[0]
        lines[each.at] = f"{lines[each.at]}: {word}" if each.at in lines else word
    return [_Line(strip.readings[number], lines[number]) for number in sorted(lines)]


def _columns(strip: Strip) -> list[Column]:
    def face(of: Callable[[FaceLight], tuple[str, str]]) -> Callable[[_Line], Cell]:
        return lambda line: Cell(*of(line.reading.face))

    def error(line: _Line) -> str:
        paths = line.reading.lit.paths
        return f"{paths:.3f} stops" if np.isfinite(line.reading.lit.value) else "–"

    def strongest(line: _Line) -> Cell:
        reading = line.reading
        if not reading.face.lit.value > 0:
            return Cell("–")
        best = int(np.argmax([each.value for each in reading.lamps]))
        share = reading.lamps[best].value / reading.face.lit.value
        return Cell(strip.lamps[best], f"{100 * share:.0f} % of the light")

    return [
        Column("along the way", "m", 0.9, lambda line: f"{line.reading.point.metres:.2f}"),
        Column("place", "", 1.7, lambda line: line.name, align="left", wraps=True),
        Column("lit side", "lx, then stops", 1.0, face(lambda one: side_texts(one.lit, strip.settings))),
        Column("±", "", 0.8, error),
        Column("its cheek", "", 0.7, lambda line: line.reading.face.lit_side),
        Column("shadow side", "lx, then stops", 1.0,
               face(lambda one: side_texts(one.shadow, strip.settings))),
        Column("lit : shadow", "key alone : fill", 1.1, face(ratio_texts)),
        Column("at the face", "", 0.9, lambda line: "–" if line.reading.face.cct is None
               else f"{line.reading.face.cct:.0f} K"),
        Column("off balance", "mired", 0.9, lambda line: "–" if line.reading.mired is None
               else signed(line.reading.mired.value)),
        Column("strongest lamp", "", 1.7, strongest, align="left"),
    ]


def walk_blocks(strip: Strip, stands: Sequence[Stand], setting: Setting, *, title: str, subject: str,
                short: Sequence[Short] = (), notes: Sequence[str] = (),
                cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a walk in blocks.

    Parameters
    ----------
    strip : Strip
    stands : sequence of Stand
        The figure at its marks; none without stills.
    setting : Setting
    title, subject : str
        Of the scene; who walks where.
    short : sequence of Short
        Meters of the strip that did not come to the precision.
    notes : sequence of str
        What the way goes through.
    cautions : sequence of Caution
        That the scene calls for.
    """
    unit = setting.unit
    first, *others = summary(strip)
    blocks = [heading(setting, title, subject, settings_text(strip.settings)), space(0.4 * unit),
              paragraph(setting, first, colour=INK, size=1.1)]
    blocks += [paragraph(setting, words, colour=INK, size=1.0) for words in others]
    blocks += [paragraph(setting, words, colour=INK) for words in notes]
    blocks += [space(0.6 * unit), _plots(setting, strip, stands), space(0.6 * unit)]
    if stands:
        plates = [Plate(([stand.still],), stand.place,
                        f"{stand.metres:.1f} m{'' if stand.seen else ', out of the frame'}",
                        under=(face_line(stand.face, strip.settings),)) for stand in stands]
        blocks += plate_rows(setting, plates, min(ACROSS, max(2, len(plates))))
    worst = sorted(short, key=lambda each: -each.error)[:WORST]
    whose = f"{len(short)} meters of the way fell short, these most" if len(short) > WORST else ""
    doubts = [(whose, worst), *((stand.place, stand.short) for stand in stands)]
    return [*blocks, *Table(setting, _columns(strip), _lines(strip), 0.85).blocks(),
            *doubt_blocks(setting, doubts), *foot(setting, TERMS), *caution_blocks(setting, cautions)]


def write_walk(stem: Path, strip: Strip, stands: Sequence[Stand], words: dict[str, str], width: int = 2200,
               **more) -> list[Path]:
    """Write a walk as a PNG of a width [px] and a PDF; the rest is of `walk_blocks`."""
    setting = Setting(width)
    return write_sheet_files(stem, walk_blocks(strip, stands, setting, **more), setting, words)
