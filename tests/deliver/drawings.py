"""A small drawing made by hand: a room of our depot with a few lamps, for tests of sheets and their files."""

import numpy as np

from previz.plans.records import Disc, Drawing, Head, Key, Shape, Symbol, Words

WIDE, DEEP, WALL = 5.2, 3.8, 0.12
"""Of the room within its walls, and of the walls. [m]"""


def line(*points, layer="pieces", **given):
    return Shape(layer, np.array(points, float), **given)


def box(left, low, right, high, layer="pieces", **given):
    return line((left, low), (right, low), (right, high), (left, high), layer=layer, closed=True, **given)


def lamp(number, name, at, aim, scale, kind="tube", attributes=None):
    """Return a lamp's symbol with its number in it, and the line that it is aimed along."""
    mm = scale / 1000
    x, y = at
    parts = (
        Disc("lamps", at, 3.2 * mm, fill="paper", name=name),
        line((x - 2 * mm, y - 3.2 * mm), (x + 2 * mm, y - 3.2 * mm), layer="lamps", pen="cut", name=name),
        Words("lamps", (x, y - 0.9 * mm), number, 2.5, "centre", strong=True, name=name),
    )
    given = {"NUMBER": number, "NAME": name, "KIND": kind, "HEIGHT": "2.10 m", **(attributes or {})}
    return (
        line(at, aim, layer="beams", pen="aim", name=name, part="aim"),
        Symbol("lamps", name, at, parts, given),
        Words("names", (x + 4.2 * mm, y + 0.5 * mm), name, 2.3, name=name),
        Words("names", (x + 4.2 * mm, y - 2.4 * mm), "2.10 m", 2.0, quiet=True, name=name),
    )


def room_drawing(scale=50, names=("key", "fill", "lantern"), marks=()):
    """Return a plan of the room at a scale, with lamps of three names and other marks."""
    mm, t = scale / 1000, WALL
    walls = (
        box(-t, -t, WIDE + t, 0, layer="walls", pen="cut", fill="cut", name="south wall"),
        box(-t, DEEP, WIDE + t, DEEP + t, layer="walls", pen="cut", fill="cut", name="north wall"),
        box(-t, 0, 0, DEEP, layer="walls", pen="cut", fill="cut", name="west wall"),
        box(WIDE, 0, WIDE + t, 1.2, layer="walls", pen="cut", fill="cut", name="east wall"),
        box(WIDE, 2.2, WIDE + t, DEEP, layer="walls", pen="cut", fill="cut", name="east wall"),
        box(WIDE, 1.2, WIDE + t, 2.2, layer="openings", pen="thin", fill="paper", name="window"),
    )
    things = (
        box(1.5, 1.2, 3.1, 1.9, fill="piece", name="desk"),
        Words("names", (2.3, 1.5), "desk", 2.3, "centre", quiet=True, name="desk"),
        line((0.4, 0.4), (1.4, 0.4), layer="grip", pen="outline", name="half silk"),
        box(3.6, 2.9, 4.6, 3.5, layer="grip", pen="thin", fill="tint", name="floor cloth"),
        Disc("figures", (2.3, 2.3), 0.22, fill="tint", name="clerk"),
        line((4.4, 1.4), (2.3, 2.3), layer="cameras", pen="field", name="A", part="field"),
        line((4.4, 1.4), (2.3, 3.0), layer="cameras", pen="field", name="A", part="field"),
    )
    low = -t - 9 * mm
    measure = (
        line((0, low), (WIDE, low), layer="dimensions", pen="dimension", part="dimension"),
        Words("dimensions", (WIDE / 2, low + mm), "5.20 m", 2.3, "centre"),
        line((low, 0), (low, DEEP), layer="dimensions", pen="dimension", part="dimension"),
        Words("dimensions", (low - mm, DEEP / 2), "3.80 m", 2.3, "centre", turn=90.0),
    )
    places = (((0.9, 3.2), (2.3, 2.3)), ((0.8, 0.8), (2.3, 2.3)), ((3.9, 2.4), (2.3, 2.3)))
    lamps = [mark for number, (name, (at, aim)) in enumerate(zip(names, places, strict=False))
             for mark in lamp(str(number + 1), name, at, aim, scale)]
    edge = 16 * mm
    return Drawing("plan", scale, (*walls, *things, *measure, *lamps, *marks), (-edge, -edge),
                   (WIDE + t + 8 * mm, DEEP + t + 4 * mm))


HEAD = Head("Signal cabin", "Plan, option bounce", "2 of 6", (
    "Lengths are those of the set as it is written; measure on the floor before you cut.",
    "Whoever rigs decides what holds: local codes and licensed practice come first.",
))


def legend(count=6):
    """Return so many keys."""
    samples = (
        (Disc("lamps", (0, 0), 2.2, fill="paper"), "lamp with its number"),
        (line((-4.5, 0), (4.5, 0), pen="aim"), "aim of a lamp"),
        (line((-4.5, 0), (4.5, 0), pen="field"), "edges of what a camera sees"),
        (box(-3, -1.5, 3, 1.5, fill="cut", pen="cut"), "wall, cut 1.20 m over the floor"),
        (box(-3, -1.5, 3, 1.5, fill="piece"), "piece of the set"),
        (line((-4.5, 0), (4.5, 0), pen="hidden"), "what hangs over the cut, or is hidden beneath something"),
    )
    return [Key((sample,), text) for sample, text in (samples * (count // 6 + 1))[:count]]


def sun_path():
    """Return a small drawing of 45 x 45 mm."""
    arc = [(15 * np.cos(a), 15 * np.sin(a)) for a in np.linspace(np.pi, 2 * np.pi, 40)]
    return (Disc("sun", (0, 0), 18.0, pen="thin"), line(*arc, layer="sun", pen="aim"),
            Words("sun", (0, 19.5), "N", 2.5, "centre", strong=True),
            Words("sun", (0, -21.5), "S", 2.2, "centre"))
