"""What must hold inside the record of one lamp, and what follows from its other values."""

from __future__ import annotations

from previz.scene.fields import INVALID
from previz.scene.glowing_lamps import SIGN_LETTERS
from previz.scene.lamp import TWO_COLOUR
from previz.scene.light import OwnSpectrum
from previz.scene.outside_rules import sound
from previz.units import show

DAYLIGHT_LOCUS = (4000.0, 25_000.0)
"""Range of the CIE daylight spectra. [K]  Source: CIE 15, illuminant D series."""

TUNGSTEN_MELTS = 3695.0
"""No filament is hotter. [K]  Source: melting point of tungsten, from memory."""


def light(made):
    """Yield what is wrong with what all lamps have."""
    drawn = getattr(made.output, "watts", None)
    if drawn is not None and made.watts not in (None, INVALID) and made.watts != drawn:
        yield (
            "watts",
            (f"draws {show(drawn, 'power')} by its output and {show(made.watts, 'power')} here"),
            "Keep one of the two.",
        )
    if getattr(made.output, "unit", "") == "cd/m2" and not made.by_luminance:
        yield "output", "is no backdrop, screen, sign or piece that glows, and its output is a luminance", (
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
    if not made.may_hang and made.hung is not None:
        yield "hung", f"is a {made.kind} and hung", "Leave out 'hung'; a flame that hangs is a candle."
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


def own_spectrum(made):
    """Yield what is wrong with a spectrum in figures of its own."""
    if not sound(made.file, made.cie, made.warm, made.cool):
        return
    sources = [made.file is not None, made.cie is not None, made.is_two_colour]
    if sum(sources) != 1:
        yield "", "should be one thing", (
            "Write 'file', or 'cie', or 'warm' and 'cool': one of the three."
        )  # fmt: skip
    elif made.is_two_colour and not made.ends[0] < made.ends[1]:
        warm, cool = (show(each, "temperature") for each in made.ends)
        yield "warm" if made.warm is not None else "cool", (
            f"has its warm end at {warm} and its cool end at {cool}"
        ), "Make 'warm' the lower of the two."  # fmt: skip


def light_completed(made):
    """Return the values of a lamp that follow from its others."""
    changes = {}
    drawn = getattr(made.output, "watts", None)
    if made.watts is None and drawn is not None:
        changes["watts"] = drawn
    own = isinstance(made.spectrum, OwnSpectrum) and not made.spectrum.is_two_colour
    if own and "cct" not in made.places:
        changes["cct"] = None
    return changes


def glow(made):
    """Yield what is wrong with a piece that glows."""
    for field in ("at", "aim", "turn", "hung", "photometry"):
        if field in made.places:
            yield field, f"is a piece that glows, and '{field}' is for other lamps", (
                f"Leave out '{field}': the piece says where it is."
            )  # fmt: skip
    if getattr(made.output, "unit", "lm") in ("cd", "lx"):
        yield "output", "is a piece that glows, and has no middle of a beam", (
            "Write how bright it is, such as 'output: 300 cd/m2', or all of its light in lm."
        )  # fmt: skip


def sign(made):
    """Yield what is wrong with what a sign says."""
    if made.words is not None and made.picture is not None:
        yield "picture", "has words and a picture", "Keep one of the two."
    if sound(made.words) and made.words is not None and len(made.words) > SIGN_LETTERS:
        yield "words", f"says {len(made.words)} letters", (
            f"Write {SIGN_LETTERS} at most, or a 'picture' of it."
        )  # fmt: skip


def tube(made):
    """Yield what is wrong with a tube."""
    if made.aim is None and made.beam is not None:
        yield "beam", "has a beam but no aim", "Write 'aim:', or 'beam: none' to shine all round."
    if made.egg_crate is not None and made.beam is None and made.photometry is None:
        yield "egg_crate", "has an egg crate and shines all round", (
            "Write a 'beam' and an 'aim', so that it has a front to put it on."
        )  # fmt: skip


def spot(made):
    """Yield what is wrong with the angles of a beam."""
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


def shutters(made):
    """Yield what is wrong with a cut of shutters."""
    for one, other in (("top", "bottom"), ("left", "right")):
        reach = (getattr(made, one), getattr(made, other))
        if sound(*reach) and sum(reach) >= 1:
            yield other, f"covers the whole field from {one} and {other}", (
                f"Make '{one}' and '{other}' together less than 100 %."
            )  # fmt: skip
