"""What looks and requests of the page have in common: names, and looks of the lamps that have them."""

from __future__ import annotations

from random import Random

from ..damage import ODD_FLOATS, TEXTS

LAMPS = ("counter", "key", "rim") * 4 + ("sky", "sun", "nobody", "")
CAMERAS = ("A", "B") * 5 + ("C", "")
OPTIONS = ("early", "late", "", "nothing")
GELS = (
    ["half cto"],
    ["full ctb", "nd 0.3"],
    [],
    ["half cto"],
    ["quarter ctb"],
    [{"sheet": 0}],
    [{"sheet": 1}],
    [{"sheet": 9}],
    [{"sheet": -1}],
    ["no such"],
    "cto",
    [{"mired": 130}],
    ["quarter cto"] * 9,
    [None],
    [["half cto"]],
)
NAMES = (
    "dusk",
    "late",
    "Early look",
    "a: b",
    "x" * 200,
    "",
    "-",
    "none",
    "[a]",
    "\u00e9t\u00e9",
    "yes",
    "1",
    "a.b",
    "#x",
    "like",
    "last shift",
)


def number(chance: Random, *usual: float) -> object:
    """Return a number that a page may send, mostly a usual one."""
    if chance.random() < 0.9:
        return chance.choice(usual)
    return chance.choice(
        (*ODD_FLOATS, 0, -1, 10**30, 10**400, "4", "", None, True, [], {}, 1e-12, 0.1 + 0.2, 1 / 3)
    )


def look(chance: Random) -> dict:
    """Return a look: levels, colours and camera settings, mostly right ones."""
    lamps, cameras = {}, {}
    for _ in range(chance.choice((0, 1, 1, 2, 3))):
        each: dict[str, object] = {}
        for key in chance.sample(("level", "on", "cct", "duv", "gel"), chance.randint(1, 3)):
            each[key] = {
                "level": lambda: number(chance, 0, 0.25, 0.5, 1, 1 / 3, 0.123456789),
                "on": lambda: number(chance, True, False),
                "cct": lambda: number(chance, 3200, 4300.5, 5600),
                "duv": lambda: number(chance, 0, 0.001, -0.002),
                "gel": lambda: chance.choice(GELS),
            }[key]()
        if chance.random() < 0.04:
            each[chance.choice(("dimmer", "colour", "x"))] = 1
        lamps[chance.choice(LAMPS)] = each if chance.random() < 0.97 else chance.choice((None, 1, "x", []))
    for _ in range(chance.choice((0, 0, 1, 2))):
        each = {}
        for key in chance.sample(
            ("stop", "iso", "shutter", "nd", "white_balance", "green"), chance.randint(1, 2)
        ):
            each[key] = number(
                chance,
                *{
                    "stop": (2.8, 4, 5.6),
                    "iso": (400, 800),
                    "shutter": (90, 180),
                    "nd": (0, 0.3),
                    "white_balance": (3200, 5600),
                    "green": (0, 0.001),
                }[key],
            )
        cameras[chance.choice(CAMERAS)] = each
    made: dict[str, object] = {"lamps": lamps, "cameras": cameras}
    if chance.random() < 0.03:
        made[chance.choice(("lamps", "cameras", "x"))] = chance.choice(
            (None, 1, [], "x", chance.choice(TEXTS))
        )
    return made
