"""Two shots that must cut: side by side, point by point, with a verdict in plain words."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from previz.deliver.layout import (
    Block,
    Setting,
    caption,
    doubt_blocks,
    foot,
    heading,
    map_scales,
    space,
    write_sheet_files,
)
from previz.deliver.map import exposure_map
from previz.deliver.plates import set_picture
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import settings_text, signed
from previz.exposure.comparing.match import UNITS, Point
from previz.physics.safety import Caution

_NOTE = (
    "Levels are as exposed, colours as balanced: what is seen across the cut, not what was lit. "
    "Differences are the second shot against the first. Lit side: a flat meter on the brighter "
    "cheek, stops over the stop that is set. Lit : shadow: both cheeks as metered; key alone is what "
    "the lit side has over the shadow side. Key direction is as the camera sees it. Shadow edge: width "
    "of the soft edge of the nose's shadow. Haze veil: what the air alone adds to the picture. The "
    "limits are habits of the trade; set your own with --allow."
)


def state_text(point: Point) -> str:
    """Return how a point stands, in a word or two."""
    if point.cuts is None:
        return "in neither" if point.first == point.second else "not compared"
    return "cuts" if point.cuts else "differs"


def difference_text(point: Point) -> str:
    """Return a difference with its unit."""
    if point.difference is None:
        return "–"
    if np.isinf(point.difference):
        return "light in one alone"
    unit = UNITS[point.key]
    if unit == "deg":
        return f"{point.difference:.0f}°"
    if unit == "Duv":
        return signed(point.difference, 4)
    if unit == "mired":
        return f"{signed(point.difference)} mired"
    return f"{signed(point.difference, 1)} stops"


def limit_text(point: Point) -> str:
    """Return a limit with its unit, the sign left out."""
    unit = UNITS[point.key]
    if unit == "stops" and point.limit == 1:
        return "1 stop"
    return f"{point.limit:g}°" if unit == "deg" else f"{point.limit:g} {unit}"


def _pictures(setting: Setting, shots: Sequence) -> list[Block]:
    """Return the two stills, each with its map and its face at its side; under them the maps' scale."""
    unit, gap, thin = setting.unit, 1.6 * setting.unit, 0.6 * setting.unit
    half = (setting.inner - gap) / 2
    shapes = [each.still.shape[1] / each.still.shape[0] for each in shots]
    # Two small pictures and the gap between them are as high as the still next to them.
    small = [round((half - thin - thin * aspect) / 3) for aspect in shapes]
    wide = [round(half - thin - width) for width in small]
    high = [round(width / aspect) for width, aspect in zip(wide, shapes, strict=True)]
    charts = [exposure_map(each.signal, each.things, made=each.map, settings=each.side.measures.settings,
                           still=each.still) for each in shots]

    def draw(paper, left, top, width):
        for number, (each, chart) in enumerate(zip(shots, charts, strict=True)):
            x, y = left + number * (half + gap), top + 2.1 * unit
            caption(paper, (x, top + 1.3 * unit), unit, each.side.name,
                    settings_text(each.side.measures.settings), half)
            set_picture(paper, (x, y), each.still, (wide[number], high[number]))
            size = (small[number], round(small[number] / shapes[number]))
            set_picture(paper, (x + wide[number] + thin, y), chart, size)
            set_picture(paper, (x + wide[number] + thin, y + high[number] - size[1]), _face(each), size)

    names = [each.side.name for each in shots]
    return [Block(2.1 * unit + max(high) + 0.8 * unit, draw),
            *map_scales(setting, "maps: stops from 18 % grey", list(zip(names, charts, strict=True)))]


def _face(each) -> np.ndarray:
    """Return the part of the picture round the face."""
    rows, columns = each.still.shape[:2]
    high, wide = (max(8, round(n / 2.5)) for n in (rows, columns))
    x, y = each.face
    left = int(np.clip((x + 1) / 2 * columns - wide / 2, 0, columns - wide))
    top = int(np.clip((1 - y) / 2 * rows - 0.45 * high, 0, rows - high))
    return np.ascontiguousarray(each.still[top:top + high, left:left + wide])


def match_blocks(shots: Sequence, points: Sequence[Point], words: str, setting: Setting,
                 cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return two shots in blocks.

    Parameters
    ----------
    shots : (Shot, Shot)
        With `side`, `title`, `still`, `signal`, `things`, `map` and `face`.
    points : sequence of comparing_match.Point
        Everything that was compared.
    words : str
        The verdict.
    setting : Setting
    cautions : sequence of Caution
        That the scene calls for.
    """
    unit = setting.unit

    def verdict(paper, left, top, width) -> None:
        paper.text((left, top + 1.6 * unit), words, round(1.3 * unit), weight="strong", room=width)

    titles = list(dict.fromkeys(each.title for each in shots if each.title))
    names = " to ".join(each.side.name for each in shots)
    columns = [
        Column("", "", 1.5, lambda p: p.label, align="left"),
        Column("first", shots[0].side.name, 2.1, lambda p: p.first, align="left"),
        Column("second", shots[1].side.name, 2.1, lambda p: p.second, align="left"),
        Column("difference", "second against first", 1.3, difference_text),
        Column("limit", "", 0.9, limit_text),
        Column("", "", 0.8, lambda p: Cell(state_text(p), strong=p.cuts is False), align="left"),
        Column("what to change", "", 3.3, lambda p: p.advice, align="left"),
    ]
    return [heading(setting, " / ".join(titles), f"Match: {names}"), space(0.5 * unit),
            *_pictures(setting, shots), Block(2.6 * unit, verdict), space(1.2 * unit),
            *Table(setting, columns, points, 0.85).blocks(), space(0.6 * unit),
            *doubt_blocks(setting, [(each.side.name, each.side.measures.short) for each in shots]),
            *foot(setting, (), _NOTE), *caution_blocks(setting, cautions)]


def write_match(stem: Path, shots: Sequence, points: Sequence[Point], words: str, info: dict[str, str],
                cautions: Sequence[Caution] = (), width: int = 2200) -> list[Path]:
    """Write a match as a PNG of a width [px] and a PDF; `info` is what the files say of themselves."""
    setting = Setting(width)
    return write_sheet_files(stem, match_blocks(shots, points, words, setting, cautions), setting, info)
