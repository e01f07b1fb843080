"""`previz list`: everything that can be written in a scene, and where its numbers come from."""

from __future__ import annotations

import click

SECTIONS = ("lights", "spectra", "modifiers", "surfaces", "colours", "fields", "gels")


@click.command()
@click.argument("section", type=click.Choice(SECTIONS), required=False)
def command(section):
    """List lamps, modifiers, surfaces, colours, gels and fields with units, ranges, defaults and sources.

    SECTION shows one of them; without it, all.
    """
    shown = {"lights": _lights, "spectra": _spectra, "modifiers": _modifiers,
             "surfaces": _surfaces, "colours": _colours, "fields": _fields, "gels": _gels}
    for name in (section,) if section else SECTIONS:
        click.echo(click.style(name.upper(), bold=True))
        shown[name]()
        click.echo()


def _table(cls, indent: str = "  ", base=None) -> None:
    """Print the fields of one record; with a base only those that it does not have as they are."""
    from previz.scene.fields import table

    shared = table(base) if base else {}
    for name, entry in table(cls).items():
        if shared.get(name) is entry:
            continue
        default = "required" if entry.required else f"default {_default(entry)}"
        parts = [default]
        if entry.choices:
            parts.append("one of: " + ", ".join(entry.choices))
        if entry.range_text and entry.kind != "file":
            parts.append(entry.range_text)
        if entry.source:
            parts.append(entry.source)
        unit = f" [{entry.unit}]" if entry.unit else ""
        click.echo(f"{indent}{name}{unit}: {entry.help} ({'; '.join(parts)})")


def _default(entry) -> str:
    """Return a default as a person would write it; a record by its name or its noun."""
    from previz.scene.records import Record

    if entry.kind in ("surface", "record") and isinstance(entry.default, Record):
        return getattr(entry.default, "name", None) or f"a {entry.default.noun}"
    return entry.show(entry.default)


def _lights() -> None:
    from previz.scene.light import ACCESSORIES, LIGHTS, Consumption, Light

    click.echo("every lamp:")
    _table(Light)
    for kind, cls in LIGHTS.items():
        click.echo(f"{kind}: {cls.__doc__.strip().splitlines()[0]}")
        usual = cls.usual
        ranges = [f"{each[0]:.10g} to {each[1]:.10g} {unit}" for each, unit in (
            (usual.lumens, "lm"), (usual.watts, "W"), (usual.weight, "kg")) if each]
        click.echo(f"  usually {', '.join(ranges)} ({usual.source})")
        _table(cls, base=Light)
    click.echo("ON LAMPS:")
    for cls in (*ACCESSORIES, Consumption):
        click.echo(f"{cls.noun}: {cls.__doc__.strip().splitlines()[0]}")
        _table(cls)


def _spectra() -> None:
    from previz.physics.lamps import EFFICACY_LM_PER_W
    from previz.physics.multi_emitter import EMITTERS
    from previz.scene.lamp import SPECTRA, TWO_COLOUR, OwnSpectrum

    click.echo(f"words: {', '.join(SPECTRA)}")
    click.echo("or figures of its own:")
    _table(OwnSpectrum)
    warm, cool = TWO_COLOUR
    click.echo(f"two-colour led: {warm:g} K and {cool:g} K (common practice, no source)")
    peaks = ", ".join(f"{name} {each[0]:g} nm" for name, each in EMITTERS.items())
    click.echo(f"multi-emitter led: {peaks} (common practice, no source)")
    for name, (low, high) in EFFICACY_LM_PER_W.items():
        click.echo(f"{name}: {low:g} to {high:g} lm/W ('Luminous efficacy' table of a general "
                   "encyclopaedia)")


def _modifiers() -> None:
    from previz.scene.modifiers import CLOTHS, LOBES, NETS, Board, Diffusion, Flag, Grid, Net

    for cls in (Board, Diffusion, Flag, Net, Grid):
        click.echo(f"{cls.noun}: {cls.__doc__.strip().splitlines()[0]}")
        _table(cls)
    click.echo("cloths and sheets of a diffusion frame:")
    for name, (transmission, spread) in CLOTHS.items():
        lobe = f", lobe {LOBES[name]:g} deg" if name in LOBES else ""
        click.echo(f"  {name}: transmission {transmission:.0%}, spread {spread:.0%}"
                   .replace("%", " %") + f"{lobe} (common practice, no source)")
    for name, transmission in NETS.items():
        click.echo(f"  {name} net: transmission {transmission:.1%}".replace("%", " %")
                   + " (common practice, no source)")


def _surfaces() -> None:
    from previz.physics.lamps import spectrum_of
    from previz.physics.materials import MATERIALS
    from previz.physics.skin import luminance_reflectance

    daylight = spectrum_of("daylight", 6504.0)
    for name, material in sorted(MATERIALS.items()):
        share = luminance_reflectance(material.reflectance, daylight)
        kind = "metal" if material.metal else f"gloss {material.gloss:g}"
        if material.transmission is not None:
            through = luminance_reflectance(material.transmission, daylight)
            kind = f"transmission {through:.3g}, {kind}"
        click.echo(f"{name}: reflectance {share:.3g}, {kind}, roughness {material.roughness:g} "
                   f"({material.source})")


def _colours() -> None:
    from previz.scene.colour import NOTATIONS, PALETTE

    for word, value in PALETTE.items():
        told = (f"Munsell {NOTATIONS[word]} (ASTM D1535; of paint and cloth by common practice, no source)"
                if word in NOTATIONS else "(common practice, no source)")
        click.echo(f"{word}: {value} {told}")


def _gels() -> None:
    from previz.physics.blackbody import radiance
    from previz.physics.gel import DAYLIGHT_K, TUNGSTEN_K, luminous_transmission, named_gel
    from previz.physics.spectra import WAVELENGTHS_NM
    from previz.scene.gel import NAMES, Gel, nominal

    click.echo("names, by nominal arithmetic (common practice, no source):")
    for name in NAMES:
        figures = nominal(name)
        told = [f"{figures['mired']:+.3g} mired"] if "mired" in figures else []
        told += [f"Duv {figures['green']:+.3g}"] if "green" in figures else []
        kelvin = TUNGSTEN_K if figures.get("mired", 0) < 0 else DAYLIGHT_K
        share = luminous_transmission(named_gel(name), radiance(WAVELENGTHS_NM, kelvin))
        of = "" if name.startswith("nd") else f" of {kelvin:g} K"
        click.echo(f"  {name}: {', '.join([*told, f'passes {100 * share:.3g} %{of}'])}")
    click.echo("or in figures, from the sheet's own data:")
    _table(Gel)


def _fields() -> None:
    from previz.scene.camera import Camera, Meter, SpotPatch
    from previz.scene.daylight import Daylight, Moon, Sun
    from previz.scene.dressing import Blind, Curtain
    from previz.scene.figure import Figure, Mark
    from previz.scene.haze import Haze
    from previz.scene.piece import Piece
    from previz.scene.room import Opening, Room, RoomSurfaces
    from previz.scene.surface import Surface

    for cls in (Room, RoomSurfaces, Opening, Curtain, Blind, Piece, Figure, Mark, Surface, Daylight,
                Sun, Moon, Haze, Camera, Meter, SpotPatch):
        click.echo(f"{cls.noun}:")
        _table(cls)
        if cls is Camera:
            click.echo("  focus: a thin lens; blur discs are (f/N) (f / (s - f)) |d - s| / d on the sensor. "
                       "The T-stop\n  is what reaches the sensor at the distance in focus: no loss by "
                       "extension is taken.")
        if cls is Moon:
            _levels_that_follow()
        if cls is Haze:
            _haze_by_a_word()
        if cls is Mark:
            _joints()


def _haze_by_a_word() -> None:
    """Print what the words for haze stand for."""
    from previz.physics.haze import RANGE_CONTRAST, visibility
    from previz.scene.haze import LEVELS

    click.echo("haze by a word (common practice, no source):")
    for name, density in LEVELS.items():
        click.echo(f"  {name}: {density:g} /m, one sees "
                   f"{visibility(density, RANGE_CONTRAST):.0f} m")


def _joints() -> None:
    """Print the joints of a figure and how far each turns."""
    from previz.scene.joints import JOINT_RANGES, SHORT_JOINTS

    click.echo("joints of a figure, 0 in the upright stance with hanging arms (ranges of motion, from "
               "memory):")
    short = {full: name for name, full in SHORT_JOINTS.items()}
    for name, (low, high) in JOINT_RANGES.items():
        if not name.startswith("right "):
            also = f" or '{short[name]}'" if name in short else ""
            sides = ", and right" if name.startswith("left ") else ""
            click.echo(f"  {name}{also}{sides}: {low:g} to {high:g} deg")


def _levels_that_follow() -> None:
    """Print what sun, moon and skies give where a scene does not say."""
    from previz.physics.sky_level import SKY_LEVELS, sky_illuminance

    click.echo("light outside, where none is written, at altitude h:")
    for name, (least, more, power) in SKY_LEVELS.items():
        shape = "sin(h)" if power == 1 else f"sin(h)^{power:g}"
        click.echo(f"  {name} sky: {least / 1000:g} + {more / 1000:g} {shape} klx (IES "
                   "recommended practice 1984)")
    dusk = ", ".join(f"{sky_illuminance('clear', -down):.2g} lx at {down} deg"
                     for down in (3, 6, 9, 12, 18))
    click.echo(f"  clear sky with the sun down: {dusk} (Explanatory Supplement to the Astronomical "
               "Almanac 1992, as quoted in public programs); clouds take what they take at sunset")
    click.echo("  sun: 90 (1.147 - 0.147 / sin(h)) klx above 10 deg, below by its air mass (an open "
               "sky generator; extinction as of the skies)")
    click.echo("  moon: 0.31 lx times the air's transmission when full, less by its phase "
               "(Krisciunas and Schaefer 1991)")
