"""An outfit on a figure: its garments cut once for a person, and in a pose layer over layer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from types import SimpleNamespace
from typing import Any

import numpy as np

from previz.stage.figures.data import body_data
from previz.stage.figures.dress import suit
from previz.stage.figures.mesh import compact, smooth_normals, triangles, unit
from previz.stage.figures.pose import SIDES
from previz.stage.figures.wardrobe import (
    apron,
    coat,
    frock,
    jacket,
    jumper,
    overalls,
    scarf,
    shirt,
    skirt,
    stockings,
    trousers,
)
from previz.stage.figures.wardrobe.cloth import ARM, LEG, Draped, rest_of, weave
from previz.stage.figures.wardrobe.creases import creases
from previz.stage.figures.wardrobe.cutting import Sheet, panel_sheet
from previz.stage.figures.wardrobe.garment import GAP, Made
from previz.stage.figures.wardrobe.hung import skirt_sheet
from previz.stage.figures.wardrobe.pinned import discs, laid_sheet

GARMENTS = {
    "shirt": shirt.make,
    "trousers": trousers.make,
    "skirt": skirt.make,
    "dress": frock.make,
    "overalls": overalls.make,
    "jumper": jumper.make,
    "jacket": jacket.make,
    "apron": apron.make,
    "coat": coat.make,
    "stockings": stockings.make,
    "scarf": scarf.make,
}
"""Word -> how it is cut: a function of (rest, wear, height of what is under it) that returns `Made`."""


@dataclass(frozen=True)
class Wear:
    """One garment, in plain values that can be a key.

    Parameters
    ----------
    kind : str
    options : tuple of (str, object)
        Its own fields.
    """

    kind: str
    options: tuple[tuple[str, Any], ...] = ()


@dataclass(frozen=True)
class Piece:
    """A part of a garment on a figure: which garment of the outfit it is of, and its sheet."""

    garment: int
    sheet: Sheet


@lru_cache(12)
def cut_outfit(person, wears) -> tuple[Made, ...]:
    """Return the garments of an outfit cut for a person, the innermost first."""
    rest = rest_of(person)
    under = np.zeros(len(rest.points))
    made = []
    for wear in wears:
        with_it = SimpleNamespace(**dict(wear.options), others={each.kind for each in wears})
        made.append(GARMENTS[wear.kind](rest, with_it, under))
        lifted = np.where(covered(made[-1]), made[-1].lift + GAP, under)
        under = np.maximum(under, lifted) + made[-1].over
    shown = []
    for number, one in enumerate(made):
        above = [other.hides for other in made[number + 1 :] if other.hides is not None]
        shown.append(_seen(one, np.maximum.reduce(above)) if above else one)
    return tuple(shown)


def covered(made):
    """Return where a garment has cloth, shape (fine,)."""
    found = np.zeros(len(made.lift), bool)
    for panel in made.panels:
        found |= panel.panel.keep > -0.02
    return found


def _seen(made, hidden):
    """Return a garment without what lies well under another."""
    panels = []
    for each in made.panels:
        gone = each.cut.apply(hidden)[each.cut.faces].min(axis=1) > 0.0
        edges = each.cut.rim[~_gone_edges(each.cut.rim, each.cut.faces, gone)]
        cut = replace(each.cut, faces=each.cut.faces[~gone], rim=edges)
        panels.append(replace(each, cut=cut, uv_faces=each.uv_faces[~gone]))
    laid = tuple(each for each in made.laid if _peeks(each.pins, hidden))
    buttons = tuple(each for each in made.buttons if _peeks(each.pins, hidden))
    return replace(made, panels=tuple(panels), laid=laid, buttons=buttons)


def _gone_edges(rim, faces, gone):
    """Return which edges of a rim belong to faces that are gone."""
    size = int(faces.max()) + 1 if len(faces) else 1
    on_rim = np.zeros(size, bool)
    on_rim[rim.ravel()] = True
    faces = faces[gone]
    faces = faces[on_rim[faces].sum(axis=1) >= 2]
    sides = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    return np.isin(
        rim[:, 0].astype(np.int64) * size + rim[:, 1], sides[:, 0].astype(np.int64) * size + sides[:, 1]
    )


def _peeks(pins, hidden):
    return bool((hidden[pins.rows[:, 0]] < 0.0).any())


def heights(drawn: Draped, wears):
    """Yield each garment of an outfit with its height over the cloth, folds and all, and how far it hangs.

    Each as (Made, shape (fine,) [m], shape (fine, 3) [m]), the innermost first; a garment is over what is
    under it wherever both have cloth.
    """
    down, lies = _down(drawn), _lies(drawn)
    if drawn.leans:
        # A sleeve is pressed on the table under the arm's weight.
        fore = np.clip((drawn.rest.along - 0.12) / 0.1, 0, 1) * weave().arm
        lies = lies * (1 - 0.95 * fore * np.clip(-1.5 * drawn.normals[:, 2], 0, 1))
        down = down * (1 - fore[:, None])
    floor = np.full(len(drawn.points), -1.0)
    sunk = np.zeros(len(drawn.points))
    for made in cut_outfit(drawn.person, wears):
        lift = made.lift
        if made.habit is not None and (made.panels or made.skirts):
            lift = lift + np.maximum(made.soft * creases(drawn, made.habit), -0.6 * np.maximum(made.lift, 0))
        lift = np.maximum(lift * lies, floor)
        # What has room hangs to the lower side of the limb; never less far than what is in it.
        slack = np.maximum(sunk, made.hang * np.clip(lift - np.maximum(floor, 0) - 3e-3, 0, 0.02))
        yield made, lift, down * slack[:, None]
        cloth = covered(made)
        floor = np.where(cloth, np.maximum(lift + GAP, floor), floor) + made.over
        sunk = np.where(cloth, slack, sunk)


def _lies(drawn):
    """Return the share of a garment's height that is left: on a level thigh cloth lies flat. [1]"""
    return 1 - 0.85 * weave().leg * np.clip(drawn.normals[:, 2], 0, 1)


def worn(drawn: Draped, wears) -> list[Piece]:
    """Return the pieces of an outfit in the pose, at unit scale."""
    pieces, inner = [], []
    for number, (made, lift, shift) in enumerate(heights(drawn, wears)):
        sheets = [panel_sheet(each, drawn, lift, shift, inner) for each in made.panels if len(each.cut.faces)]
        own = []
        for each in made.skirts:
            sheet, rings = skirt_sheet(each, drawn, np.maximum(lift, 0) + 1e-3, inner)
            sheets.append(sheet)
            own.append(rings)
        # What is laid on a garment lies over its own skirt too.
        inner = [*inner, *own]
        sheets += [laid_sheet(each, drawn, lift, shift, inner) for each in made.laid]
        sheets += [_buttons(each, drawn, lift, shift, inner) for each in made.buttons]
        if wears[number].kind == "stockings":
            sheets.append(_tights(drawn))
        pieces += [Piece(number, sheet) for sheet in sheets]
    return pieces


def _down(drawn):
    """Return the direction in which cloth hangs off a limb, shorter where the limb is upright. [1]"""
    net, rest = weave(), drawn.rest
    down = np.zeros_like(drawn.points)
    for words, share in ((ARM, net.arm), (LEG, net.leg)):
        middle = rest.ends["arm" if words is ARM else "leg"][0]
        for side in SIDES:
            here = (net.left > 0.5) == (side == "left")
            ends = [drawn.posed.at(f"{side} {name}") for name in words]
            falls = []
            for k in (0, 1):
                axis = unit(ends[k + 1] - ends[k])
                falls.append(np.array([0.0, 0.0, -1.0]) + axis * axis[2])
            rows = np.flatnonzero(here & (share > 0.05))
            blend = np.clip((rest.along[rows] - middle) / 0.12 + 0.5, 0, 1)[:, None]
            down[rows] += share[rows, None] * ((1 - blend) * falls[0] + blend * falls[1])
    return down


def _buttons(each, drawn, lift, shift, inner):
    centres = each.pins.at(drawn.points) + each.pins.at(shift)
    normals = unit(each.pins.at(drawn.normals))
    centres = centres + normals * each.pins.at(lift[:, None])
    for rings in inner:
        centres = rings.outside(centres, each.pins.at(drawn.rest.trunk_height[:, None])[:, 0], 2.5e-3)
    up = np.cross(normals, np.cross(drawn.posed.turn_of("spine 4")[:, 2], normals))
    return discs(centres + normals * each.lift, normals, unit(up), each.radius, each.height, each.stuff)


def _tights(drawn):
    """Return stockings on the body's own suit, finer once."""
    data, wear, net = body_data(), suit(), weave()
    body = data.shapes[data.people.index(drawn.person)][wear.rows]
    posed = net.first.apply(drawn.posed.skin(body, wear.weights))
    rest = net.first.apply(body)
    low = (rest[:, 2] < 0.5 * drawn.rest.height) & (rest[:, 2] > 0.058 * drawn.rest.height)
    quads = net.first.quads[low[net.first.quads].all(axis=1)]
    quads = quads[np.abs(rest[quads, 1]).mean(axis=1) < 0.30]
    used, faces = compact(quads)
    points = posed[used]
    normals = smooth_normals(points, faces)
    points = points + 1.2e-3 * normals
    uv = np.stack([rest[used, 1], rest[used, 2]], axis=1)
    return Sheet(points, triangles(faces), normals, uv, "cloth")
