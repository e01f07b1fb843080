"""Which garments a figure wears, and the parts that they become."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from previz.scene.wear import GARMENTS, OUTFITS, options_of
from previz.stage.figures.mesh import joined
from previz.stage.figures.pose import SIDES
from previz.stage.figures.shoes import SOLE, footwear
from previz.stage.figures.wardrobe.cloth import drape
from previz.stage.figures.wardrobe.hats import hat
from previz.stage.figures.wardrobe.worn import Wear, worn

ON_HEAD = ("flat cap", "peaked cap", "wool hat")
_APART = (*ON_HEAD, "shoes", "boots")


@dataclass(frozen=True)
class Clothing:
    """One part of the clothes, over the floor in body axes at true size.

    Parameters
    ----------
    name : str
        As of `build.Part`.
    points, faces, normals, uv : arrays
        [m]
    garment : int
        Of the outfit.
    stuff : str
    on_head : bool
    """

    name: str
    points: np.ndarray
    faces: np.ndarray
    normals: np.ndarray
    uv: np.ndarray
    garment: int
    stuff: str
    on_head: bool = False


def plain(kind: str) -> Wear:
    """Return a garment as it is where nothing more is written."""
    return Wear(kind, options_of(GARMENTS[kind]()))


def outfit_of(person: str, wears: tuple[Wear, ...] | None) -> tuple[Wear, ...]:
    """Return an outfit, the innermost garment first; stockings go under a skirt."""
    chosen = tuple(plain(kind) for kind in OUTFITS[person]) if wears is None else wears
    kinds = {each.kind for each in chosen}
    if not any(each.kind in ("shoes", "boots") for each in chosen):
        chosen = (*chosen, plain("boots"))
    ordered = sorted(chosen, key=lambda each: GARMENTS[each.kind].layer)
    if kinds & {"skirt", "dress"} and not kinds & {"trousers", "overalls"}:
        ordered.insert(0, Wear("stockings"))
    return tuple(ordered)


def main_garments(outfit) -> tuple[int | None, int | None]:
    """Return which garments are the outermost of the body and of the legs."""
    upper = [k for k, each in enumerate(outfit) if each.kind in GARMENTS and _on_body(each)]
    lower = [
        k for k, each in enumerate(outfit) if each.kind in GARMENTS and "legs" in GARMENTS[each.kind].place_on
    ]
    return (upper[-1] if upper else None), (lower[-1] if lower else None)


def _on_body(wear):
    return "body" in GARMENTS[wear.kind].place_on or wear.kind == "overalls"


def clothes(body, outfit) -> list[Clothing]:
    """Return the clothes of a settled body."""
    seat = body.seat / body.scale if body.pose in ("seated", "leaning") else None
    drawn = drape(body.person, body.posed, seat, body.pose == "leaning")
    cloth = tuple(each for each in outfit if each.kind not in _APART)
    number = [outfit.index(each) for each in cloth]
    upper, lower = main_garments(outfit)
    if lower == upper:
        under = [k for k, each in enumerate(outfit) if each.kind == "stockings"]
        lower = under[0] if under else None
    found: dict[tuple[int, str], list] = {}
    for piece in worn(drawn, cloth):
        found.setdefault((number[piece.garment], piece.sheet.stuff), []).append(piece.sheet)
    parts = []
    for (garment, stuff), sheets in found.items():
        name = f"{outfit[garment].kind} {stuff}"
        if stuff == "cloth":
            name = {upper: "upper clothes", lower: "lower clothes"}.get(garment, name)
        parts.append(_one(name, sheets, body.scale, garment, stuff))
    for garment, wear in enumerate(outfit):
        if wear.kind in ("shoes", "boots"):
            parts += _on_feet(body, garment, wear.kind == "boots")
        elif wear.kind in ON_HEAD:
            sheets = hat(body.person, wear.kind)
            for stuff in dict.fromkeys(sheet.stuff for sheet in sheets):
                parts.append(
                    _on_head(body, garment, wear.kind, stuff, [s for s in sheets if s.stuff == stuff])
                )
    return parts


def _on_head(body, garment, kind, stuff, sheets):
    made = _one(f"{kind} {stuff}", sheets, 1.0, garment, stuff)
    points, faces, normals = body.with_head((made.points, made.faces, made.normals))
    return replace(made, points=points, normals=normals, faces=faces, uv=body.scale * made.uv, on_head=True)


def hat_of(outfit) -> str | None:
    """Return the word of the hat in an outfit, None for a bare head."""
    return next((each.kind for each in outfit if each.kind in ON_HEAD), None)


def _on_feet(body, garment, high):
    feet = [footwear(body.person, side, SOLE / body.scale, body.posed, high) for side in SIDES]
    for stuff in feet[0]:
        points, faces, normals = joined([foot[stuff] for foot in feet])
        name = "shoes" if stuff == "soles" else "uppers" if stuff == "cloth" else f"shoes {stuff}"
        yield Clothing(name, body.scale * points, faces, normals, body.scale * points[:, :2], garment, stuff)


def _one(name, sheets, scale, garment, stuff):
    starts = np.cumsum([0, *(len(sheet.points) for sheet in sheets)])
    return Clothing(
        name,
        scale * np.concatenate([sheet.points for sheet in sheets]),
        np.concatenate([sheet.faces + start for sheet, start in zip(sheets, starts, strict=False)]),
        np.concatenate([sheet.normals for sheet in sheets]),
        scale * np.concatenate([sheet.uv for sheet in sheets]),
        garment,
        stuff,
    )
