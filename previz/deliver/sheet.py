"""The comparison sheet: options one under the other, still beside map, and one table of readings.

It is made to be decided from: the same picture size for all, the same scale of colours, and every
number a meter's, not a pixel's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from previz.deliver.atomic import write_png
from previz.deliver.canvas import INK, QUIET, Canvas, width_of, wrapped
from previz.deliver.face_values import ratio_texts, side_texts
from previz.deliver.map import ExposureMap, say_dark, swatch
from previz.deliver.still import png_info
from previz.deliver.wording import settings_text
from previz.exposure.faces import FaceLight
from previz.exposure.falsecolour import stop_label
from previz.exposure.metering import Measured
from previz.exposure.trust import doubts
from previz.physics.exposure import CameraSettings

_COLUMNS = (
    # Head, words under it, share of the table's width, and whether a group begins here.
    ("lit side", "lx", 0.09, True),
    ("", "stops", 0.075, False),
    ("shadow side", "lx", 0.095, True),
    ("", "stops", 0.075, False),
    ("ratio", "lit : shadow", 0.115, True),
    ("", "key alone : fill", 0.135, False),
    ("spill on the back wall", "lx", 0.095, True),
    ("", "stops", 0.075, False),
)

_NOTES = (
    "Lit and shadow side are flat incident meters on the brighter and the darker cheek of the face "
    "that the camera is on. Stops are over (+) or under (\N{MINUS SIGN}) the stop that is set (C = 250 "
    "lx s, ISO 2720). Lit : shadow is as metered; key alone is what the lit side has over the shadow "
    "side. Both ratios are in print: say which one you mean. Maps count from 18 % grey before balance "
    "and view."
)


@dataclass(frozen=True, eq=False)
class SheetOption:
    """One option on the sheet.

    Parameters
    ----------
    name : str
        Of the option.
    note : str
        What it changes, in a few words; may be empty.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    chart : ExposureMap
        Of the same frame, with the bands all options share.
    settings : CameraSettings
        The camera in this option.
    face : FaceLight or None
        Of the face that the camera is on; None if there is no meter.
    spill : Measured or None
        On the back wall; None if there is no meter. [lx]
    short : tuple of frames.records.Short
        Meters whose readings are not to be trusted as the others are.
    """

    name: str
    note: str
    still: np.ndarray
    chart: ExposureMap
    settings: CameraSettings
    face: FaceLight | None = None
    spill: Measured | None = None
    short: tuple = ()


@dataclass(frozen=True)
class _Plan:
    """Sizes that follow from the number of options and the shape of the picture. [px]"""

    width: int
    unit: int
    margin: int
    gap: int
    across: int
    picture: tuple[int, int]
    caption: int
    head: int
    rows: int

    @property
    def block(self):
        return 2 * self.picture[0] + self.gap

    @property
    def pictures_end(self):
        return self.head + self.rows * (self.caption + self.picture[1] + self.gap)


def _plan(options, width):
    unit = max(12, round(width / 100))
    margin, gap = round(2.8 * unit), round(1.2 * unit)
    # From four options on two pairs stand side by side, so the sheet stays near a page's shape.
    across = 1 if len(options) <= 3 else 2
    between = 2 * gap * (across - 1)
    picture_wide = (width - 2 * margin - between - across * gap) // (2 * across)
    rows, columns = options[0].still.shape[:2]
    return _Plan(
        width=width,
        unit=unit,
        margin=margin,
        gap=gap,
        across=across,
        picture=(picture_wide, round(picture_wide * rows / columns)),
        caption=round(2.3 * unit),
        head=round(7.7 * unit),
        rows=-(-len(options) // across),
    )


def draw_sheet(options, *, title, subject, width=2000):
    """Lay out a comparison sheet.

    Parameters
    ----------
    options : sequence of SheetOption
        One or more, in the order to show them; pictures of one shape, maps of the same bands.
    title : str
        Of the scene.
    subject : str
        What all have in common: the camera, for one.
    width : int
        1000 or more. [px]

    Returns
    -------
    Canvas
        As high as the options need.

    Raises
    ------
    ValueError
        There are no options, they do not share shape and bands, or the sheet is too narrow.
    """
    options = tuple(options)
    if not options:
        raise ValueError("a sheet needs at least one option")
    if width < 1000:
        raise ValueError(f"a sheet must be 1000 px wide or more, got {width}")
    if len({option.still.shape for option in options}) != 1:
        raise ValueError("the stills of a sheet must have one size")
    if len({option.chart.bands for option in options}) != 1:
        raise ValueError("the maps of a sheet must share their bands")
    plan = _plan(options, width)
    unit, inner = plan.unit, width - 2 * plan.margin
    told = notes_of(options)
    notes = wrapped(told, unit, inner)
    scale_at = plan.pictures_end + round(0.8 * unit)
    table_at = scale_at + 5 * unit
    notes_at = table_at + round((5.2 + 2.4 * len(options)) * unit)
    canvas = Canvas(width, notes_at + round(1.45 * unit * (len(notes) - 1)) + plan.margin)

    same = len({option.settings for option in options}) == 1
    _draw_head(canvas, plan, title, subject, options[0].settings if same else None)
    for number, option in enumerate(options):
        _draw_option(canvas, plan, number, option, settings=not same)
    _draw_scale(canvas, plan, options[0].chart.bands, scale_at)
    _draw_table(canvas, plan, options, table_at)
    canvas.paragraph((plan.margin, notes_at), told, unit, inner)
    return canvas


def notes_of(options) -> str:
    """Return the words under the table: what its numbers are, and which are in doubt."""
    told = doubts([(option.name, option.short) for option in options])
    return f"{told} {_NOTES}" if told else _NOTES


def _draw_head(canvas, plan, title, subject, settings):
    unit, right = plan.unit, plan.width - plan.margin
    base = plan.margin + round(1.2 * unit)
    line = settings_text(settings) if settings else ""
    taken = width_of(line, round(1.2 * unit))
    canvas.text((plan.margin, base), title, 2 * unit, weight="strong",
                room=right - plan.margin)  # fmt: skip
    under = base + 2 * unit
    canvas.text((plan.margin, under), subject, round(1.2 * unit), colour=QUIET,
                room=right - plan.margin - taken - 2 * unit)  # fmt: skip
    canvas.text((right, under), line, round(1.2 * unit), colour=QUIET, align="right")
    canvas.rule(plan.margin, right, under + unit)


def _draw_option(canvas, plan, number, option, settings):
    unit = plan.unit
    left = plan.margin + number % plan.across * (plan.block + 2 * plan.gap)
    top = plan.head + number // plan.across * (plan.caption + plan.picture[1] + plan.gap)
    base = top + plan.caption - round(0.7 * unit)
    size, small = round(1.3 * unit), round(1.1 * unit)
    # Settings that differ between options must stay readable however long the name is.
    line = settings_text(option.settings) if settings else ""
    room = plan.block - (width_of(line, small) + unit if line else 0)
    canvas.text((left + plan.block, base), line, small, colour=QUIET, align="right")
    taken = canvas.text((left, base), option.name, size, weight="strong", room=room)
    if option.note and room - taken > 4 * unit:
        canvas.text((left + taken + unit, base), option.note, small, colour=QUIET,
                    room=room - taken - unit)  # fmt: skip
    at = (left, top + plan.caption)
    canvas.picture(at, option.still, plan.picture)
    right = (left + plan.picture[0] + plan.gap, top + plan.caption)
    canvas.picture(right, option.chart.picture(plan.picture))
    if option.chart.dark:
        say_dark(canvas, right, plan.picture, size)


def _draw_scale(canvas, plan, bands, top):
    unit = plan.unit
    lead = "stops from 18 % grey"
    start = plan.margin + round(width_of(lead, unit)) + round(1.5 * unit)
    canvas.text((plan.margin, top + round(1.45 * unit)), lead, unit, colour=QUIET)
    wide = (plan.width - plan.margin - start) / len(bands)
    high = 2 * unit
    for number, band in enumerate(bands):
        left, right = round(start + number * wide), round(start + (number + 1) * wide)
        swatch(canvas, (left, top, right, top + high), band)
        words = band.label
        if band.mark:
            limit = stop_label(band.centre, 1)
            words = f"under {limit}" if band.mark == "dots" else f"over {limit}"
        canvas.text(((left + right) / 2, top + high + round(1.35 * unit)), words, unit,
                    align="centre", room=wide)  # fmt: skip


def cells(option):
    """Return the table's words for one option, in the order of `_COLUMNS`."""
    lit = shadow = spill = ratios = ("–", "–")
    if option.face is not None:
        lit, shadow = (side_texts(each, option.settings)
                       for each in (option.face.lit, option.face.shadow))
        ratios = ratio_texts(option.face)
    if option.spill is not None:
        spill = side_texts(option.spill, option.settings)
    return (*lit, *shadow, *ratios, *spill)


def _draw_table(canvas, plan, options, top):
    unit, left = plan.unit, plan.margin
    inner = plan.width - 2 * plan.margin
    ends = left + inner * (1 - np.cumsum([share for *_, share, _ in _COLUMNS][::-1])[::-1])
    rights = [*(ends[1:]), left + inner]
    small = round(0.95 * unit)
    base = top + unit
    for number, (head, below, _, group) in enumerate(_COLUMNS):
        if head:
            last = number
            while last + 1 < len(_COLUMNS) and not _COLUMNS[last + 1][3]:
                last += 1
            room = rights[last] - ends[number] - 0.5 * unit
            canvas.text((rights[last], base), head, unit, align="right", room=room)
            if last > number and group:
                start = rights[last] - room + unit
                canvas.rule(start, rights[last], base + round(0.45 * unit))
        canvas.text((rights[number], base + round(1.7 * unit)), below, small, colour=QUIET,
                    align="right")  # fmt: skip
    canvas.text((left, base + round(1.7 * unit)), "option", small, colour=QUIET)
    line = base + round(2.4 * unit)
    canvas.rule(left, left + inner, line, INK)
    size = round(1.2 * unit)
    for number, option in enumerate(options):
        base = line + round((2.4 * number + 1.65) * unit)
        canvas.text((left, base), option.name, size, weight="strong", room=ends[0] - left)
        for right, words in zip(rights, cells(option), strict=True):
            canvas.text((right, base), words, size, align="right")
        canvas.rule(left, left + inner, line + round(2.4 * (number + 1) * unit))


def write_sheet(path, options, *, title, subject, words, width=2000):
    """Write a comparison sheet.

    Parameters
    ----------
    path : path-like
        A .png; replaced in one step.
    options : sequence of SheetOption
        As in `draw_sheet`.
    title, subject : str
        As in `draw_sheet`.
    words : dict of str to str
        What the file says of itself.
    width : int
        [px]
    """
    canvas = draw_sheet(options, title=title, subject=subject, width=width)
    write_png(path, canvas.image, png_info(words))
