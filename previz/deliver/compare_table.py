"""The numbers of a comparison: one table a camera, options as rows; and what stands in whose frame.

Every figure is written as a set asks for it, with what it is measured against in its head.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from previz.deliver.canvas import INK
from previz.deliver.face_values import FACE_TERMS, off_balance_text, ratio_texts
from previz.deliver.layout import Block, Setting, paragraph, subheading
from previz.deliver.tables import Cell, Column, Table, face_columns
from previz.deliver.wording import lux_text, ratio_text, settings_text, side_text, signed, stops_text
from previz.exposure.comparing.coverage import (
    HIDDEN,
    IN_FRAME,
    MIRROR,
    NEAR_EDGE,
    Coverage,
    Sighting,
)
from previz.exposure.comparing.faces import LampOnFace

TERMS = (
    *FACE_TERMS,
    ("Against the lit side", "stops from an 18 % card held in the light of the lit cheek."),
    ("Looks", "how large the lit part of what sends the key is as seen from the face."),
    ("Nose edge", "width of the soft edge of the nose's shadow on the darker cheek: that angle "
     "times the distance from the tip of the nose, square to the light."),
    ("Background", "all behind the subject but people, lamps and boards. Hottest and darkest: a "
     "square of a twentieth of the picture's height."),
    ("Eye-light", "mirror direction at each part of the cornea that the camera sees, followed to "
     "a lamp, board, frame or window; it counts from three stops over the iris. The hour is its "
     "place on the eye as the camera sees it, the millimetres its size there."),
    ("Off balance", "plus is warmer than the camera is set for."),
    ("Load", "all lamps that are lit, at full level, by the power factor of each; ≈ where watts are not "
     "stated and were guessed from the lumens."),
)  # fmt: skip
"""What the heads of the table mean."""


def _stops(area: object | None) -> Cell:
    return Cell("–") if area is None else Cell(stops_text(area.stops), area.name)


def _key(of: Callable) -> Callable:
    return lambda one: "–" if one.key is None else of(one)


def _spill(one) -> Cell:
    if one.spill is None:
        return Cell("–")
    return Cell(stops_text(one.spill.stops), f"{100 * one.spill.key_share:.0f} % of it key")


def _eye(one) -> Cell:
    if one.face is None:
        return Cell("–")
    if not one.eye_lights:
        return Cell("none")
    best = one.eye_lights[0]
    more = f", {len(one.eye_lights) - 1} more" if len(one.eye_lights) > 1 else ""
    return Cell(best.thing, f"at {best.clock} o'clock, {1e3 * best.width:.1f} mm{more}")


def _colour(one) -> Cell:
    if one.face is None or one.face.cct is None:
        return Cell("–")
    duv = one.face.duv
    tint = "" if abs(duv) < 0.0015 else f"Duv {signed(duv, 4)}"
    return Cell(f"{one.face.cct:.0f} K", tint)


def _load(one) -> Cell:
    load = one.load
    if load is None or load.watts == 0:
        return Cell("–")
    about = "≈ " if load.guessed else ""
    return Cell(f"{about}{lux_text(load.watts)} W", f"{load.amperes:.1f} A")


def _gain(one) -> str:
    load = one.load
    if load is None or load.lux_per_watt is None:
        return "–"
    return f"{load.lux_per_watt:.2f}" if load.lux_per_watt < 10 else f"{load.lux_per_watt:.0f}"


def columns(volts: float, spill: str) -> list[Column]:
    """Return the columns of a camera's table: mains of so many volts [V], spill on a surface, '' for none."""
    return [
        Column("option", "", 1.8, lambda one: one.option or "as written", align="left"),
        *face_columns(lambda one: one, (1.1, 1.1, 1.1), "Face"),
        Column("comes from", "", 1.75, _key(lambda k: Cell(
            k.key.thing, "" if k.key.thing in k.key.lamps else f"lit by {', '.join(k.key.lamps)}")),
            "Key", "left"),
        Column("looks", "across × up", 0.95,
               _key(lambda k: f"{k.key.across:.{_digits(k.key.across)}f} × "
                              f"{k.key.up:.{_digits(k.key.up)}f}°")),
        Column("stands", "off the lens", 1.1,
               _key(lambda k: Cell(*side_text(k.key.side, k.key.height)))),
        Column("nose edge", "mm", 0.9, _key(lambda k: _millimetres(k.key.edge))),
        Column("background", "stops", 1.05, lambda k: _stops(k.background),
               "In the frame, against the lit side"),
        Column("hottest", "stops", 1.15, lambda k: _stops(k.hottest)),
        Column("darkest", "stops", 1.1, lambda k: _stops(k.darkest)),
        Column("spill", spill or "stops", 1.15, _spill),
        Column("mirrored", "seen by this camera", 2.0, _eye, "Eye-light", "left"),
        Column("at the face", "", 1.0, _colour, "Colour"),
        Column("off balance", "mired", 0.95, lambda k: off_balance_text(k.face, k.settings)),
        Column("light", "lx / W", 0.75, _gain, "Power"),
        Column("load", f"W; A at {volts:.0f} V", 1.05, _load),
    ]


def _digits(angle: float) -> int:
    return 1 if angle < 9.95 else 0


def _millimetres(metres: float) -> str:
    return f"{1e3 * metres:.1f}" if metres < 0.0995 else f"{1e3 * metres:.0f}"


def camera_table(setting: Setting, camera: str, measured: Sequence) -> list[Block]:
    """Return the table of one camera: what each option measures, in order."""
    figures = dict.fromkeys(one.face.figure for one in measured if one.face is not None)
    same = len({one.settings for one in measured}) == 1
    aside = ", ".join(([f"on {' and '.join(figures)}"] if figures else [])
                      + ([settings_text(measured[0].settings)] if same else []))
    spills = list(dict.fromkeys(one.spill.name for one in measured if one.spill is not None))
    volts = next((one.load.volts for one in measured if one.load is not None), 230.0)
    table = Table(setting, columns(volts, spills[0] if len(spills) == 1 else ""), measured, 0.85)
    return table.under(subheading(setting, f"Camera {camera}", aside))


def sighting_text(sighting: Sighting) -> str:
    """Return one thing in a frame: 'tube two top 0.4 %', 'key in the glass of yard window top'."""
    parts = [sighting.name]
    if sighting.within:
        parts.append(within_text(sighting))
    if sighting.side and sighting.where != HIDDEN:
        parts.append(sighting.side)
    if sighting.share > 0:
        share = 100 * sighting.share
        parts.append(f"{share:.1f} %" if share >= 0.1 else "under 0.1 %")
    return " ".join(parts)


def within_text(sighting: Sighting) -> str:
    """Return what a thing is mirrored in: 'in the glass of yard window', 'in the mirror'."""
    if sighting.by == MIRROR:
        return f"in {sighting.within}"
    return f"in the {sighting.by} of {sighting.within}"


def coverage_lines(coverages: Sequence[Coverage]) -> list[tuple[str, str, str, str, str]]:
    """Return what stands in each camera's frame, options that agree in one line.

    Of each line: camera, options, what is not meant to be seen, left in shot, just outside.
    """
    lines: dict = {}
    options: dict = {}
    for each in coverages:
        kinds = (each.unwanted,
                 [s for s in each.seen if s.where == IN_FRAME and s.on_purpose],
                 [s for s in each.seen if s.where == NEAR_EDGE and not s.on_purpose])
        words = tuple("; ".join(map(sighting_text, kind)) or "none" for kind in kinds)
        lines.setdefault((each.camera, *words), []).append(each.option)
        options.setdefault(each.camera, []).append(each.option)
    found = []
    for (camera, *words), names in lines.items():
        others = [name for name in options[camera] if name not in names]
        shown = ", ".join(filter(None, names)) or "as written"
        if len(names) > 1 and len(names) > len(others):
            shown = f"all but {', '.join(others)}" if others else "all options"
        found.append((camera, shown, *words))
    return found


def conflict_text(gain: LampOnFace, loss: LampOnFace) -> str:
    """Return a note on a lamp that shapes the first of two faces and flattens the second."""
    return (f"'{gain.lamp}' shapes {gain.figure} (lit : shadow {ratio_text(gain.without.value)} without it, "
            f"{ratio_text(gain.ratio)} with it) and flattens {loss.figure} "
            f"({ratio_text(loss.without.value)} without it, {ratio_text(loss.ratio)} with it).")


def faces_table(setting: Setting, rows: Sequence, figures: Sequence[tuple[str, str]]) -> Table:
    """Return the faces of each option side by side, each measured from its own camera.

    Parameters
    ----------
    setting : Setting
    rows : sequence of (option, dict of figure to measures.ShotMeasures)
        What each option measures, by whose face it is.
    figures : sequence of (figure, camera)
        The faces, and the camera of each.
    """
    columns = [Column("option", "", 1.6, lambda row: row[0] or "as written", align="left")]
    for figure, camera in figures:
        def at(row, of: Callable, figure=figure):
            one = row[1].get(figure)
            return of(one) if one is not None and one.face is not None else "–"

        columns += [
            Column("lit : shadow", "key alone : fill below it", 0.9, lambda row, at=at: at(
                row, lambda k: Cell(*ratio_texts(k.face))), f"{figure}, by camera {camera}"),
            Column("lit side of the face", "its own left or right", 1.2,
                   lambda row, at=at: at(row, lambda k: k.face.lit_side)),
            Column("key stands", "off the lens", 1.0, lambda row, at=at: at(
                row, lambda k: ", ".join(side_text(k.key.side, k.key.height)) if k.key else "–")),
        ]
    return Table(setting, columns, rows, 0.85)


def coverage_blocks(setting: Setting, coverages: Sequence[Coverage], rows: Sequence,
                    figures: Sequence[tuple[str, str]],
                    notes: Sequence[tuple[str | None, str]]) -> list[Block]:
    """Return what stands in whose frame, and the faces against each other.

    `rows` and `figures` are those of `faces_table`, `notes` options with a `conflict_text` each.
    """
    title = subheading(setting, "In whose frame",
                       "lamps, stands, boards, frames, flags and cameras, themselves or mirrored")
    made = Table(setting, [
        Column("camera", "", 0.5, lambda line: f"Camera {line[0]}", align="left"),
        Column("options", "", 1.4, lambda line: line[1], align="left"),
        Column("not meant to be seen", "share of the frame", 2.4, lambda line: Cell(
            line[2], strong=line[2] != "none"), align="left", wraps=True),
        Column("left in shot", "share of the frame", 1.8, lambda line: line[3], align="left",
               wraps=True),
        Column("just outside the frame", "within a twentieth of it", 1.3, lambda line: line[4],
               align="left", wraps=True),
    ], coverage_lines(coverages), 0.85).under(title)
    if len(figures) > 1:
        title = subheading(setting, "The faces together", "each measured from its own camera")
        made += faces_table(setting, rows, figures).under(title)
        if not notes:
            notes = [(None, "No lamp that shapes one face flattens the other by a third of a stop "
                            "or more.")]
        for option, text in notes:
            lead = "" if option is None else f"{option or 'as written'}: "
            made.append(paragraph(setting, lead + text, colour=INK))
    return made
