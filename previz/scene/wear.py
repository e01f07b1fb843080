"""What a figure wears: garments in layers, each with its cloth and a few fields of its own."""

from __future__ import annotations

from typing import Any, ClassVar

from previz.scene.colour import PALETTE, linear_from_hex
from previz.scene.fields import INVALID, Field, choice, special, table, yes_no
from previz.scene.nodes import List, Map, Node, Text
from previz.scene.records import Record, record_class
from previz.scene.surface import Surface
from previz.scene.values import Reading
from previz.scene.words import did_you_mean, listed
from previz.units import quote

MOST = 12
"""Garments that one figure can wear."""


def _cloth():
    return special("surface", "What it is made of; none for what such a garment usually is.", None,
                   example="wool")  # fmt: skip


def _surface(name, colour=None, reflectance=None):
    hue = None if colour is None else linear_from_hex(PALETTE[colour])
    return Surface(name=name, colour=hue, reflectance=reflectance)


@record_class
class Garment(Record):
    """One thing that a figure wears."""

    noun: ClassVar[str] = "garment"
    kind: ClassVar[str] = ""
    place_on: ClassVar[tuple[str, ...]] = ()
    """Where it is worn; two of one layer cannot share a place."""
    layer: ClassVar[int] = 0
    """Lower ones are worn under higher ones."""
    usual: ClassVar[Surface] = _surface("grey cloth")
    """What it is made of unless it is written."""

    cloth: Surface | None = _cloth()

    @property
    def label(self) -> str:
        """What messages call it."""
        return f"a {self.kind}"


@record_class
class Shirt(Garment):
    """A shirt with collar, placket and cuffs, tucked in."""

    kind: ClassVar[str] = "shirt"
    place_on: ClassVar[tuple[str, ...]] = ("body",)
    layer: ClassVar[int] = 1
    usual: ClassVar[Surface] = _surface("white cotton", reflectance=0.55)


@record_class
class Trousers(Garment):
    """Trousers to the shoe."""

    kind: ClassVar[str] = "trousers"
    place_on: ClassVar[tuple[str, ...]] = ("legs",)
    layer: ClassVar[int] = 2
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.05)

    crease: bool = yes_no("Whether they have a pressed crease.", False)
    turn_ups: bool = yes_no("Whether their hems are turned up.", False)
    belt: bool = yes_no("Whether a belt is worn with them.", True)


@record_class
class Skirt(Garment):
    """A skirt to below the knee."""

    kind: ClassVar[str] = "skirt"
    place_on: ClassVar[tuple[str, ...]] = ("legs",)
    layer: ClassVar[int] = 2
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.07)


@record_class
class Dress(Garment):
    """A dress to below the knee, with a collar and a belt of its own cloth."""

    kind: ClassVar[str] = "dress"
    place_on: ClassVar[tuple[str, ...]] = ("body", "legs")
    layer: ClassVar[int] = 2
    usual: ClassVar[Surface] = _surface("white cotton", "teal", 0.14)


@record_class
class Overalls(Garment):
    """Working clothes over the others: a bib on straps, or a boiler suit."""

    kind: ClassVar[str] = "overalls"
    place_on: ClassVar[tuple[str, ...]] = ("legs",)
    layer: ClassVar[int] = 3
    usual: ClassVar[Surface] = _surface("denim")

    style: str = choice(("bib", "boiler suit"), "With a bib on straps, or in one piece with sleeves.", "bib")
    turn_ups: bool = yes_no("Whether their hems are turned up.", True)


@record_class
class Jumper(Garment):
    """A knitted jumper with ribbed neckband, cuffs and hem."""

    kind: ClassVar[str] = "jumper"
    place_on: ClassVar[tuple[str, ...]] = ("body",)
    layer: ClassVar[int] = 4
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.10)


@record_class
class Jacket(Garment):
    """A jacket with lapels and flapped pockets."""

    kind: ClassVar[str] = "jacket"
    place_on: ClassVar[tuple[str, ...]] = ("body",)
    layer: ClassVar[int] = 5
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.06)

    open: bool = yes_no("Whether its front hangs open.", False)


@record_class
class Apron(Garment):
    """An apron with a bib, over the other clothes of body and legs."""

    kind: ClassVar[str] = "apron"
    place_on: ClassVar[tuple[str, ...]] = ("front",)
    layer: ClassVar[int] = 6
    usual: ClassVar[Surface] = _surface("canvas")


@record_class
class Coat(Garment):
    """A belted coat to below the knee."""

    kind: ClassVar[str] = "coat"
    place_on: ClassVar[tuple[str, ...]] = ("body",)
    layer: ClassVar[int] = 7
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.08)

    open: bool = yes_no("Whether its front hangs open.", False)
    collar: str = choice(("down", "up"), "How its collar is worn.", "down", example="up")
    length: str = choice(("knee", "calf"), "How far down it reaches.", "knee", example="calf")


@record_class
class Scarf(Garment):
    """A scarf round the neck, its ends on the chest."""

    kind: ClassVar[str] = "scarf"
    place_on: ClassVar[tuple[str, ...]] = ("neck",)
    layer: ClassVar[int] = 8
    usual: ClassVar[Surface] = _surface("wool", "maroon", 0.10)


@record_class
class FlatCap(Garment):
    """A flat cap with a short stiff peak."""

    kind: ClassVar[str] = "flat cap"
    place_on: ClassVar[tuple[str, ...]] = ("head",)
    layer: ClassVar[int] = 9
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.09)


@record_class
class PeakedCap(Garment):
    """A plain peaked cap with a stiff band, as uniforms have."""

    kind: ClassVar[str] = "peaked cap"
    place_on: ClassVar[tuple[str, ...]] = ("head",)
    layer: ClassVar[int] = 9
    usual: ClassVar[Surface] = _surface("wool", "navy", 0.04)


@record_class
class WoolHat(Garment):
    """A knitted hat with a turned-up rim."""

    kind: ClassVar[str] = "wool hat"
    place_on: ClassVar[tuple[str, ...]] = ("head",)
    layer: ClassVar[int] = 9
    usual: ClassVar[Surface] = _surface("wool", reflectance=0.10)


@record_class
class Shoes(Garment):
    """Laced shoes, below the ankle."""

    kind: ClassVar[str] = "shoes"
    place_on: ClassVar[tuple[str, ...]] = ("feet",)
    layer: ClassVar[int] = 0
    usual: ClassVar[Surface] = _surface("black leather")


@record_class
class Boots(Garment):
    """Laced boots, over the ankle."""

    kind: ClassVar[str] = "boots"
    place_on: ClassVar[tuple[str, ...]] = ("feet",)
    layer: ClassVar[int] = 0
    usual: ClassVar[Surface] = _surface("black leather")


GARMENTS: dict[str, type[Garment]] = {
    each.kind: each
    for each in (
        Shirt,
        Jumper,
        Jacket,
        Coat,
        Trousers,
        Skirt,
        Dress,
        Overalls,
        Apron,
        FlatCap,
        PeakedCap,
        WoolHat,
        Scarf,
        Shoes,
        Boots,
    )
}
"""Word -> record of each garment."""

OUTFITS: dict[str, tuple[str, ...]] = {
    "person one": ("shirt", "jacket", "trousers", "boots"),
    "person two": ("dress", "shoes"),
    "person three": ("shirt", "jumper", "trousers", "boots"),
    "person four": ("shirt", "jumper", "skirt", "shoes"),
    "person five": ("shirt", "overalls", "boots"),
    "person six": ("shirt", "skirt", "apron", "shoes"),
}
"""Person -> what is worn where nothing is written: everyday working clothes."""


def read_wears(reading: Reading, node: Node, entry: Field, subject: str, read_record) -> Any:
    """Return a tuple of garments, or INVALID; `read_record` is that of `previz.scene.reading`."""
    nodes = node.nodes if isinstance(node, List) else (node,)
    if not 1 <= len(nodes) <= MOST:
        message = f"{subject} has {len(nodes)} garments"
        return reading.refuse(node.place, message, f"Write 1 to {MOST}, such as {quote(entry.example)}.")
    made = tuple(_read_garment(reading, each, subject, read_record) for each in nodes)
    return INVALID if INVALID in made else made


def _read_garment(reading, node, subject, read_record):
    advice = f"Write one of: {listed(GARMENTS)}."
    if isinstance(node, Map):
        kind = node.get("kind")
        if not isinstance(kind, Text):
            message = f"a garment of {subject} has no 'kind'"
            return reading.refuse(node.place, message, f"Write 'kind:' with one of: {listed(GARMENTS)}.")
    elif isinstance(node, Text):
        kind = node
    else:
        message = f"a garment of {subject} is a list"
        return reading.refuse(node.place, message, advice)
    cls = GARMENTS.get(kind.text.strip())
    if cls is None:
        advice = f"{did_you_mean(kind.text, GARMENTS)}{advice}"
        return reading.refuse(kind.place, f"{subject} has no garment {quote(kind.text)}", advice)
    if isinstance(node, Text):
        return cls(place=node.place)
    return read_record(reading, node, cls, f"the {cls.kind} of {subject}", extra=("kind",))


def faults(garments: tuple[Garment, ...]):
    """Yield what cannot be worn together: garment, message and advice."""
    worn: dict[tuple[str, int], Garment] = {}
    for each in garments:
        for part in each.place_on:
            # Body and legs hold several layers, head, neck and feet one thing.
            key = (part, each.layer)
            other = worn.get(key)
            if other is not None:
                yield each, f"wears {_a(other)} and {_a(each)} on the {part}", "Keep one of the two."
                break
            worn[key] = each
    kinds = {each.kind for each in garments}
    boiler = any(getattr(each, "style", "") == "boiler suit" for each in garments)
    for one, other in (
        ("overalls", "skirt"),
        ("overalls", "dress"),
        ("dress", "trousers"),
        ("dress", "shirt"),
    ):
        if one in kinds and other in kinds:
            each = next(garment for garment in garments if garment.kind == other)
            yield (
                each,
                f"wears {_a(each)} under {'an' if one[0] in 'aeiou' else 'a'} {one}".replace(
                    "an overalls", "overalls"
                ),
                "Keep one of the two.",
            )
    body = any("body" in each.place_on for each in garments) or boiler
    legs = any("legs" in each.place_on for each in garments)
    if garments and not body:
        yield garments[0], "wears nothing on the body", "Add for example 'shirt'."
    if garments and not legs:
        yield garments[0], "wears nothing on the legs", "Add for example 'trousers'."


def _a(garment):
    plural = garment.kind in ("trousers", "overalls", "shoes", "boots")
    article = "" if plural else "an " if garment.kind[0] in "aeiou" else "a "
    return f"{article}{garment.kind}"


def options_of(garment: Garment) -> tuple[tuple[str, Any], ...]:
    """Return a garment's own fields but its cloth, as pairs."""
    return tuple((name, getattr(garment, name)) for name in table(type(garment)) if name != "cloth")
