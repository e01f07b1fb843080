"""A scene over a day: a picture for each time, and what of the face is the sun's."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from previz.deliver.canvas import INK
from previz.deliver.face_values import FACE_TERMS, off_balance_text
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
from previz.deliver.tables import Column, Table, face_columns
from previz.deliver.wording import lux_text, settings_text, signed, stops_text
from previz.exposure.comparing.day import Hour, summary
from previz.exposure.metering import Measured, from_working
from previz.physics.safety import Caution

ACROSS = 4
"""Most pictures side by side."""

TERMS = (
    ("Sun helps", "how far the face would fall without the sun."),
    *FACE_TERMS,
    ("Outside", "sun, moon and sky are those of the scene at that moment, as 'previz meter' has them: "
     "by the laws of a typical sky of its kind, in twilight by a published "
     "curve, and of clear air. A level that the scene states goes "
     "on by the same law; clouds are not foretold."),
    ("Lamp outside", "intensity that lights the opening as the sun does, from the distance given; "
     "its shadows open out where the sun's stay parallel."),
)
"""What the heads mean."""


def _sun(hour: Hour) -> str:
    return (f"sun {hour.altitude:.0f}° high" if hour.altitude > 0
            else f"sun {-hour.altitude:.0f}° under the horizon")


def _plot(setting: Setting, hours: Sequence[Hour]) -> Block:
    unit, size = setting.unit, 0.85 * setting.unit
    high = 17 * unit

    def level(lux: float, hour: Hour) -> float:
        return from_working(Measured(max(lux, 1e-9), 0.0), hour.measures.settings).value

    lines = {"all": [level(h.total, h) for h in hours],
             "without the sun": [level(h.total - h.sun, h) for h in hours],
             "sun alone": [level(h.sun, h) if h.sun > 0 else np.nan for h in hours],
             "lamps alone": [level(h.lamps, h) if h.lamps > 0 else np.nan for h in hours]}
    finite = [v for values in lines.values() for v in values if np.isfinite(v) and v > -9]
    low, top_value = np.floor(min(finite, default=-4)), np.ceil(max(finite, default=2) + 0.01)

    def draw(paper, left, top, width):
        box = (left + 3 * size, top + 2.2 * unit, left + width - 10 * size, top + high - 2.8 * unit)
        span = max(hours[-1].hours - hours[0].hours, 1.0)
        panel = Panel(paper, box, (hours[0].hours - 0.02 * span, hours[-1].hours + 0.02 * span),
                      (low, top_value), size)
        panel.ground()
        ticks = np.arange(low, top_value + 0.5, 1 if top_value - low <= 8 else 2)
        panel.scale_up(ticks, [signed(t) for t in ticks], strong=(0,))
        panel.scale_across([h.hours for h in hours], [h.label for h in hours])
        panel.title("the lit side of the face", "stops from the working stop")
        for (name, values), colour in zip(lines.items(), (LINES[0], LINES[2], LINES[1], LINES[3]),
                                          strict=True):
            # What lies under the plot is left out, not drawn along its foot.
            held = [v if np.isfinite(v) and v >= low else np.nan for v in values]
            panel.line([h.hours for h in hours], held, colour, 0.18 * size)
            shown = [(h.hours, v) for h, v in zip(hours, held, strict=True) if np.isfinite(v)]
            for at, value in shown:
                panel.mark(at, value, colour)
            if shown:
                panel.name_end(*shown[-1], name, colour)
        panel.settle_names()

    return Block(high, draw)


def _face(of: Callable) -> Callable:
    return lambda hour: "–" if hour.measures.face is None else of(hour)


def _columns(distance: float) -> list[Column]:
    return [
        Column("time", "", 0.8, lambda h: h.label, align="left"),
        Column("sun", "altitude; azimuth", 1.3,
               lambda h: f"{h.altitude:.0f}°".replace("-", "\N{MINUS SIGN}")
               + f"; {h.azimuth:.0f}°"),
        *face_columns(lambda h: h.measures, (1.0, 1.0, 1.1)),
        Column("sun", "lx on the lit side", 1.1, _face(lambda h: lux_text(h.sun))),
        Column("sun helps", "stops", 0.9, _face(lambda h: "all of it" if np.isinf(h.help)
               else stops_text(h.help))),
        Column("at the face", "", 0.9, lambda h: "–" if h.measures.face is None
               or h.measures.face.cct is None else f"{h.measures.face.cct:.0f} K"),
        Column("off balance", "mired", 0.9,
               lambda h: off_balance_text(h.measures.face, h.measures.settings)),
        Column("background", "stops against the lit side", 1.3,
               lambda h: "–" if h.measures.background is None else stops_text(h.measures.background.stops)),
        Column("lamp outside", f"kcd from {distance:g} m", 1.2,
               lambda h: "–" if h.outside is None else lux_text(h.outside.intensity / 1e3)),
    ]


def times_blocks(hours: Sequence[Hour], setting: Setting, *, title: str, subject: str,
                 distance: float, least: float, cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a scene over a day in blocks.

    Parameters
    ----------
    hours : sequence of Hour
        In the order of the day.
    setting : Setting
    title, subject : str
        Of the scene; date, place, camera and face.
    distance : float
        From the lamp outside to the opening. [m]
    least : float
        From how much the sun helps. [stops]
    cautions : sequence of Caution
        That the scene calls for.

    Raises
    ------
    ValueError
        There is no time.
    """
    if not hours:
        raise ValueError("a day needs at least one time")
    unit = setting.unit
    plates = [Plate(([hour.still],), hour.label, _sun(hour)) for hour in hours]
    blocks = [heading(setting, title, subject, settings_text(hours[0].measures.settings)),
              space(0.6 * unit), *plate_rows(setting, plates, min(ACROSS, len(plates)))]
    if any(hour.measures.face is not None for hour in hours):
        blocks += [paragraph(setting, summary(hours, least), colour=INK, size=1.1), space(0.5 * unit),
                   _plot(setting, hours)]
    return [*blocks, *Table(setting, _columns(distance), hours, 0.85).blocks(),
            *doubt_blocks(setting, [(hour.label, hour.measures.short) for hour in hours]),
            *foot(setting, TERMS), *caution_blocks(setting, cautions)]


def write_times(stem: Path, hours: Sequence[Hour], words: dict[str, str], width: int = 2200,
                **more) -> list[Path]:
    """Write a scene over a day as a PNG of a width [px] and a PDF; the rest is of `times_blocks`."""
    setting = Setting(width)
    return write_sheet_files(stem, times_blocks(hours, setting, **more), setting, words)
