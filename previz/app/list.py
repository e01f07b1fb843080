"""`previz list`: everything that can be written in a scene, and where its numbers come from."""

from __future__ import annotations

import click

SECTIONS = ("lights", "surfaces", "fields", "gels")


@click.command()
@click.argument("section", type=click.Choice(SECTIONS), required=False)
def command(section):
    """List lamps, surfaces, gels and fields with their units, ranges and defaults.

    SECTION shows one of them; without it, all.
    """
    shown = {"lights": _lights, "surfaces": _surfaces, "fields": _fields, "gels": _gels}
    for name in (section,) if section else SECTIONS:
        click.echo(click.style(name.upper(), bold=True))
        shown[name]()
        click.echo()


def _table(cls, indent: str = "  ") -> None:
    """Print the fields of one record."""
    from previz.scene.fields import table

    for name, entry in table(cls).items():
        default = "required" if entry.required else f"default {entry.show(entry.default)}"
        parts = [default]
        if entry.choices:
            parts.append("one of: " + ", ".join(entry.choices))
        if entry.range_text:
            parts.append(entry.range_text)
        if entry.source:
            parts.append(entry.source)
        unit = f" [{entry.unit}]" if entry.unit else ""
        click.echo(f"{indent}{name}{unit}: {entry.help} ({'; '.join(parts)})")


def _lights() -> None:
    from previz.scene.light import LIGHTS

    for kind, cls in LIGHTS.items():
        click.echo(f"{kind}: {cls.__doc__.strip().splitlines()[0]}")
        _table(cls)


def _surfaces() -> None:
    from previz.physics.lamps import spectrum_of
    from previz.physics.materials import MATERIALS
    from previz.physics.skin import luminance_reflectance

    daylight = spectrum_of("daylight", 6504.0)
    for name, material in MATERIALS.items():
        share = luminance_reflectance(material.reflectance, daylight)
        kind = "metal" if material.metal else f"gloss {material.gloss:g}"
        click.echo(f"{name}: reflectance {share:.3g}, {kind}, roughness {material.roughness:g} "
                   f"({material.source})")


def _gels() -> None:
    from previz.scene.gel import NAMES, nominal

    for name in NAMES:
        told = ", ".join(f"{key} {value:+.3g}" for key, value in nominal(name).items())
        click.echo(f"{name}: {told} (nominal arithmetic; common practice, no source)")


def _fields() -> None:
    from previz.scene.camera import Camera, Meter
    from previz.scene.daylight import Daylight, Sun
    from previz.scene.figure import Figure
    from previz.scene.haze import Haze
    from previz.scene.modifiers import Board, Diffusion, Flag
    from previz.scene.piece import Piece
    from previz.scene.room import Opening, Room, RoomSurfaces
    from previz.scene.surface import Surface

    for cls in (Room, RoomSurfaces, Opening, Piece, Figure, Surface, Daylight, Sun, Board,
                Diffusion, Flag, Haze, Camera, Meter):
        click.echo(f"{cls.noun}:")
        _table(cls)
