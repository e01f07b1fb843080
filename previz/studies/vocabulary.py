"""Everything that can be written in a scene, as data: each entry with its unit, facts and source."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import inf

from previz.physics.blackbody import radiance
from previz.physics.flicker import FILAMENT_DEPTHS, MAGNETIC_DISCHARGE, MAGNETIC_FLUORESCENT, UNKNOWN
from previz.physics.gel import DAYLIGHT_K, TUNGSTEN_K, luminous_transmission, named_gel
from previz.physics.haze import RANGE_CONTRAST, visibility
from previz.physics.lamps import EFFICACY_LM_PER_W, spectrum_of
from previz.physics.materials import MATERIALS
from previz.physics.multi_emitter import EMITTERS
from previz.physics.skin import luminance_reflectance
from previz.physics.sky_level import SKY_LEVELS, sky_illuminance
from previz.physics.spectra import WAVELENGTHS_NM
from previz.scene.camera import Camera, CameraOptics, Latitude, Meter, Show, SpotPatch
from previz.scene.colour import NOTATIONS, PALETTE
from previz.scene.daylight import Clouds, Daylight, Moon, Sun
from previz.scene.dressing import Blind, Curtain
from previz.scene.fields import Field, table
from previz.scene.figure import Figure, Mark
from previz.scene.furniture import KINDS, Kind
from previz.scene.gel import NAMES, Gel, nominal
from previz.scene.haze import LEVELS, Haze
from previz.scene.joints import JOINT_RANGES, SHORT_JOINTS
from previz.scene.lamp import SPECTRA, TWO_COLOUR, Flicker, OwnSpectrum
from previz.scene.light import ACCESSORIES, LIGHTS, Consumption, Light
from previz.scene.mains import Circuit, Generator, Mains
from previz.scene.modifiers import CLOTHS, LOBES, NETS, Board, Diffusion, Flag, Grid, Net
from previz.scene.patterns import FLOORED, PATTERNS, USUAL
from previz.scene.piece import PLAIN_SHAPES, Piece
from previz.scene.records import Record
from previz.scene.room import Door, Opening, Room, RoomSurfaces, Trim
from previz.scene.skyline import Band
from previz.scene.stop_map import StopMap, Zone
from previz.scene.surface import Surface
from previz.scene.wants import CameraMoves, LampMoves, Want
from previz.scene.wear import GARMENTS, OUTFITS
from previz.scene.words import listed
from previz.units import show

COMMON = "common practice, no source"


@dataclass(frozen=True)
class Entry:
    """One thing that can be written.

    Parameters
    ----------
    text : str
        What it is.
    unit : str
        '' for none.
    facts : tuple of str
        Default, choices, range, source.
    """

    name: str
    text: str
    unit: str = ""
    facts: tuple[str, ...] = ()


@dataclass(frozen=True)
class Group:
    """Entries that belong together; '' heads those that each stand for itself, a note says what is usual."""

    head: str
    entries: tuple[Entry, ...]
    note: str = ""


def vocabulary(section: str) -> list[Group]:
    """Return one of `SECTIONS`."""
    return list(_SECTIONS[section]())


def _fields_of(cls: type, base: type | None = None) -> tuple[Entry, ...]:
    """Return the fields of one record; with a base only those that it does not have as they are."""
    shared = table(base) if base else {}
    return tuple(_field(name, entry) for name, entry in table(cls).items()
                 if shared.get(name) is not entry)


def _field(name: str, entry: Field) -> Entry:
    facts = ["required" if entry.required else f"default {_default(entry)}"]
    if entry.choices:
        facts.append("one of: " + ", ".join(entry.choices))
    if entry.range_text and entry.kind != "file":
        facts.append(entry.range_text)
    if entry.source:
        facts.append(entry.source)
    return Entry(name, entry.help, entry.unit or "", tuple(facts))


def _default(entry: Field) -> str:
    """Return a default as a person would write it; a record by its name or its noun."""
    if entry.kind in ("surface", "record") and isinstance(entry.default, Record):
        return getattr(entry.default, "name", None) or f"a {entry.default.noun}"
    return entry.show(entry.default)


def _record(cls: type[Record]) -> Group:
    """Return the fields of a record under its noun and what it is."""
    return Group(f"{cls.noun}: {_summary(cls)}", _fields_of(cls))


def _summary(cls: type) -> str:
    """Return the first line of what a record says it is."""
    return (cls.__doc__ or "").strip().splitlines()[0]


def _lights() -> Iterator[Group]:
    yield Group("every lamp:", _fields_of(Light))
    for kind, cls in LIGHTS.items():
        usual = cls.usual
        ranges = [f"{each[0]:.10g} to {each[1]:.10g} {unit}" for each, unit in (
            (usual.lumens, "lm"), (usual.watts, "W"), (usual.weight, "kg")) if each]
        yield Group(f"{kind}: {_summary(cls)}", _fields_of(cls, Light),
                    f"usually {', '.join(ranges)} ({usual.source})")
    yield Group("ON LAMPS:", ())
    yield from map(_record, (*ACCESSORIES, Consumption, Flicker))
    yield _ripples()


def _ripples() -> Group:
    """Return how deep the light of lamps ripples that do not state it."""
    sizes = ", ".join(f"{_percent(depth, 0)} {'over' if most == inf else 'up to'} "
                      f"{FILAMENT_DEPTHS[-2][0] if most == inf else most:g} W"
                      for most, depth in FILAMENT_DEPTHS)
    return Group("flicker that is taken, at twice the mains' frequency:", (
        Entry("tungsten, blackbody", sizes, facts=("from memory",)),
        *(Entry(name, _percent(ripple.depth or 0.0, 0), facts=(ripple.source,))
          for name, ripple in (("fluorescent", MAGNETIC_FLUORESCENT), ("metal halide", MAGNETIC_DISCHARGE))),
        Entry("led and all others", "not known", facts=(UNKNOWN.source,))))


def _spectra() -> Iterator[Group]:
    yield Group("", (Entry("words", ", ".join(SPECTRA)),))
    yield Group("or figures of its own:", _fields_of(OwnSpectrum))
    warm, cool = TWO_COLOUR
    peaks = ", ".join(f"{name} {each[0]:g} nm" for name, each in EMITTERS.items())
    source = "'Luminous efficacy' table of a general encyclopaedia"
    yield Group("", (
        Entry("two-colour led", f"{warm:g} K and {cool:g} K", facts=(COMMON,)),
        Entry("multi-emitter led", peaks, facts=(COMMON,)),
        *(Entry(name, f"{low:g} to {high:g} lm/W", facts=(source,))
          for name, (low, high) in EFFICACY_LM_PER_W.items())))


def _percent(share: float, decimals: int) -> str:
    return f"{100 * share:.{decimals}f} %"


def _modifiers() -> Iterator[Group]:
    yield from map(_record, (Board, Diffusion, Flag, Net, Grid))
    cloths = []
    for name, (transmission, spread) in CLOTHS.items():
        lobe = f", lobe {LOBES[name]:g} deg" if name in LOBES else ""
        cloths.append(Entry(name, f"transmission {_percent(transmission, 0)}, spread {_percent(spread, 0)}"
                                  f"{lobe}", facts=(COMMON,)))
    nets = [Entry(f"{name} net", f"transmission {_percent(share, 1)}", facts=(COMMON,))
            for name, share in NETS.items()]
    yield Group("cloths and sheets of a diffusion frame:", (*cloths, *nets))


def _surfaces() -> Iterator[Group]:
    daylight, entries = spectrum_of("daylight", 6504.0), []
    for name, material in sorted(MATERIALS.items()):
        share = luminance_reflectance(material.reflectance, daylight)
        kind = "metal" if material.metal else f"gloss {material.gloss:g}"
        if material.transmission is not None:
            through = luminance_reflectance(material.transmission, daylight)
            kind = f"transmission {through:.3g}, {kind}"
        shown = "" if name not in USUAL else f", shows {USUAL[name][0]} of {show(USUAL[name][1], 'length')}"
        text = f"reflectance {share:.3g}, {kind}, roughness {material.roughness:g}{shown}"
        entries.append(Entry(name, text, facts=(material.source,)))
    yield Group("", tuple(entries))
    yield Group(f"patterns, each with its size ({COMMON}):", tuple(
        Entry(word, each.help, facts=(f"{each.sized} {show(each.size, 'length')}",
                                      *([f"beside it {each.second}"] if each.second else ()),
                                      *(["wears"] if each.wears else ())))
        for word, each in PATTERNS.items()),
        f"{', '.join(FLOORED)} are laid in planks as a room's floor and walls")


def _colours() -> Iterator[Group]:
    munsell = "Munsell {} (ASTM D1535; of paint and cloth by common practice, no source)"
    yield Group("", tuple(
        Entry(word, f"{value} {munsell.format(NOTATIONS[word])}") if word in NOTATIONS
        else Entry(word, str(value), facts=(COMMON,)) for word, value in PALETTE.items()))


def _gels() -> Iterator[Group]:
    entries = []
    for name in NAMES:
        figures = nominal(name) or {}
        parts = [f"{figures['mired']:+.3g} mired"] if "mired" in figures else []
        parts += [f"Duv {figures['green']:+.3g}"] if "green" in figures else []
        kelvin = TUNGSTEN_K if figures.get("mired", 0) < 0 else DAYLIGHT_K
        share = luminous_transmission(named_gel(name), radiance(WAVELENGTHS_NM, kelvin))
        of = "" if name.startswith("nd") else f" of {kelvin:g} K"
        entries.append(Entry(name, ", ".join([*parts, f"passes {100 * share:.3g} %{of}"])))
    yield Group(f"names, by nominal arithmetic ({COMMON}):", tuple(entries))
    yield Group("or in figures, from the sheet's own data:", _fields_of(Gel))


def _pieces() -> Iterator[Group]:
    yield Group("exact solids, with the size that is written:", tuple(
        Entry(word, "a solid") for word in PLAIN_SHAPES))
    yield Group("kinds, each with its usual size across, deep and high; 'surface' is of the first part, "
                "'also' of the others:", tuple(_piece(word, kind) for word, kind in KINDS.items()))


def _piece(word: str, kind: Kind) -> Entry:
    """Return a kind with its size, its parts and what they are usually made of."""
    parts = ", ".join(f"{part} {surface.name or 'own'}" if surface else part
                      for part, surface in kind.parts.items())
    facts = [f"parts: {parts}"]
    if kind.opens:
        facts.append(f"opens {kind.opens} up to {kind.widest:g} deg")
    if kind.holds:
        facts.append(f"holds {kind.holds}")
    return Entry(word, f"{kind.help} {' x '.join(f'{each:g}' for each in kind.size)}", "m",
                 (*facts, kind.source))


FOCUS = ("a thin lens; blur discs are (f/N) (f / (s - f)) |d - s| / d on the sensor. The T-stop\n  is what "
         "reaches the sensor at the distance in focus: no loss by extension is taken.")
"""How a camera's focus is meant."""


def _fields() -> Iterator[Group]:
    more = {Moon: _outside, Haze: _haze, Mark: _joints, Figure: _garments}
    for cls in (Room, RoomSurfaces, Trim, Opening, Door, Curtain, Blind, Piece, Figure, Mark, Surface,
                Daylight, Clouds, Sun, Moon, Band, Haze, Camera, Latitude, Show, CameraOptics, Meter,
                SpotPatch, Want, LampMoves, CameraMoves, StopMap, Zone, Mains, Circuit, Generator):
        yield Group(f"{cls.noun}:", (*_fields_of(cls), *([Entry("focus", FOCUS)] if cls is Camera else [])))
        if cls in more:
            yield more[cls]()


def _haze() -> Group:
    """Return what the words for haze stand for."""
    return Group(f"haze by a word ({COMMON}):", tuple(
        Entry(name, f"{density:g} /m, one sees {visibility(density, RANGE_CONTRAST):.0f} m")
        for name, density in LEVELS.items()))


def _garments() -> Group:
    """Return what a figure can wear, and what each garment has of its own."""
    entries = []
    for kind, cls in GARMENTS.items():
        record: type = cls
        own = ", ".join(name for name in table(record) if name != "cloth")
        said = (cls.__doc__ or "").partition("\n")[0]
        entries.append(Entry(str(kind), f"{said} It has: {own}." if own else said))
    for person, kinds in OUTFITS.items():
        entries.append(Entry(f"{person} by default", listed(kinds)))
    return Group(f"what figures wear ({COMMON}):", tuple(entries))


def _joints() -> Group:
    """Return the joints of a figure and how far each turns."""
    short, entries = {full: name for name, full in SHORT_JOINTS.items()}, []
    for name, (low, high) in JOINT_RANGES.items():
        if not name.startswith("right "):
            also = f" or '{short[name]}'" if name in short else ""
            sides = ", and right" if name.startswith("left ") else ""
            entries.append(Entry(f"{name}{also}{sides}", f"{low:g} to {high:g} deg"))
    return Group("joints of a figure, 0 in the upright stance with hanging arms (ranges of motion, from "
                 "memory):", tuple(entries))


def _outside() -> Group:
    """Return what sun, moon and skies give where a scene does not say."""
    entries = []
    for name, (least, more, power) in SKY_LEVELS.items():
        shape = "sin(h)" if power == 1 else f"sin(h)^{power:g}"
        entries.append(Entry(f"{name} sky", f"{least / 1000:g} + {more / 1000:g} {shape} klx",
                             facts=("IES recommended practice 1984",)))
    dusk = ", ".join(f"{sky_illuminance('clear', -down):.2g} lx at {down} deg"
                     for down in (3, 6, 9, 12, 18))
    return Group("light outside, where none is written, at altitude h:", (
        *entries,
        Entry("clear sky with the sun down", f"{dusk} (Explanatory Supplement to the Astronomical "
              "Almanac 1992, as quoted in public programs); clouds take what they take at sunset"),
        Entry("sun", "90 (1.147 - 0.147 / sin(h)) klx above 10 deg, below by its air mass",
              facts=("an open sky generator", "extinction as of the skies")),
        Entry("moon", "0.31 lx times the air's transmission when full, less by its phase",
              facts=("Krisciunas and Schaefer 1991",))))


_SECTIONS: dict[str, Callable[[], Iterator[Group]]] = {
    "lights": _lights, "spectra": _spectra, "modifiers": _modifiers, "surfaces": _surfaces,
    "colours": _colours, "fields": _fields, "gels": _gels, "pieces": _pieces}

SECTIONS = tuple(_SECTIONS)
"""Names of the sections, in the order that they are listed."""
