"""Options of every command that makes exposure maps: steps, zones, where it says clipped and crushed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import click

from previz.cli.options import stacked

if TYPE_CHECKING:
    from previz.scene.read import SceneFile
    from previz.scene.scene import Scene
    from previz.scene.stop_map import StopMap, Zone

_NUMBER = r"[+\-\N{MINUS SIGN}]?\d+(?:\.\d*)?"
_ZONE = re.compile(rf"\s*(?P<name>[^:]+?)\s*:\s*(?P<low>{_NUMBER})\s*to\s*(?P<high>{_NUMBER})\s*")


def zone(text: str) -> Zone:
    """Return a zone of the map, written 'skin: -0.5 to 0.5', in stops from 18 % grey.

    Raises
    ------
    click.BadParameter
        It is none, runs from the greater to the less, or goes beyond `FURTHEST`.
    """
    from previz.scene.stop_map import FURTHEST, Zone

    found = _ZONE.fullmatch(text)
    if found is None:
        raise click.BadParameter(f"'{text}' is no zone; write 'skin: -0.5 to 0.5', in stops from 18 % grey.")
    low, high = (float(found[end].replace("\N{MINUS SIGN}", "-")) for end in ("low", "high"))
    if low >= high or max(-low, high) > FURTHEST:
        raise click.BadParameter(f"zone '{found['name']}' goes from {low:g} to {high:g}; write the lesser "
                                 f"end first, both from -{FURTHEST:g} to {FURTHEST:g} stops.")
    return Zone(name=found["name"], stops=(low, high))


def _kept(ctx: click.Context, parameter: click.Parameter, value: Any) -> Any:
    if value not in (None, ()):
        ctx.meta.setdefault(__name__, {})[parameter.name] = value
    return value


def _zones(ctx: click.Context, parameter: click.Parameter, value: tuple[Zone, ...]) -> Any:
    from previz.scene.stop_map import StopMap, faults

    for _, message, advice in faults(StopMap(zones=value)):
        raise click.BadParameter(f"{message}. {advice}", ctx, parameter)
    return _kept(ctx, parameter, value)


MAP = stacked(
    click.option("--steps", type=click.Choice(["whole", "half"]), callback=_kept, expose_value=False,
                 help="Stops that one colour of an exposure map stands for; as the scene has it without."),
    click.option("--zone", "zones", multiple=True, type=zone, metavar="'NAME: FROM to TO'", callback=_zones,
                 expose_value=False,
                 help="Paint only these levels on exposure maps, over the still in grey, as "
                      "'skin: -0.5 to 0.5' in stops from 18 % grey; may be given again."),
    click.option("--clip", type=click.FloatRange(0.5, 20), metavar="STOPS", callback=_kept,
                 expose_value=False,
                 help="Stops over grey from which maps say clipped; the camera's latitude without it."),
    click.option("--crush", type=click.FloatRange(-20, -0.5), metavar="STOPS", callback=_kept,
                 expose_value=False,
                 help="Stops from grey under which maps say crushed, as -6; the camera's latitude "
                      "without it."),
)
"""Options that maps are made by; `mapped` lays them over what a scene says."""


def _given() -> dict[str, Any]:
    return click.get_current_context().meta.get(__name__, {})


def mapped(file: SceneFile) -> SceneFile:
    """Return a scene file whose maps are made as the command line has it."""
    from dataclasses import replace

    return replace(file, scenes={name: mapped_scene(scene) for name, scene in file.scenes.items()})


def mapped_scene(scene: Scene) -> Scene:
    """Return a scene whose maps are made as the command line has it."""
    from dataclasses import replace

    return replace(scene, map=_over(scene.map)) if _given() else scene


def _over(made: StopMap | None) -> StopMap:
    from dataclasses import replace

    from previz.scene.stop_map import StopMap

    return replace(made or StopMap(), **_given())
