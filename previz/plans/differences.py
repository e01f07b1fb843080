"""One plan for several options: what all of them share, quietly, and what differs, strongly.

Each option has a letter. What only some of them have, or have elsewhere, aimed elsewhere or set otherwise, is
drawn once for each way in which it stands, with the letters of the options that have it so; a moved thing has
an arrow from its first place to the next.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import MultiPoint

from previz.errors import RequestError
from previz.plans import sheet, symbols
from previz.plans.cut import Cut
from previz.plans.drafting import MORE, NAME, Thing
from previz.plans.extent import Extent
from previz.plans.labels import Line
from previz.plans.legend import plan_keys
from previz.plans.lengths import SCALES
from previz.plans.marks import plain
from previz.plans.outlines import Footprint
from previz.plans.plan import CLEARANCES, Clearance, Frame, Plan, frame_of, prints_of
from previz.plans.records import Disc, Drawing, Key, Mark, Shape, Symbol, Words
from previz.scene.gel import gel_name
from previz.stage.outdoors import resolved, shining

if TYPE_CHECKING:
    from previz.scene.light import Light
    from previz.scene.scene import Scene
    from previz.stage.records import Stage

MOST = 6
"""Options of one plan: more letters at a thing are not read."""

LETTERS = "abcdef"

MOVED = 0.02
"""What is moved by less has no arrow. [m]"""


@dataclass(frozen=True, eq=False)
class Version:
    """One option on a plan with others: its letter, name, scene and stage; and its footprints."""

    letter: str
    option: str
    scene: Scene
    stage: Stage
    prints: Mapping[str, Footprint]


def versions_of(options: Sequence[tuple[str, Scene, Stage]]) -> tuple[Version, ...]:
    """Return options, each as (name, scene, stage), with their letters.

    Raises
    ------
    RequestError
        There are fewer than two, or more than a plan has letters for.
    """
    if not 2 <= len(options) <= MOST:
        raise RequestError(f"One plan for {len(options)} options says nothing" if len(options) < 2 else
                           f"One plan for {len(options)} options cannot be read",
                           f"Name 2 to {MOST} options, or have a plan for each.")
    return tuple(Version(letter, name, scene, stage, prints_of(scene, stage))
                 for letter, (name, scene, stage) in zip(LETTERS, options, strict=False))


def fitted_differences(versions: Sequence[Version], tags: Mapping[str, str], page: tuple[float, float], *,
                       system: str, cut: Cut | None = None) -> Drawing:
    """Return what differs between options, at the largest scale at which a page [mm] has room for it.

    Raises
    ------
    RequestError
        The page is too small at every scale.
    """
    room = np.array(sheet.room(page).size)
    for scale in SCALES[system]:
        for clear in CLEARANCES:
            plan = _plan(versions, tags, scale, system, clear, cut)
            if np.all((plan.high - plan.low) * 1000 / scale <= room + 1e-6):
                return plan.drawing()
    raise RequestError("The plan has no room on the page at any scale",
                       "Take a larger page, or leave out what stands far away.")


def draw_differences(versions: Sequence[Version], tags: Mapping[str, str], *, scale: int, system: str,
                     clear: Clearance = CLEARANCES[2], cut: Cut | None = None) -> Drawing:
    """Return one plan with what differs between options; the rest as in `plan.draw_plan`."""
    return _plan(versions, tags, scale, system, clear, cut).drawing()


def difference_keys(drawing: Drawing, versions: Sequence[Version], system: str) -> tuple[Key, ...]:
    """Return what the legend of such a plan has to explain."""
    told = "; ".join(f"{each.letter} {each.option or 'as written'}" for each in versions)
    around = np.array([[-2.6, -1.0], [2.6, -1.0], [2.6, 1.0], [-2.6, 1.0]])
    bold = Shape("sheet", around, True, "cut", "paper")
    thin = replace(bold, pen="thin")
    keys = [Key((Words("sheet", (0.0, -0.8), "a, b", 2.3, "centre", strong=True),),
                f"Only in these options, or set this way in them: {told}"),
            Key((bold,), "Heavy: differs between options"), Key((thin,), "Thin: the same in all of them")]
    if any(isinstance(mark, Shape) and mark.part == "moved" for mark in plain(drawing.marks)):
        keys.append(Key(tuple(symbols.arrow(np.array([-4.4, 0.0]), np.array([4.4, 0.0]), 1.0, "sheet",
                                            "outline", "", "moved")), "Moved from one option to the next"))
    if any(isinstance(mark, Shape) and mark.part == "struck" for mark in plain(drawing.marks)):
        keys.append(Key((thin, *_crossed(around, 1.0, "")), "Crossed through: struck in the options named"))
    every = {light.name: light for each in versions for light in _lit(each, versions).lights}
    seen = replace(versions[0].scene, lights=tuple(every.values()))
    return (*keys, *plan_keys(drawing, seen, system))


def difference_notes(versions: Sequence[Version]) -> tuple[str, ...]:
    """Return where sun or moon stand in each option, where that differs; the first one's are drawn."""
    said = [_sky_said(version.scene) for version in versions]
    if len(set(said)) == 1:
        return ()
    each = "; ".join(f"{version.letter} {text}" for version, text in zip(versions, said, strict=True))
    return (f"Sun and moon as drawn are those of {versions[0].letter}. In each: {each}.",)


def _sky_said(scene: Scene) -> str:
    found = shining(resolved(scene.daylight))
    return "none" if found is None else f"{found[0]} {found[1].azimuth:.0f}°, {found[1].altitude:.0f}° high"


def _plan(versions: Sequence[Version], tags: Mapping[str, str], scale: int, system: str,
          clear: Clearance, cut: Cut | None = None) -> Plan:
    unit = scale / 1000
    frame = _joined([frame_of(each.scene, each.stage, each.prints, clear, unit) for each in versions])
    each_found = [Plan(_lit(each, versions), each.stage, tags, scale, system, clear, each.prints, frame).found
                  for each in versions]
    first = versions[0]
    return Plan(first.scene, first.stage, tags, scale, system, clear, first.prints, frame,
                lambda _: list(_merged(versions, each_found, unit)), cut)


def _lit(version: Version, versions: Sequence[Version]) -> Scene:
    """Return a scene with those lamps on that any option has on: off is told, and is no other place."""
    on = {light.name for each in versions for light in each.scene.lights if light.on}
    lights = tuple(replace(light, on=light.on or light.name in on) for light in version.scene.lights)
    return replace(version.scene, lights=lights)


def _joined(frames: Sequence[Frame]) -> Frame:
    """Return the rectangles that hold those of all frames."""
    return Frame(*(_around(part) for part in zip(*frames, strict=True)))


def _around(parts: Sequence[Extent]) -> Extent:
    return Extent(np.min([each.low for each in parts], axis=0), np.max([each.high for each in parts], axis=0))


def _merged(versions: Sequence[Version], found: Sequence[Sequence[Thing]], unit: float) -> Iterator[Thing]:
    """Yield the things of all options: those that are alike once, the others once for each way."""
    order = list(dict.fromkeys(thing.name for things in found for thing in things))
    by_name = [{thing.name: thing for thing in things} for things in found]
    settings = [_settings(each) for each in versions]
    for name in order:
        ways: dict[bytes, list[int]] = {}
        for k, things in enumerate(by_name):
            if name in things:
                key = _digest(things[name].marks) + settings[k].get(name, "").encode()
                ways.setdefault(key, []).append(k)
        if len(ways) == 1 and len(next(iter(ways.values()))) == len(versions):
            yield _quiet(by_name[0][name])
            continue
        yield from _apart(name, list(ways.values()), versions, by_name, settings, unit)


def _apart(name: str, ways: Sequence[Sequence[int]], versions: Sequence[Version],
           by_name: Sequence[Mapping[str, Thing]], settings: Sequence[Mapping[str, str]],
           unit: float) -> Iterator[Thing]:
    """Yield a thing once for each place and pose that it has, with the letters of its options."""
    drawn: dict[bytes, list[Sequence[int]]] = {}
    for way in ways:
        drawn.setdefault(_digest(by_name[way[0]][name].marks), []).append(way)
    places = [by_name[same[0][0]][name].at for same in drawn.values()]
    present = {k for way in ways for k in way}
    struck = ", ".join(each.letter for k, each in enumerate(versions) if 0 in present and k not in present)
    apart = any(np.hypot(*(place - places[0])) > MOVED for place in places)
    for count, same in enumerate(drawn.values()):
        thing = by_name[same[0][0]][name]
        letters = ", ".join(versions[k].letter for way in same for k in way)
        several = len({settings[way[0]].get(name, "") for way in ways}) > 1
        told = [(f"{', '.join(versions[k].letter for k in way)}: " if len(same) > 1 else "")
                + settings[way[0]][name] for way in same if settings[way[0]].get(name)]
        lines = [*_lettered(thing.lines, letters), *(Line(text, MORE, True) for text in told if several)]
        marks = [_heavy(mark) for mark in thing.marks]
        if struck and marks and 0 in same[0]:
            marks += _crossed(thing.solid, unit, name)
            lines.append(Line(f"struck in {struck}", MORE, True))
        if apart and count:
            marks += _moved(places[count - 1], places[count], unit, name)
        tag = f"{thing.tag} {letters}" if thing.tag and apart else thing.tag if not count else ""
        yield replace(thing, marks=tuple(marks), lines=tuple(lines) if thing.lines else (), tag=tag)


def _lettered(lines: Sequence[Line], letters: str) -> list[Line]:
    if not lines:
        return []
    first = lines[0]
    return [Line(f"{first.text} ({letters})", NAME if first.strong else first.size, True), *lines[1:]]


def _moved(old: np.ndarray, new: np.ndarray, unit: float, name: str) -> list[Shape]:
    if np.hypot(*(new - old)) < 2 * unit:
        return []
    return list(symbols.arrow(old, new, unit, "names", "outline", name, "moved"))


def _crossed(solid: np.ndarray, unit: float, name: str) -> Iterator[Shape]:
    """Yield two lines that cross on a thing, at a good angle where it is long and thin too."""
    # What is flat or a point has the cross of something small.
    around = MultiPoint(np.asarray(solid, float)).buffer(1.2 * unit, join_style="mitre")
    corners = np.array(around.minimum_rotated_rectangle.exterior.coords)[:4]
    middle, sides = corners.mean(axis=0), np.array([corners[1] - corners[0], corners[2] - corners[1]]) / 2
    sizes = np.hypot(*sides.T)
    one, two = sides * (np.maximum(sizes, 0.5 * sizes.max()) / sizes)[:, None]
    for way in (one + two, one - two):
        yield Shape("names", np.array([middle - way, middle + way]), pen="outline", name=name, part="struck")


def _quiet(thing: Thing) -> Thing:
    """Return a thing in thin lines, its name in grey."""
    marks = tuple(with_pen(mark, {"outline": "thin", "aim": "beam"}) for mark in thing.marks)
    lines = tuple(line._replace(strong=False, quiet=True) for line in thing.lines)
    return replace(thing, marks=marks, lines=lines)


def _heavy(mark: Mark) -> Mark:
    return with_pen(mark, {"outline": "cut", "thin": "outline"})


def with_pen(mark: Mark, pens: Mapping[str, str]) -> Mark:
    """Return a mark with other pens in the place of some."""
    if isinstance(mark, Symbol):
        parts = tuple(part if isinstance(part, Words) else replace(part, pen=pens.get(part.pen, part.pen))
                      for part in mark.parts)
        return replace(mark, parts=parts)
    return mark if isinstance(mark, Words) else replace(mark, pen=pens.get(mark.pen, mark.pen))


def _settings(version: Version) -> dict[str, str]:
    """Return name -> what lamps and cameras are set to that a plan of one option does not draw."""
    found = {light.name: _lamp_set(light) for light in version.scene.lights}
    for camera in version.scene.cameras:
        found[camera.name] = ", ".join([f"T{camera.stop:.3g}", f"ISO {camera.iso:.0f}",
                                        *([f"ND {camera.nd:g}"] if camera.nd else []),
                                        f"{camera.white_balance:.0f} K"])
    return found


def _lamp_set(light: Light) -> str:
    if not light.on:
        return "off"
    gels = [gel_name(gel) for gel in light.gel]
    colour = [] if light.cct is None else [f"{light.cct:.0f} K"]
    return ", ".join([f"{100 * light.dimmer:.0f} %", *colour, *gels])


def _digest(marks: Sequence[Mark]) -> bytes:
    """Return what two things have alike that are drawn alike."""
    digest = hashlib.sha256()
    for mark in plain(marks):
        if isinstance(mark, Shape):
            digest.update(repr((mark.layer, mark.closed, mark.pen, mark.fill, mark.part)).encode())
            digest.update(np.round(np.asarray(mark.points, float), 6).tobytes())
        elif isinstance(mark, Disc):
            digest.update(repr((mark.layer, np.round(mark.at, 6).tolist(), round(mark.radius, 6), mark.pen,
                                mark.fill, mark.part)).encode())
        else:
            digest.update(repr(mark).encode())
    return digest.digest()
