"""Gel, diffusion and cloth by area: what is covered, what is cut off, what to bring."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from previz.plans.lengths import METRIC, roughly, said
from previz.plans.lines import SheetLine
from previz.scene.gel import gel_name
from previz.scene.scene import Scene
from previz.scene.surface import Surface
from previz.stage.heat import HOT_SPECTRA, NEAR_CLOTH
from previz.stage.records import Stage
from previz.studies.paper.cutting import SEAM, roll_length
from previz.studies.paper.lamps import short_name, takes_gel

ROLL = 1.22
"""Width of a roll of gel, diffusion or cloth, 4 ft. [m]  Common practice, no source."""

MARGIN = 0.05
"""That a piece is larger on every side than what it covers, to fasten it. [m]  Common practice, no source."""

GEL, DIFFUSION, WINDOW, NET, CLOTH, BLIND = "gel", "diffusion", "window gel", "net", "cloth", "blind"

CLOTHS = ("muslin", "unbleached muslin", "black cloth", "grey cloth", "wool", "canvas", "white cotton",
          "linen", "denim", "red cloth", "hessian", "satin", "black velvet", "tarpaulin")
"""Surfaces of boards that are cloth off a roll; others are rigid."""

HOT_GEL = "hot lamp: heat-resistant gel in its holder, clear of lens and vents"
HOT_CLOTH = "hot lamp near: flame-retardant cloth, and the lamp's marked distance kept"
READY = "none for flags and nets that come ready-made"

HOT = (*HOT_SPECTRA, "blackbody")
"""Spectra of lamps whose gels are cautioned about."""


@dataclass(frozen=True)
class _Piece:
    """One cut: what of, what it covers [m²], for whom, its sides [m], what to heed."""

    what: str
    use: str
    area: float
    name: str
    cut: tuple[float, float]
    note: str = ""


def sheet_lines(scene: Scene, stage: Stage, tags: Mapping[str, str],
                roll: float = ROLL) -> tuple[SheetLine, ...]:
    """Return gel, diffusion, nets and cloth by what they are.

    Parameters
    ----------
    scene : Scene
        One option of a scene; a lamp that is off has its gel all the same.
    stage : Stage
        Built of it.
    tags : mapping of str to str
        As `previz.plans.tags.tags_of` gives them; things come in their order.
    roll : float
        Width of the rolls that all is cut from. [m]
    """
    pieces = [*_of_lamps(scene), *_of_openings(scene), *_of_sheets(scene)]
    order = {name: number for number, name in enumerate(tags)}
    pieces.sort(key=lambda piece: order.get(piece.name, len(order)))
    groups: dict[tuple[str, str], list[_Piece]] = {}
    for piece in pieces:
        groups.setdefault((piece.use, piece.what), []).append(piece)
    return tuple(_line(group, roll) for _, group in sorted(
        groups.items(), key=lambda each: (USES.index(each[0][0]), each[0][1])))


USES = (GEL, WINDOW, DIFFUSION, NET, CLOTH, BLIND)


def _line(pieces: list[_Piece], roll: float) -> SheetLine:
    first, area = pieces[0], sum(piece.area for piece in pieces)
    rolled = first.use != BLIND
    order = roll * roll_length([piece.cut for piece in pieces], roll) if rolled else area
    return SheetLine(first.what, first.use, area, 1 - area / order, order,
                     tuple(dict.fromkeys(piece.name for piece in pieces)),
                     "; ".join(dict.fromkeys(piece.note for piece in pieces if piece.note)),
                     tuple((piece.name, *piece.cut) for piece in pieces) if rolled else (),
                     roll if rolled else 0.0)


def sheet_notes(lines: Iterable[SheetLine], system: str = METRIC) -> tuple[str, ...]:
    """Return what is said under a list: how much larger pieces are cut, and off which roll."""
    rolls = sorted({line.roll for line in lines if line.roll})
    if not rolls:
        return ()
    widths = " and ".join(said(roll, system) for roll in rolls)
    return (f"Pieces are {roughly(MARGIN, system)} larger on every side than what they cover, cut off rolls "
            f"{widths} wide; what is wider is joined with seams of {roughly(SEAM, system)} (common "
            "practice, no source).",)


def fastened(width: float, height: float) -> tuple[float, float]:
    """Return the sides of a piece that covers a face, with the margin to fasten it. [m]"""
    return width + 2 * MARGIN, height + 2 * MARGIN


def _of_lamps(scene: Scene) -> Iterator[_Piece]:
    for light in scene.lights:
        skirt = getattr(light, "skirt", None)
        if skirt is not None:
            around = _rim(light)
            yield _Piece("black cloth", CLOTH, around * skirt, light.name, fastened(around, skirt),
                         HOT_CLOTH if light.spectrum in HOT else "")
        # The colour of a picture, of what glows and of a flame is no sheet's.
        for gel in light.gel if takes_gel(light) else ():
            area, cut = _covered(light)
            yield _Piece(gel_name(gel), GEL, area, light.name, cut, HOT_GEL if light.spectrum in HOT else "")


def _covered(light: Any) -> tuple[float, tuple[float, float]]:
    """Return what a gel covers of a lamp [m²], and the sides of what is cut for it. [m]"""
    size, lens = getattr(light, "size", None), getattr(light, "lens", None)
    if size is not None:
        return float(size[0] * size[1]), fastened(*size)
    if lens is not None:
        return math.pi * lens**2 / 4, fastened(lens, lens)
    shade = getattr(light, "shade", None)
    if shade is not None:
        # Inside the shade, clear of the bulb.
        around = math.pi * max(shade.top, shade.bottom)
        return around * shade.height, fastened(around, shade.height)
    around, length = math.pi * light.diameter, getattr(light, "length", light.diameter)
    return around * length, fastened(around, length)


def _rim(light: Any) -> float:
    """Return how long a skirt round a lamp is. [m]"""
    size = getattr(light, "size", None)
    return float(2 * (size[0] + size[1])) if size is not None else math.pi * light.diameter


def _of_openings(scene: Scene) -> Iterator[_Piece]:
    for opening in scene.room.openings if scene.room else ():
        width, height = opening.size
        area, cut = width * height, fastened(width, height)
        for gel in opening.gel:
            yield _Piece(f"window gel {gel_name(gel).removeprefix('gel ')}", WINDOW, area, opening.name, cut)
        if opening.curtain is not None:
            over = 2 * opening.curtain.overlap
            covered = (width + over) * (height + over)
            yield _Piece("net curtain", NET, covered, opening.name,
                         fastened((width + over) * opening.curtain.fullness, height + over))
        if opening.blind is not None:
            slats = f"blind, slats of {1000 * opening.blind.width:.0f} mm"
            yield _Piece(slats, BLIND, area * opening.blind.lowered, opening.name, cut, "made to measure")


def _of_sheets(scene: Scene) -> Iterator[_Piece]:
    hot = {light.name for light in scene.lights if light.spectrum in HOT}

    def note(item: Any) -> str:
        near = item.before and item.before.name in hot and item.distance < NEAR_CLOTH
        notes = (READY if item.noun in ("flag", "net") else "", HOT_CLOTH if near else "")
        return "; ".join(filter(None, notes))

    for frame in scene.diffusion:
        yield _whole(frame, short_name(frame), DIFFUSION, note(frame))
    for net in scene.nets:
        yield _whole(net, short_name(net), NET, note(net))
    for flag in scene.flags:
        yield from _flag(flag, note(flag))
    for board in scene.boards:
        cloth = _cloth(board.surface)
        if board.side is None and cloth:
            yield _whole(board, cloth, CLOTH)


def _whole(item: Any, what: str, use: str, note: str = "") -> _Piece:
    return _Piece(what, use, float(item.size[0] * item.size[1]), item.name, fastened(*item.size), note)


def _flag(item: Any, note: str) -> Iterable[_Piece]:
    if item.shape != "T":
        return [_whole(item, "black cloth", CLOTH, note)]
    width, height = item.size
    bar, stem = min(item.bar, height), min(item.bar, width)
    parts = [(width, bar), (stem, height - bar)]
    return [_Piece("black cloth", CLOTH, a * b, item.name, fastened(a, b), note) for a, b in parts if b > 0]


def _cloth(surface: Surface) -> str:
    """Return the name of a board's cloth, '' for a rigid board."""
    return surface.name or "" if surface.name in CLOTHS else ""
