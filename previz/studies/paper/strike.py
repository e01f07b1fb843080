"""From one option to the next: the order that moves least, and what is done between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from previz.physics.meter import LUX_PER_FOOTCANDLE
from previz.plans.aims import aim_point, aimed_at
from previz.plans.lengths import METRIC, said
from previz.plans.lines import Change, ChangeOver, GripLine, LampLine, SetUp
from previz.scene.gel import gel_name
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.stage.outdoors import resolved, shining
from previz.studies.paper.lamps import percent
from previz.studies.paper.order import cheapest_order
from previz.studies.paper.support import ABOVE_WORDS, HEAD_HEIGHT, HUNG_WORDS

STRIKE, ADD, MOVE, AIM, GEL, FRAME, SET = "strike", "add", "move", "aim", "gel", "frame", "set"

EFFORT: Mapping[str, float] = {STRIKE: 2.0, ADD: 4.0, MOVE: 3.0, AIM: 1.0, GEL: 1.0, FRAME: 1.0, SET: 0.25}
"""What each change counts, in aims of a lamp that stands.  Common practice, no source."""

EACH_METRE = 0.1
"""What each metre that something is carried counts on top.  Common practice, no source."""

OVERHEAD = 2.0
"""What hangs, or is higher than a head, counts so many times what stands.  Common practice, no source."""

MOVED, TURNED = 0.02, 1.0
"""Less is no move [m] and no new aim [deg]."""

SORTS = ("barn doors", "snoot", "shutters", "egg crate", "shade", "fabric grid", "skirt", "rolled", "iris",
         "soft edge")
"""Beginnings of what is on a lamp; what is none of them says how wide its beam is."""

ORDER = (STRIKE, ADD, MOVE, AIM, GEL, FRAME, SET)

Option = tuple[Scene, SetUp]
"""One option: the scene with it applied, and its lists."""


def change_overs(options: Sequence[Option], first: str | None = None,
                 system: str = METRIC) -> tuple[ChangeOver, ...]:
    """Return what is done from option to option, in the order that takes least.

    The hours of the sun are not counted; what light an option needs is told.

    Parameters
    ----------
    options : sequence of (Scene, SetUp)
        Of one scene file.
    first : str or None
        Name of the option that comes first; None for whichever is best.
    system : str
        Of lengths in words: 'metric' or 'imperial'.

    Returns
    -------
    tuple of ChangeOver
        One fewer than there are options.

    Raises
    ------
    ValueError
        There is no option of the name `first`.
    """
    names = [set_up.option for _, set_up in options]
    if first is not None and first not in names:
        raise ValueError(f"there is no option {first!r} among {names}")
    between = [[_between(one, other, system) for other in options] for one in options]
    costs = [[sum(done.effort for done in row) for row in line] for line in between]
    order = cheapest_order(costs, None if first is None else names.index(first))
    return tuple(ChangeOver(names[one], names[other], tuple(done.change for done in between[one][other]),
                            costs[one][other]) for one, other in pairwise(order))


@dataclass(frozen=True)
class _Done:
    """A change and what it counts."""

    change: Change
    effort: float


def _between(before: Option, after: Option, system: str) -> list[_Done]:
    """Return all that is done from one option to another: struck, added, moved, and so on."""
    if before is after:
        return []
    found = [*_lamps(before, after, system), *_grip(before, after, system), *_openings(before[0], after[0]),
             *_pieces(before[0], after[0], system), *_air(before[0], after[0], system),
             *_cameras(before[0], after[0], system)]
    return sorted(found, key=lambda done: ORDER.index(done.change.what))


def _done(what: str, tag: str, name: str, text: str, *, overhead: bool = False, metres: float = 0.0) -> _Done:
    effort = EFFORT[what] + (EACH_METRE * metres if what == MOVE else 0.0)
    if overhead and what in (STRIKE, ADD, MOVE, AIM, GEL, FRAME):
        effort *= OVERHEAD
    return _Done(Change(what, tag, name, text), effort)


def _place(at: Sequence[float], system: str) -> str:
    """Return a place as it is measured out: 'x 1.20 m, y 3.00 m, 2.10 m high'."""
    x, y, z = (said(float(each), system) for each in at)
    return f"x {x}, y {y}, {z} high"


def _lamps(before: Option, after: Option, system: str) -> Iterator[_Done]:
    old, new = ({line.name: line for line in option[1].lamps} for option in (before, after))
    lights = [{light.name: light for light in option[0].lights} for option in (before, after)]
    for name in [*old, *(name for name in new if name not in old)]:
        one, other = old.get(name), new.get(name)
        if one is not None and other is not None:
            if _other_lamp(one, other, lights[0].get(name), lights[1].get(name)):
                yield _done(STRIKE, one.tag, name, f"strike {_lamp_said(one)}", overhead=_high(one))
                yield _done(ADD, other.tag, name, f"in its place {_lamp_said(other)}", overhead=_high(other))
            else:
                yield from _lamp(one, other, system)
        elif other is None:
            assert one is not None
            yield _done(STRIKE, one.tag, name, f"strike {_lamp_said(one)}", overhead=_high(one))
        else:
            yield _done(ADD, other.tag, name, f"add {_lamp_said(other)} at {_place(other.at, system)}",
                        overhead=_high(other))


def _lamp_said(line: LampLine) -> str:
    return f"{line.name} ({line.kind})"


def _high(line: LampLine) -> bool:
    return line.at[2] >= HEAD_HEIGHT or line.support in (ABOVE_WORDS, *HUNG_WORDS.values())


def _other_lamp(one: LampLine, other: LampLine, old: Any, new: Any) -> bool:
    """Return whether another lamp stands under the same name."""
    if (one.kind, one.size, one.spectrum) != (other.kind, other.size, other.spectrum):
        return True
    return old is not None and new is not None and (old.output, old.watts) != (new.output, new.watts)


def _lamp(one: LampLine, other: LampLine, system: str) -> Iterator[_Done]:
    """Yield what is done to a lamp that stays."""
    high, tag, name = _high(other), other.tag, other.name
    way = math.dist(one.at, other.at)
    new_aim = _turned(one, other)
    point = aim_point(other)
    aimed = f"aim at {aimed_at(other.aim) if point is None else _place(point, system)}" if other.aim else (
        "turn upright")
    if way > MOVED or one.support != other.support:
        on = "" if one.support == other.support else f"{other.support} instead of {one.support}"
        text = f"{name} {on}"
        if way > MOVED:
            text = f"move {name} by {said(way, system)} to {_place(other.at, system)}"
            text += (f", {on}" if on else "") + (f"; {aimed}" if other.aim else "")
        yield _done(MOVE, tag, name, text, overhead=high or _high(one), metres=way)
    elif new_aim:
        yield _done(AIM, tag, name, f"{aimed[:3]} {name}{aimed[3:]}{_bearing(other)}" if other.aim
                    else f"turn {name} upright", overhead=high)
    if one.gels != other.gels:
        yield _done(GEL, tag, name, _gels(name, one.gels, other.gels), overhead=high)
    yield from _modifiers(one, other, high)
    level = _level(one, other)
    if level:
        yield _done(SET, tag, name, f"{name} {level}")


def _turned(one: LampLine, other: LampLine) -> bool:
    """Return whether a lamp points elsewhere."""
    if (one.aim == "") != (other.aim == "") or (one.pan is None) != (other.pan is None):
        return True
    if one.tilt is None or other.tilt is None:
        return False
    vectors = []
    for line in (one, other):
        pan, tilt = math.radians(line.pan or 0.0), math.radians(line.tilt or 0.0)
        vectors.append((math.cos(tilt) * math.sin(pan), math.cos(tilt) * math.cos(pan), math.sin(tilt)))
    return 2 * math.asin(min(math.dist(*vectors) / 2, 1.0)) > math.radians(TURNED)


def _bearing(line: LampLine) -> str:
    pan = "" if line.pan is None else f"pan {round(line.pan) % 360}°, "
    return f" ({pan}tilt {line.tilt:+.0f}°)" if line.tilt is not None else ""


def _gels(name: str, one: Sequence[str], other: Sequence[str]) -> str:
    out, into = [gel for gel in one if gel not in other], [gel for gel in other if gel not in one]
    words = ([f"{' + '.join(out)} out"] if out else []) + ([f"{' + '.join(into)} in"] if into else [])
    return f"{name}: {', '.join(words) or 'gels in another order'}"


def _modifiers(one: LampLine, other: LampLine, high: bool) -> Iterator[_Done]:
    """Yield what is put on a lamp or taken off, and what of it is set anew."""
    # What stands before it has a line of its own.
    old, new = ([text for text in line.modifiers if " at " not in text] for line in (one, other))
    sorts = [{_sort(text): text for text in texts} for texts in (old, new)]
    for sort, text in sorts[0].items():
        if sort not in sorts[1]:
            yield _done(FRAME, other.tag, other.name, f"{other.name}: {text} off", overhead=high)
        elif sorts[1][sort] != text:
            yield _done(AIM, other.tag, other.name, f"{other.name}: {sorts[1][sort]}", overhead=high)
    for sort, text in sorts[1].items():
        if sort not in sorts[0]:
            yield _done(FRAME, other.tag, other.name, f"{other.name}: {text} on", overhead=high)


def _sort(text: str) -> str:
    """Return what of a lamp a modifier is, without how it is set."""
    return next((sort for sort in SORTS if text.startswith(sort)), "beam")


def _level(one: LampLine, other: LampLine) -> str:
    """Return what is set on a lamp that stays: on or off, its level, its colour."""
    words = []
    if one.on != other.on:
        words.append(f"on at {percent(other.dimmer)}" if other.on else "off")
    elif other.on and abs(one.dimmer - other.dimmer) > 1e-6:
        words.append(f"to {percent(other.dimmer)}")
    if other.on and other.cct is not None and one.cct is not None and abs(one.cct - other.cct) > 0.5:
        words.append(f"to {other.cct:.0f} K")
    return ", ".join(words)


def _grip(before: Option, after: Option, system: str) -> Iterator[_Done]:
    """Yield what is done to boards, frames, flags, nets and grids."""
    old, new = ({line.name: line for line in option[1].grip if line.name} for option in (before, after))
    items = [{item.name: item for item in (*option[0].boards, *option[0].diffusion, *option[0].flags,
                                           *option[0].nets, *option[0].grids)} for option in (before, after)]
    for name in [*old, *(name for name in new if name not in old)]:
        one, other = old.get(name), new.get(name)
        if one is not None and other is not None and one.size == other.size:
            yield from _sheet(one, other, items[0].get(name), items[1].get(name), system)
            continue
        if one is not None:
            yield _done(STRIKE, one.tag, name, f"strike {name} ({one.what})", overhead=_hangs(one))
        if other is not None:
            where = other.support if other.support.startswith("before") else (
                f"at {_place(other.at, system)}" if other.at else other.support)
            yield _done(ADD, other.tag, name, f"add {name} ({other.what}) {where}", overhead=_hangs(other))


def _hangs(line: GripLine) -> bool:
    return (line.at is not None and line.at[2] >= HEAD_HEIGHT) or line.support in ("from above",
                                                                                   *HUNG_WORDS.values())


def _sheet(one: GripLine, other: GripLine, old: Any, new: Any, system: str) -> Iterator[_Done]:
    tag, name, high = other.tag, other.name, _hangs(other)
    if one.what != other.what:
        yield _done(FRAME, tag, name, f"{name}: {other.what} instead of {one.what}", overhead=high)
    if other.support.startswith("before") or one.support.startswith("before"):
        # What is before a lamp goes with it.
        if one.support != other.support:
            yield _done(MOVE, tag, name, f"move {name} to {other.support}", overhead=high)
        return
    assert one.at is not None and other.at is not None
    way = math.dist(one.at, other.at)
    if way > MOVED or one.support != other.support:
        yield _done(MOVE, tag, name, f"move {name} by {said(way, system)} to {_place(other.at, system)}",
                    overhead=high, metres=way)
    elif old is not None and new is not None and (old.facing, old.turn) != (new.facing, new.turn):
        yield _done(AIM, tag, name, f"turn {name} to {new.facing}", overhead=high)


def _openings(before: Scene, after: Scene) -> Iterator[_Done]:
    """Yield what is done at windows: gel, curtain, blind."""
    old, new = ({each.name: each for each in (scene.room.openings if scene.room else ())}
                for scene in (before, after))
    for name, other in new.items():
        one = old.get(name)
        if one is None:
            continue
        high = other.sill + other.size[1] >= HEAD_HEIGHT
        gels = [tuple(gel_name(gel) for gel in each.gel) for each in (one, other)]
        if gels[0] != gels[1]:
            yield _done(GEL, "", name, _gels(name, *gels), overhead=high)
        for part in ("curtain", "blind"):
            hung, hangs = getattr(one, part), getattr(other, part)
            if (hung is None) != (hangs is None):
                yield _done(FRAME, "", name, f"{name}: {'strike' if hangs is None else 'hang'} the {part}",
                            overhead=high)
            elif hung != hangs:
                yield _done(SET, "", name, f"{name}: {part} set anew")


def _pieces(before: Scene, after: Scene, system: str) -> Iterator[_Done]:
    """Yield which pieces of the set go, come and move."""
    old, new = ({piece.name: piece for piece in scene.pieces} for scene in (before, after))
    for name in old:
        if name not in new:
            yield _done(STRIKE, "", name, f"strike {name}")
    for name, other in new.items():
        if name not in old:
            yield _done(ADD, "", name, f"add {name} at {_place(other.at, system)}")
            continue
        one = old[name]
        way = math.dist(one.at, other.at)
        if way > MOVED or abs(one.turn - other.turn) > TURNED:
            yield _done(MOVE, "", name, f"move {name} by {said(way, system)} to {_place(other.at, system)}",
                        metres=way)


def _air(before: Scene, after: Scene, system: str) -> Iterator[_Done]:
    yield from _light_outside(before, after, system)
    if (before.haze is None) != (after.haze is None):
        yield _done(SET, "", "haze", "haze in, and time for it to spread" if after.haze else
                    "haze out, and time for it to clear")
    elif before.haze != after.haze:
        yield _done(SET, "", "haze", "haze to another density")


def light_level(lux: float, system: str = METRIC) -> str:
    """Return an illuminance [lx] to three figures: '1 500 lx', or '139 fc'."""
    light = float(f"{lux if system == METRIC else lux / LUX_PER_FOOTCANDLE:.3g}")
    figures = f"{light:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}") if light >= 100 else f"{light:g}"
    return f"{figures} {'lx' if system == METRIC else 'fc'}"


def _light_outside(before: Scene, after: Scene, system: str) -> Iterator[_Done]:
    """Yield what the light from outside is to be. Nobody moves it, so that it counts nothing."""
    one, other = resolved(before.daylight), resolved(after.daylight)
    if one == other or other is None:
        return
    found = shining(other)
    words = [f"sky {other.sky}"] if other.sky != "none" else []
    if found is not None:
        name, body = found
        words.append(f"{name} at azimuth {body.azimuth:.0f}°, {body.altitude:.0f}° high")
    elif shining(one) is not None:
        words.append(f"no {shining(one)[0]}")
    if other.illuminance is not None and other.illuminance != (one.illuminance if one else None):
        words.append(f"the sky alone {light_level(other.illuminance, system)} on open ground")
    if words:
        yield _Done(Change(SET, "", "daylight", f"wait for the light: {', '.join(words)}"), 0.0)


CAMERA_WORDS = (("stop", "T{:g}"), ("nd", "ND {:g}"), ("iso", "ISO {:g}"), ("shutter", "shutter {:g}°"),
                ("fps", "{:g} fps"), ("white_balance", "{:.0f} K"), ("green", "Duv {:+g}"))
"""What is set on a camera, and how it is said."""


def _cameras(before: Scene, after: Scene, system: str) -> Iterator[_Done]:
    """Yield what is done to cameras: moved, aimed, another lens, stop, filters."""
    old, new = ({camera.name: camera for camera in scene.cameras} for scene in (before, after))
    for name in old:
        if name not in new:
            yield _done(STRIKE, "", name, f"strike camera {name}")
    for name, other in new.items():
        one = old.get(name)
        if one is None:
            yield _done(ADD, "", name, f"add camera {name} at {_place(other.at, system)}")
            continue
        way = math.dist(one.at, other.at)
        if way > MOVED:
            yield _done(MOVE, "", name, f"move camera {name} by {said(way, system)} to "
                        f"{_place(other.at, system)}", metres=way)
        elif _text(one.aim) != _text(other.aim) or one.roll != other.roll:
            yield _done(AIM, "", name, f"aim camera {name} at {_target(other.aim, system)}")
        if (one.lens, one.squeeze, one.sensor) != (other.lens, other.squeeze, other.sensor):
            yield _done(FRAME, "", name, f"camera {name}: lens {1000 * other.lens:g} mm")
        words = [form.format(getattr(other, field)) for field, form in CAMERA_WORDS
                 if getattr(one, field) != getattr(other, field)]
        if _text(one.focus) != _text(other.focus) and other.focus is not None:
            at = (_target(other.focus, system) if isinstance(other.focus, Target)
                  else said(other.focus, system))
            words.append(f"focus on {at}")
        if words:
            yield _done(SET, "", name, f"camera {name}: {', '.join(words)}")


def _target(target: Target, system: str) -> str:
    return aimed_at(target.text) if target.point is None else _place(target.point, system)


def _text(target: Any) -> str:
    return str(target)
