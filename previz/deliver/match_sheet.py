"""Two shots that must cut: side by side, point by point, with a verdict in plain words."""

from __future__ import annotations

import numpy as np

from previz.deliver.canvas import QUIET
from previz.deliver.compare_table import signed
from previz.deliver.map import exposure_map
from previz.deliver.pages import Block, Setting, heading, paragraph, space
from previz.deliver.sheet_files import write_sheet_files
from previz.deliver.tables import Cell, Column, Table, doubt_blocks
from previz.deliver.wording import settings_text
from previz.exposure.comparing.match import UNITS
from previz.exposure.falsecolour import stop_bands

_NOTE = (
    "Levels are as exposed, colours as balanced: what is seen across the cut, not what was lit. "
    "Differences are the second shot against the first. Lit side: a flat meter on the brighter "
    "cheek, stops over the stop that is set. Lit : shadow: both cheeks as metered; key alone is what "
    "the lit side has over the shadow side. Key direction is told as the camera sees it. Shadow edge: width "
    "of the soft edge of the nose's shadow. Haze veil: what the air alone adds to the picture. The "
    "limits are habits of the trade; set your own with --allow."
)


def state_text(point) -> str:
    """Return how a point stands, in a word or two.

    Parameters
    ----------
    point : comparing_match.Point
        What is compared.
    """
    if point.cuts is None:
        return "in neither" if point.first == point.second else "not compared"
    return "cuts" if point.cuts else "differs"


def difference_text(point) -> str:
    """Return a difference with its unit.

    Parameters
    ----------
    point : comparing_match.Point
        What is compared.
    """
    if point.difference is not None and np.isinf(point.difference):
        return "light in one alone"
    if point.difference is None:
        return "–"
    unit = UNITS[point.key]
    if unit == "deg":
        return f"{point.difference:.0f}°"
    if unit == "Duv":
        return signed(point.difference, 4)
    if unit == "mired":
        return f"{signed(point.difference)} mired"
    return f"{signed(point.difference, 1)} stops"


def limit_text(point) -> str:
    """Return a limit with its unit, the sign left out.

    Parameters
    ----------
    point : comparing_match.Point
        What is compared.
    """
    unit = UNITS[point.key]
    if unit == "stops" and point.limit == 1:
        return "1 stop"
    return f"{point.limit:g}°" if unit == "deg" else f"{point.limit:g} {unit}"


def _pictures(setting: Setting, shots) -> Block:
    """Return the two stills, each with its map and its face, larger, at its side."""
    unit, gap, thin = setting.unit, 1.6 * setting.unit, 0.6 * setting.unit
    half = (setting.inner - gap) / 2
    shapes = [each.still.shape[1] / each.still.shape[0] for each in shots]
    # Two small pictures and the gap between them are as high as the still beside them.
    small = [round((half - thin - thin * aspect) / 3) for aspect in shapes]
    wide = [round(half - thin - width) for width in small]
    high = [round(width / aspect) for width, aspect in zip(wide, shapes, strict=True)]

    def draw(paper, left, top, width):
        for number, each in enumerate(shots):
            x = round(left + number * (half + gap))
            taken = paper.text((x, top + 1.3 * unit), each.side.name, round(1.15 * unit),
                               weight="strong", room=half)
            paper.text((x + taken + unit, top + 1.3 * unit), settings_text(each.side.measures.settings),
                       round(0.9 * unit), colour=QUIET, room=half - taken - unit)
            y = round(top + 2.1 * unit)
            paper.picture((x, y), each.still, (wide[number], high[number]))
            chart = exposure_map(each.signal, stop_bands(), each.things)
            size = (small[number], round(small[number] / shapes[number]))
            beside = round(x + wide[number] + thin)
            paper.picture((beside, y), chart.picture(size), smooth=False)
            _face(paper, each, (beside, y + high[number] - size[1]), size)

    return Block(2.1 * unit + max(high) + 0.8 * unit, draw)


def _face(paper, each, at, size):
    """Set the part of the picture round the face larger."""
    rows, columns = each.still.shape[:2]
    high, wide = (max(8, round(n / 2.5)) for n in (rows, columns))
    x, y = each.face
    left = int(np.clip((x + 1) / 2 * columns - wide / 2, 0, columns - wide))
    top = int(np.clip((1 - y) / 2 * rows - 0.45 * high, 0, rows - high))
    crop = np.ascontiguousarray(each.still[top:top + high, left:left + wide])
    paper.picture(at, crop, size)


def match_blocks(shots, points, words: str, setting: Setting, cautions=()) -> list[Block]:
    """Return two shots in blocks.

    Parameters
    ----------
    shots : (Shot, Shot)
        With `side`, `title`, `still`, `signal`, `things` and `face`.
    points : sequence of comparing_match.Point
        Everything that was compared.
    words : str
        The verdict.
    setting : Setting
        Sizes of the sheet.
    cautions : sequence of str
        That the scene calls for.
    """
    unit = setting.unit

    def verdict(paper, left, top, width):
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
    blocks = [heading(setting, " / ".join(titles), f"Match: {names}"), space(0.5 * unit),
              _pictures(setting, shots), Block(2.6 * unit, verdict), space(1.2 * unit),
              *Table(setting, columns, points, 0.85).blocks(), space(0.6 * unit),
              *doubt_blocks(setting, [(each.side.name, each.side.measures.short) for each in shots]),
              paragraph(setting, _NOTE)]
    if cautions:
        blocks.append(paragraph(setting, " ".join(cautions)))
    return blocks


def write_match(stem, shots, points, words: str, info, cautions=(), width: int = 2200):
    """Write a match as a PNG and a PDF.

    Parameters
    ----------
    stem : Path
        Without the ending.
    shots, points, words, cautions
        As in `match_blocks`.
    info : dict of str to str
        What the files say of themselves.
    width : int
        Of the PNG. [px]

    Returns
    -------
    list of Path
    """
    setting = Setting(width)
    blocks = match_blocks(shots, points, words, setting, cautions)
    return write_sheet_files(stem, blocks, setting, info)
