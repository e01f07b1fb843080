"""What must hold inside one record, beyond what the table says of each field alone."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from typing import Any

from previz.scene import gel
from previz.scene.camera import NEAREST_FOCALS, Camera
from previz.scene.daylight import Daylight
from previz.scene.dressing import Curtain
from previz.scene.fields import INVALID
from previz.scene.figure import Figure
from previz.scene.figure_rules import at_its_mark, figure
from previz.scene.haze import Haze
from previz.scene.lamp import TWO_COLOUR
from previz.scene.light import Backdrop, Light, OwnSpectrum, ShutterCut, Spot, Tube
from previz.scene.modifiers import CLOTHS, LOBES, MOST_CELLS, Diffusion, Grid, Held
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
from previz.units import quote, show

Fault = tuple[str, str, str]
"""Field that is at fault, the message after the record's label, and advice."""

DAYLIGHT_LOCUS = (4000.0, 25_000.0)
"""Range of the CIE daylight spectra. [K]  Source: CIE 15, illuminant D series."""

TUNGSTEN_MELTS = 3695.0
"""No filament is hotter. [K]  Source: melting point of tungsten, from memory."""


def broken(made: Record) -> Iterator[Fault]:
    """Yield what is wrong inside a record.

    Parameters
    ----------
    made : Record
        Fields that hold `INVALID` are passed over.
    """
    for cls, rule in _RULES.items():
        if isinstance(made, cls):
            yield from rule(made)


def completed(made: Record) -> Record:
    """Return a record with the values that follow from its others.

    Parameters
    ----------
    made : Record
        As read.
    """
    for cls, complete in _COMPLETED.items():
        if isinstance(made, cls):
            changes = complete(made)
            made = dataclasses.replace(made, **changes) if changes else made
    return made


def _surface(made):
    says = (made.name, made.reflectance, made.colour, made.texture, made.transmission)
    if says == (None,) * len(says):
        yield "", "does not say how much light it sends back", (
            "Write a 'name' from the library, a 'reflectance', a 'colour' or a 'texture'."
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
    for field in ("units", "up", "scale"):
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


def _haze(made):
    told = [name for name in ("density", "visibility", "level") if getattr(made, name) is not None]
    if len(told) != 1:
        what = "neither a 'density' nor a 'visibility' nor a 'level'"
        if told:
            what = "both a " + " and a ".join(f"'{name}'" for name in told)
        yield "", f"has {what}", "Write one of them, for example 'visibility: 60 m'."
    if sound(made.contrast) and made.contrast is not None and made.visibility is None:
        yield "contrast", "has a contrast and no visibility that is told at it", (
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


def _light(made):
    drawn = getattr(made.output, "watts", None)
    if drawn is not None and made.watts not in (None, INVALID) and made.watts != drawn:
        yield (
            "watts",
            (f"draws {show(drawn, 'power')} by its output and {show(made.watts, 'power')} here"),
            "Keep one of the two.",
        )
    if getattr(made.output, "unit", "") == "cd/m2" and not isinstance(made, Backdrop):
        yield "output", "is no backdrop, and its output is a luminance", (
            "Write its output in lm, cd or lx at a distance."
        )  # fmt: skip
    if made.output is None and made.photometry is None:
        yield "", "has no 'output'", "Write for example 'output: 9000 lm'."
    if made.photometry not in (None, INVALID):
        for field in SHAPED_BY_FILE:
            if field in made.places:
                yield field, f"has a photometry file and '{field}'", (
                    f"Leave out '{field}': the file says how the light leaves the lamp."
                )  # fmt: skip
    for one, other in EITHER:
        if None not in (getattr(made, one, None), getattr(made, other, None)):
            yield other, f"has both '{one}' and '{other}'", "Keep one of the two."
    if sound(made.cct, made.spectrum):
        yield from _colour(made)


SHAPED_BY_FILE = ("beam", "field", "flood", "edge", "iris", "shutters", "traffic", "picture")
"""Fields that say how a lamp's light leaves it, as a photometric file does."""

EITHER = (("grid", "egg_crate"), ("barn_doors", "snoot"))
"""Pairs that cannot both be on a lamp."""


def _colour(made):
    low, high = DAYLIGHT_LOCUS
    if made.spectrum == "daylight" and not low <= made.cct <= high:
        yield "cct", f"is daylight of {show(made.cct, 'temperature')}", (
            f"Write {show(low, 'temperature')} to {show(high, 'temperature')}, or "
            "'spectrum: blackbody'."
        )  # fmt: skip
    if made.spectrum == "tungsten" and made.cct > TUNGSTEN_MELTS:
        yield "cct", f"is tungsten of {show(made.cct, 'temperature')}, above its melting point", (
            "Write 'spectrum: led' or another, or a lower colour temperature with a gel."
        )  # fmt: skip
    own = made.spectrum if isinstance(made.spectrum, OwnSpectrum) else None
    if made.spectrum == "two-colour led":
        own = OwnSpectrum(warm=TWO_COLOUR[0], cool=TWO_COLOUR[1])
    if own is None or not sound(own.warm, own.cool) or not own.is_two_colour:
        return
    warm, cool = own.ends
    if warm < cool and not warm <= made.cct <= cool:
        yield "cct", (
            f"is mixed from {show(warm, 'temperature')} and {show(cool, 'temperature')} and "
            f"cannot be {show(made.cct, 'temperature')}"
        ), "Write a colour temperature between the two, or other ends."  # fmt: skip
    if sound(made.duv) and made.duv != 0:
        yield "duv", "is mixed from two colours, which leaves its tint no choice", (
            "Leave out 'duv', add a green gel, or write 'spectrum: multi-emitter led'."
        )  # fmt: skip


def _own_spectrum(made):
    if not sound(made.file, made.cie, made.warm, made.cool):
        return
    ways = [made.file is not None, made.cie is not None, made.is_two_colour]
    if sum(ways) != 1:
        yield "", "should be one thing", (
            "Write 'file', or 'cie', or 'warm' and 'cool': one of the three."
        )  # fmt: skip
    elif made.is_two_colour and not made.ends[0] < made.ends[1]:
        warm, cool = (show(each, "temperature") for each in made.ends)
        yield "warm" if made.warm is not None else "cool", (
            f"has its warm end at {warm} and its cool end at {cool}"
        ), "Make 'warm' the lower of the two."  # fmt: skip


def _light_completed(made):
    changes = {}
    drawn = getattr(made.output, "watts", None)
    if made.watts is None and drawn is not None:
        changes["watts"] = drawn
    own = isinstance(made.spectrum, OwnSpectrum) and not made.spectrum.is_two_colour
    if own and "cct" not in made.places:
        changes["cct"] = None
    return changes


def _tube(made):
    if made.aim is None and made.beam is not None:
        yield "beam", "has a beam but no aim", "Write 'aim:', or 'beam: none' to shine all round."
    if made.egg_crate is not None and made.beam is None and made.photometry is None:
        yield "egg_crate", "has an egg crate and shines all round", (
            "Write a 'beam' and an 'aim', so that it has a front to put it on."
        )  # fmt: skip


def _spot(made):
    both = (made.beam, made.field)
    if sound(*both) and None not in both and made.field <= made.beam:
        yield (
            "field",
            (
                f"has a field of {show(made.field, 'angle')} inside its beam of "
                f"{show(made.beam, 'angle')}"
            ),
            "Make 'field' (to a tenth of the peak) wider than 'beam' (to half of it).",
        )


def _shutters(made):
    for one, other in (("top", "bottom"), ("left", "right")):
        reach = (getattr(made, one), getattr(made, other))
        if sound(*reach) and sum(reach) >= 1:
            yield other, f"covers the whole field from {one} and {other}", (
                f"Make '{one}' and '{other}' together less than 100 %."
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
    for field in ("at", "facing"):
        if getattr(made, field) is not None:
            yield field, f"has both 'before' and '{field}'", (
                f"Leave out '{field}': the lamp says where it is."
            )  # fmt: skip


def _grid(made):
    if not sound(made.size, made.cell):
        return
    for extent, way in zip(made.size, ("wide", "high"), strict=True):
        if extent / made.cell > MOST_CELLS:
            yield "cell", f"is more than {MOST_CELLS} cells {way}", "Write a larger 'cell'."
        if made.cell > extent:
            yield "cell", f"is less than one cell {way}", "Write a smaller 'cell'."


def _diffusion_completed(made):
    figures = (*CLOTHS.get(made.cloth, (made.transmission, made.spread)), LOBES.get(made.cloth))
    names = ("transmission", "spread", "lobe")
    return {
        name: value
        for name, value in zip(names, figures, strict=True)
        if name not in made.places
    }


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
    Haze: _haze,
    Light: _light,
    Tube: _tube,
    Spot: _spot,
    OwnSpectrum: _own_spectrum,
    ShutterCut: _shutters,
    Held: _held,
    Grid: _grid,
    gel.Gel: _gel_rule,
}

_COMPLETED: dict[type[Record], Callable[[Any], dict[str, Any]]] = {
    Piece: _piece_completed,
    Figure: at_its_mark,
    Daylight: daylight_completed,
    Light: _light_completed,
    Diffusion: _diffusion_completed,
    gel.Gel: _gel,
}
