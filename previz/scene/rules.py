"""What must hold inside one record, beyond what the table says of each field alone."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

from previz.scene import gel, lamp_rules, mains_rules, pattern_rules, want_rules
from previz.scene.camera import DECISIONS, NEAREST_FOCALS, Camera, Show, SpotPatch
from previz.scene.daylight import Daylight
from previz.scene.dressing import Curtain
from previz.scene.fields import INVALID
from previz.scene.figure import Figure
from previz.scene.figure_rules import at_its_mark, figure
from previz.scene.haze import Haze
from previz.scene.light import Glow, Light, OwnSpectrum, ShutterCut, Spot, Tube
from previz.scene.mains import Generator
from previz.scene.modifiers import (
    CLOTHS,
    LOBES,
    MOST_CELLS,
    SIDES,
    Board,
    Diffusion,
    Grid,
    Held,
)
from previz.scene.outside_rules import (
    curtain,
    daylight,
    daylight_completed,
    opening,
    sound,
)
from previz.scene.piece import METRIC_SUFFIXES, USUAL_SIZES, Piece
from previz.scene.records import Record
from previz.scene.room import Opening
from previz.scene.surface import Surface
from previz.scene.wants import LampMoves, Want
from previz.units import quote, show

Fault = tuple[str, str, str]
"""Field that is at fault, the message after the record's label, and advice."""

def broken(made: Record) -> Iterator[Fault]:
    """Yield what is wrong inside a record; fields that hold `INVALID` are passed over."""
    for cls, rule in _RULES.items():
        if isinstance(made, cls):
            yield from rule(made)


def completed(made: Record) -> Record:
    """Return a record as read with the values that follow from its others."""
    for cls, complete in _COMPLETED.items():
        if isinstance(made, cls):
            changes = complete(made)
            made = dataclasses.replace(made, **changes) if changes else made
    return made


def _surface(made):
    says = (made.name, made.reflectance, made.colour, made.texture, made.transmission, made.file)
    if says == (None,) * len(says):
        yield "", "does not say how much light it sends back", (
            "Write a 'name' from the library, a 'reflectance', a 'colour', a 'texture', or a "
            "'file' with its measured reflectance."
        )  # fmt: skip
    if made.picture_size not in (None, INVALID) and not made.pictures:
        yield "picture_size", "has a picture's size and no picture", (
            "Write a 'texture', 'normals' or a 'roughness_picture', or leave out 'picture_size'."
        )  # fmt: skip
    if made.file is not None:
        for field in ("reflectance", "colour", "texture"):
            if getattr(made, field) is not None:
                yield field, f"has a measured reflectance and '{field}'", (
                    f"Leave out '{field}' or 'file'."
                )  # fmt: skip
    sent = (made.reflectance, made.transmission)
    if sound(*sent) and None not in sent and sum(sent) > 1 + 1e-9:
        yield "transmission", f"sends on {show(sum(sent), 'fraction')} of the light", (
            "Make 'reflectance' and 'transmission' together 100 % or less."
        )  # fmt: skip
    if made.metal is True and sound(made.transmission) and made.transmission:
        yield "transmission", "is metal and lets light through", (
            "Leave out 'metal' or 'transmission'."
        )  # fmt: skip
    yield from pattern_rules.pattern(made)


def _piece(made):
    if made.shape is None and made.mesh is None:
        yield "", "has neither a shape nor a mesh", (
            f"Write 'shape:' with one of: {', '.join(USUAL_SIZES)}; or 'mesh:' with a file."
        )  # fmt: skip
    elif made.shape is not None and made.mesh is not None:
        yield "mesh", "has both a shape and a mesh", "Keep one of the two."
    elif made.mesh is None:
        yield from _shape(made)
    elif made.mesh is not INVALID:
        yield from _mesh(made)


def _shape(made):
    if made.shape is not INVALID and made.size is None and USUAL_SIZES[made.shape] is None:
        yield "", f"is a {made.shape} without a size", "Write 'size: [1 m, 0.5 m, 0.8 m]'."
    for field in ("units", "up", "scale", "triangles"):
        if field in made.places:
            yield field, f"is a shape, and '{field}' is for meshes", (
                "Leave it out; 'size' says how large a shape is."
            )  # fmt: skip


def _mesh(made):
    if made.size is not None:
        yield "size", "is a mesh, and 'size' is for shapes", (
            "Leave it out; 'units' and 'scale' say how large a mesh is."
        )  # fmt: skip
    suffix = made.mesh.suffix.lower()
    if suffix in METRIC_SUFFIXES:
        for field, own in (("units", "m"), ("up", "y")):
            if getattr(made, field) not in (None, own, INVALID):
                yield field, f"is a {suffix[1:]} file, and these are in metres with y up", (
                    f"Leave out '{field}', or change the size by 'scale'."
                    if field == "units"
                    else "Leave out 'up'."
                )  # fmt: skip
        return
    if made.units is None:
        yield "mesh", f"does not say what the numbers in {quote(made.mesh.name)} are", (
            "Write 'units:' with one of: m, cm, mm, ft, in."
        )  # fmt: skip
    if made.up is None:
        yield "mesh", f"does not say which way is up in {quote(made.mesh.name)}", (
            "Write 'up: y' or 'up: z'."
        )  # fmt: skip


def _piece_completed(made):
    if made.shape and made.size is None and made.mesh is None:
        return {"size": USUAL_SIZES[made.shape]}
    if made.mesh and made.mesh.suffix.lower() in METRIC_SUFFIXES:
        return {"units": "m", "up": "y"}
    return {}


def _camera(made):
    if not isinstance(made.focus, float) or made.lens is INVALID:
        return
    nearest = NEAREST_FOCALS * made.lens
    if made.focus < nearest:
        yield "focus", (
            f"is focused at {show(made.focus, 'length')}, nearer than a lens of "
            f"{show(made.lens, 'length')} goes"
        ), f"Write 'focus: {show(nearest, 'length')}' or more, or a shorter 'lens'."  # fmt: skip


def _show(made):
    if made.file is INVALID:
        return
    suffix = made.file.suffix.lower()
    if suffix in DECISIONS:
        if made.takes not in (None, "acescct", "acescg", INVALID):
            yield "takes", "is a colour decision, which works in ACEScct or ACEScg", (
                "Write 'takes: acescct', or leave it out."
            )  # fmt: skip
        if made.gives not in (None, made.takes or "acescct", INVALID):
            yield "gives", "is a colour decision, which gives what it takes", "Leave out 'gives'."
        return
    if made.decision is not None:
        yield "decision", "is a look-up table and has a decision", (
            "Leave out 'decision': it is for the files of the ASC CDL."
        )  # fmt: skip
    if suffix == ".cube" and None in (made.takes, made.gives):
        missing = [name for name in ("takes", "gives") if getattr(made, name) is None]
        yield "file", f"is a .cube and has no {' and no '.join(quote(each) for each in missing)}", (
            "Write what it was made for: a .cube does not say so itself. For example 'takes: acescct' and "
            "'gives: srgb'."
        )  # fmt: skip


def _show_completed(made):
    if made.file is INVALID or made.file.suffix.lower() not in DECISIONS:
        return {}
    takes = made.takes or "acescct"
    return {"takes": takes, "gives": takes}


def _haze(made):
    written = [name for name in ("density", "visibility", "level") if getattr(made, name) is not None]
    if len(written) != 1:
        what = "neither a 'density' nor a 'visibility' nor a 'level'"
        if written:
            what = "both a " + " and a ".join(f"'{name}'" for name in written)
        yield "", f"has {what}", "Write one of them, for example 'visibility: 60 m'."
    if sound(made.contrast) and made.contrast is not None and made.visibility is None:
        yield "contrast", "has a contrast and no visibility that is stated at it", (
            "Write 'visibility: 60 m' in place of what it has, or leave out 'contrast'."
        )  # fmt: skip
    if (made.low is None) != (made.high is None):
        missing = "low" if made.low is None else "high"
        yield "", f"has one corner of its box and no '{missing}'", (
            f"Write '{missing}: [0 m, 0 m, 0 m]' too, or leave both out."
        )  # fmt: skip
    elif sound(made.low, made.high) and made.low is not None:
        flat = [axis for axis, a, b in zip("xyz", made.low, made.high, strict=True) if b <= a]
        if flat:
            yield "high", f"is not above its 'low' in {', '.join(flat)}", (
                "Write the corner with the greater numbers as 'high'."
            )  # fmt: skip


def _held(made):
    if made.before is None:
        for field in ("at", "facing"):
            if getattr(made, field) is None:
                yield "", f"has no '{field}'", (
                    f"Write '{field}:', or 'before:' with the lamp that it is in front of."
                )  # fmt: skip
        if "distance" in made.places:
            yield "distance", "has a distance and no lamp that it is in front of", (
                "Write 'before:' with the lamp, or leave out 'distance'."
            )  # fmt: skip
        return
    if made.hung is not None:
        yield "hung", "is in front of a lamp and hung", "Leave out 'hung': the lamp holds it."
    for field in ("at", "facing"):
        if getattr(made, field) is not None:
            yield field, f"has both 'before' and '{field}'", (
                f"Leave out '{field}': the lamp says where it is."
            )  # fmt: skip


def _grid(made):
    if not sound(made.size, made.cell):
        return
    for extent, edge in zip(made.size, ("wide", "high"), strict=True):
        if extent / made.cell > MOST_CELLS:
            yield "cell", f"is more than {MOST_CELLS} cells {edge}", "Write a larger 'cell'."
        if made.cell > extent:
            yield "cell", f"is less than one cell {edge}", "Write a smaller 'cell'."


def _board(made):
    if made.side is not None and "surface" in made.places:
        yield "surface", "has a side of a mirror board and a surface", "Keep one of the two."


def _diffusion(made):
    through = made.transmission
    if made.cloth is not None and "transmission" not in made.places:
        through = CLOTHS.get(made.cloth, (INVALID,))[0]
    if made.reflectance is None or not sound(through, made.reflectance):
        return
    if through + made.reflectance > 1 + 1e-9:
        yield "reflectance", f"sends on {show(through + made.reflectance, 'fraction')} of the light", (
            f"{show(through, 'fraction')} goes through, so write {show(1 - through, 'fraction')} or less."
        )  # fmt: skip


def _board_completed(made):
    return {"surface": Surface(name=SIDES[made.side])} if made.side in SIDES else {}


def _diffusion_completed(made):
    figures = (*CLOTHS.get(made.cloth, (made.transmission, made.spread)), LOBES.get(made.cloth))
    names = ("transmission", "spread", "lobe")
    return {
        name: value
        for name, value in zip(names, figures, strict=True)
        if name not in made.places
    }


def _spot_patch(made):
    sides, sky = (made.across, made.down), (made.azimuth, made.altitude)
    if not sound(*sides, *sky, made.width, made.height):
        return
    written = [pair for pair in (sides, sky) if pair != (None, None)]
    if len(written) != 1 or None in written[0]:
        yield "", "should be one place", (
            "Write 'across' and 'down' for a patch of the picture, or 'azimuth' and 'altitude' for one "
            "of the sky."
        )  # fmt: skip
        return
    if (made.width is None) != (made.height is None):
        missing = "width" if made.width is None else "height"
        yield "", f"has no '{missing}'", f"Write '{missing}' too, or leave both out for a round patch."
    elif made.width is not None and sides == (None, None):
        yield "width", "is of the sky and has a width", "Leave out 'width' and 'height', write 'angle'."
    elif made.width is not None:
        for field, middle, size in (("width", made.across, made.width), ("height", made.down, made.height)):
            if not size / 2 - 1e-9 <= middle <= 1 - size / 2 + 1e-9:
                yield field, "reaches out of the picture", (
                    f"Write {show(2 * min(middle, 1 - middle), 'fraction')} or less."
                )  # fmt: skip


def _gel_rule(made):
    if made.file in (None, INVALID):
        return
    for field in ("mired", "transmission", "green"):
        if field in made.places:
            yield field, f"has a file and '{field}'", "Keep one of the two."


def _gel(made):
    changes = {}
    if made.name is not INVALID:
        for field, value in (gel.nominal(made.name) or {}).items():
            if field not in made.places:
                changes[field] = value
    return changes


_RULES: dict[type[Record], Callable[[Any], Iterator[Fault]]] = {
    Surface: _surface,
    Opening: opening,
    Curtain: curtain,
    Piece: _piece,
    Figure: figure,
    Daylight: daylight,
    Camera: _camera,
    Show: _show,
    Haze: _haze,
    Light: lamp_rules.light,
    Glow: lamp_rules.glow,
    Tube: lamp_rules.tube,
    Spot: lamp_rules.spot,
    OwnSpectrum: lamp_rules.own_spectrum,
    ShutterCut: lamp_rules.shutters,
    Held: _held,
    Board: _board,
    Diffusion: _diffusion,
    Grid: _grid,
    SpotPatch: _spot_patch,
    gel.Gel: _gel_rule,
    Generator: mains_rules.generator,
    Want: want_rules.want,
    LampMoves: want_rules.lamp_moves,
}

_COMPLETED: dict[type[Record], Callable[[Any], dict[str, Any]]] = {
    Piece: _piece_completed,
    Figure: at_its_mark,
    Show: _show_completed,
    Daylight: daylight_completed,
    Light: lamp_rules.light_completed,
    Board: _board_completed,
    Diffusion: _diffusion_completed,
    gel.Gel: _gel,
}
