"""A pack of two options with everything in it, by hand: what the tests of paper lay out."""

from dataclasses import replace

from previz.deliver.pack import Pack, PackPicture, PackScene
from previz.plans.lines import (
    CableLine,
    CableRun,
    Change,
    ChangeOver,
    CircuitLine,
    FlickerLine,
    GripLine,
    LampLine,
    MeterLine,
    PowerPlan,
    SetUp,
    SheetLine,
    TruckLine,
)

KEY = LampLine("1", "key", "ellipsoidal", (4.7, 0.45, 2.35), "card", 312.4, -24.0, 3.42, (0.15,), 3200.0,
               ("half ctb",), 1.0, modifiers=("barn doors", "D1 half silk at 0.50 m"), watts=575.0,
               amperes=2.5, weight=7.4, support="hung by a clamp", circuit="wall 1")
LAMPS = (
    KEY,
    LampLine("2", "dusk through the window", "panel", (-3.0, 2.6, 3.45), "clerk.right ear", 93.0, -19.0, 4.6,
             (1.2, 1.2), 6500.0, (), 0.6, watts=400.0, amperes=1.93, guessed=True, power_factor=0.9,
             circuit="yard 2"),
    LampLine("3", "desk lamp", "practical", (0.95, 2.0, 1.16), size=(0.06,), cct=2700.0, in_shot=True,
             watts=40.0, amperes=0.17, support="on the set", circuit="wall 1"),
    LampLine("4", "lever rim", "fresnel", (4.9, 3.5, 2.45), "clerk.crown", 257.0, -14.0, 3.5, (0.15,), 3200.0,
             (), 0.45, watts=2000.0, amperes=8.7, weight=9.0, circuit="wall 1"),
)
GRIP = (
    GripLine("B1", "card", "board, white card", 1, (1.0, 0.7), (1.0, 1.1, 1.5), "stand"),
    GripLine("D1", "silk", "diffusion frame, half silk", 1, (1.2, 1.2), (4.4, 0.9, 2.2),
             "before key at 0.50 m"),
    GripLine("", "", "stand", 3, None, None, "", ("card", "silk", "dusk through the window")),
    GripLine("", "", "sandbag", 6, None, None, "", ("card", "silk", "dusk through the window")),
)
SHEETS = (SheetLine("half ctb", "gel", 0.09, 0.15, 0.11, ("key",)),
          SheetLine("half silk", "diffusion", 1.44, 0.1, 1.6, ("silk",)))
RUNS = (CableRun("key", "wall box", 7.45, 9.1, (10.0,)), CableRun("lever rim", "wall box", 6.0, 7.4, (10.0,)),
        CableRun("dusk through the window", "yard box", 18.2, 21.6, (10.0, 10.0, 5.0)))
CABLES = (CableLine("16 A, 3-core", 5.0, 1), CableLine("16 A, 3-core", 10.0, 4))
POWER = PowerPlan(
    (CircuitLine("wall 1", "L1", 16.0, ("key", "desk lamp", "lever rim"), 2615.0, 13.9, 12.8, True,
                 "Put lever rim on wall 2."),
     CircuitLine("yard 2", "L2", 16.0, ("dusk through the window",), 400.0, 1.93, 12.8)),
    (("L1", 13.9), ("L2", 1.93), ("L3", 0.0)), 13.1, 3015.0, 3060.0, 13.9, 1.63,
    "three phases of 32 A at 230 V, 50 Hz", ("desk helper",),
    ("Neutral: harmonics of supplies add up in it; it may carry more than a phase (IEC 60364-5-52, from "
     "memory).",))
FLICKER = (
    FlickerLine("A", "dusk through the window", "2", 24.0, 1 / 60, 100.0, 0.3, 0.12, 4.0, "pulse",
                "172.8° at 24 fps"),
    FlickerLine("A", "key", "1", 24.0, 1 / 60, 100.0, 0.05, 0.01, 0.0, "none"),
    FlickerLine("A", "lever rim", "4", 24.0, 1 / 60, 100.0, 0.05, 0.01, 0.0, "none"))
METERS = tuple(
    MeterLine(place, lamps, lux, 0.01 * lux, 0.1, stops, "A")
    for place, lamps, lux, stops in (
        ("clerk left cheek", "all", 1180.0, 0.1), ("clerk left cheek", "key", 920.0, -0.3),
        ("clerk right cheek", "all", 260.0, -2.1),
        ("clerk right cheek", "dusk through the window", 81.0, -3.8),
        ("desk", "all", 640.0, None)))
BOUNCE = SetUp("Signal cabin, last light", "bounce", LAMPS, GRIP, SHEETS, RUNS, CABLES, POWER, FLICKER,
               METERS)
DIRECT = SetUp(
    "Signal cabin, last light", "direct",
    (replace(KEY, aim="clerk.face", pan=320.0, tilt=-21.5, throw=3.9, gels=("half ctb", "nd 1.2")), LAMPS[1],
     replace(LAMPS[2], on=False), LAMPS[3]),
    (GRIP[1], replace(GRIP[2], count=2), replace(GRIP[3], count=4)), SHEETS, RUNS, CABLES,
    replace(POWER, circuits=(replace(POWER.circuits[0], over=False, amperes=11.2, note=""),
                             POWER.circuits[1])),
    FLICKER, METERS[:2])
CHANGES = (ChangeOver("bounce", "direct", (
    Change("strike", "B1", "card", "card, its stand and 2 sandbags"),
    Change("aim", "1", "key", "key at clerk.face: pan 320°, tilt −22°, throw 3.90 m"),
    Change("gel", "1", "key", "key: add nd 1.2"), Change("set", "3", "desk lamp", "desk lamp off")), 4.5),)
TRUCK = (
    TruckLine("lamps", "ellipsoidal 'key', 575 W", 1),
    TruckLine("lamps", "panel, 1.20 × 1.20 m, 400 W", 1, "", "bounce", "weight not stated"),
    TruckLine("stands", "stand", 3, "", "bounce"), TruckLine("grip", "sandbag", 6, "", "bounce"),
    TruckLine("gels", "half ctb", 0.11, "m²"), TruckLine("cable", "16 A, 3-core, 10 m", 4),
    TruckLine("distribution", "box, 3 phases of 32 A", 1), TruckLine("care", "gloves", 2))


def pack(cautions=(), picture=None, chart=None, settings=None, **more):
    """A pack of a scene of two options; with a picture of each, where one is given."""
    pictures = () if picture is None else tuple(
        PackPicture(option, "A", picture, chart, settings, (
            "clerk: lit side +0.1 stops, shadow side −2.1 stops",
            "lit : shadow 4.5 : 1, key alone : fill 3.5 : 1"))
        for option in ("bounce", "direct"))
    scene = PackScene("Signal cabin, last light", (BOUNCE, DIRECT), CHANGES, cautions, pictures=pictures,
                      crossings=("dusk through the window: crosses the door, 1.2 m from its hinge",))
    return replace(Pack(scene.title, (scene,), TRUCK, cautions), **more)
