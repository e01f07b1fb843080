"""What stands on stands, and what of it is a sail outside."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from previz.physics.safety import NO_SOURCE, Caution, few
from previz.physics.wind import FRESH, STANDARD_GRAVITY, wind_force
from previz.stage.sheets import standing

if TYPE_CHECKING:
    from previz.scene.lamp import Light
    from previz.scene.modifiers import Sheet
    from previz.scene.room import Room
    from previz.scene.scene import Scene

HIGH = 2.0
"""What is held higher makes its stand one to be weighed down. [m]  Common practice, no source."""

LARGE = 1.0
"""So does a sheet of such an area. [m²]  Common practice, no source."""

SAIL = 0.25
"""A sheet of such an area outside is a sail. [m²]  Common practice, no source."""

ON_STAND = 0.4
"""What is lower needs no stand. [m]  Common practice, no source."""

UNDER_CEILING = 0.5
"""What is so near to a ceiling is taken to hang from it. [m]  Common practice, no source."""

SPREAD, CROWN = 0.45, 0.5
"""How far a stand's feet stand from its pole, and where its legs leave it. [m]
Common practice, no source."""

ON_CAMERA = 0.5
"""A small lamp so near to a camera sits on it. [m]  Common practice, no source."""

SAILS, TIPPING = 4, 8
"""How urgent sails outside are, and stands that may tip."""

SOURCE = "EN 1991-1-4, from memory"


def outside(item: Light | Sheet, room: Room | None) -> bool:
    """Return whether a thing is not in the room."""
    if room is None:
        return True
    return item.at is not None and any(
        not 0 <= place <= side for place, side in zip(item.at, room.size, strict=True))


def under_the_sky(scene: Scene) -> bool:
    """Return whether a scene has an outside at all."""
    return scene.ground is not None or scene.daylight is not None


def on_stands(scene: Scene) -> tuple[list[Light], list[Sheet]]:
    """Return lamps, and boards and frames, that stands hold."""
    def held(item: Light | Sheet) -> bool:
        room = scene.room
        if item.at is None or item.hung is not None or item.at[2] < ON_STAND:
            return False
        return (room is None or not room.ceiling or outside(item, room)
                or room.size[2] - item.at[2] > UNDER_CEILING)

    return ([light for light in scene.lights if light.held == "stand" and held(light)],
            [item for item in standing(scene) if held(item)])


def stand_cautions(scene: Scene) -> Iterator[Caution]:
    """Yield the caution for sails outside, and the one for stands that are high or hold much."""
    lamps, sheets = on_stands(scene)
    if under_the_sky(scene):
        sails = [item for item in sheets if outside(item, scene.room) and _area(item) >= SAIL]
        if sails:
            yield _sails(sails)
    tall = [*lamps, *(item for item in sheets if _area(item) < LARGE)]
    found = [item for item in tall if _height(item) > HIGH] + [
        item for item in sheets if _area(item) >= LARGE]
    if found:
        names = tuple(item.name for item in found)
        top = max(_height(item) for item in found)
        yield Caution(
            "stands", "stands that may tip", f"Stands: {few(names)}: legs spread, a sandbag on each",
            f"Stands: {', '.join(names)}. Spread the legs on level ground, one of them under "
            "the load, with a sandbag on it that hangs clear of the floor; do not raise a stand over its "
            "rated height or load, lead the cable down at its foot, and have two people move it. "
            f"Whoever is in charge of rigging decides. Source: {NO_SOURCE}.",
            NO_SOURCE, TIPPING, names, max(top - HIGH, 0.0))


def _sails(sails: list[Sheet]) -> Caution:
    names = tuple(item.name for item in sails)
    largest = max(sails, key=_area)
    force = wind_force(_area(largest))
    kilograms = force / STANDARD_GRAVITY
    return Caution(
        "wind", "sails in the wind",
        f"Wind: {few(names)}: a breeze of {FRESH:g} m/s pushes {largest.name} with {_two(force)} N: lines "
        "and sandbags, somebody at each, down before it blows",
        f"Wind: {', '.join(names)} stand outside as sails. A fresh breeze of {FRESH:g} m/s, which sways "
        f"small trees, pushes {largest.name} of {_area(largest):.2g} m² with up to {_two(force)} N, the "
        f"weight of {_two(kilograms)} kg, and one of twice the speed with four times as much. Tie each "
        "down with lines, sandbag its stands, keep somebody at it, and have it down or flat before wind or "
        "a storm comes; leave nothing up alone. Whoever is in charge of rigging decides, by the wind that "
        f"is measured there. Source: {SOURCE}.", SOURCE, SAILS, names, _area(largest))


def _area(item: Sheet) -> float:
    return float(item.size[0] * item.size[1])


def _height(item: Light | Sheet) -> float:
    return 0.0 if item.at is None else float(item.at[2])


def _two(number: float) -> str:
    """Return a number in two figures, without an exponent."""
    return f"{float(f'{number:.2g}'):g}"
