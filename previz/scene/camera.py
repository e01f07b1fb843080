"""Cameras, meters, and what spot meters are pointed at."""

from __future__ import annotations

from pathlib import Path
from typing import ClassVar

from previz.scene.fields import (
    COMMON_PRACTICE,
    FROM_MEMORY,
    LEAST_LENGTH,
    REQUIRED,
    choice,
    file,
    point,
    quantity,
    record,
    share,
    special,
    text,
    yes_no,
)
from previz.scene.fields import target as target_field
from previz.scene.records import Item, Record, Target, record_class
from previz.scene.wants import CameraMoves

SENSORS: dict[str, tuple[float, float]] = {
    "super 16": (0.01252, 0.00741),
    "super 35": (0.02489, 0.01866),
    "full frame": (0.036, 0.024),
    "65 mm": (0.05248, 0.02301),
}
"""Width and height of the usual formats. [m]  Source: nominal film apertures, from memory; a
sensor's own figures should be written where they matter."""

SLOWEST = 1e-5
"""Fewest frames a second: about one a day, the slowest of time-lapse. [1/s]  Common practice, no source."""

LEAST_PATCH = 1e-3
"""Least width and height of a patch of the picture, about a pixel of it. [1]"""

NEAREST_FOCALS = 1.5
"""A lens is never focused nearer than so many focal lengths, where its picture is twice life size.
[1]"""


LEAST_LATITUDE, MOST_LATITUDE = 0.5, 20.0
"""Least and greatest stops that a camera holds over or under grey. [stops]  Common practice, no source."""


def _of_picture(help, least=0.0):
    """Return the field for a share of the picture's width or height."""
    return share(help, None, minimum=least, example="40 %")


@record_class
class Latitude(Record):
    """What a camera holds over and under 18 % grey; beyond it nothing is told apart."""

    noun: ClassVar[str] = "latitude"

    over: float | None = quantity(
        "number", "Stops over grey at which it clips; none for no limit.", None, minimum=LEAST_LATITUDE,
        maximum=MOST_LATITUDE, example="6",
    )  # fmt: skip
    under: float | None = quantity(
        "number", "Stops under grey at which all is black; none for no limit.", None, minimum=LEAST_LATITUDE,
        maximum=MOST_LATITUDE, example="7",
    )  # fmt: skip


SHOW_BYTES = 16 * 2**20
"""Greatest size of a file of `show`; a cube of 65 x 65 x 65 colours as text is half of that. [bytes]"""

DECISIONS = (".cc", ".ccc", ".cdl")
"""Endings of the files of the ASC CDL."""

ENCODINGS = ("acescct", "acescg", "aces2065-1", "bt.709", "linear bt.709")
"""How scene light may be put into numbers: by open standards only, which say how to the last digit."""

SCREENS = ("srgb", "bt.1886")
"""What a screen may be that a file of `show` makes code values for."""


@record_class
class Show(Record):
    """A file that the camera's picture is looked at through.

    It is fed what the camera holds, exposed and balanced with 18 % grey at 0.18, put into the encoding of
    `takes`. What it gives for a screen is shown as it is; scene light goes on through the usual view. An
    ASC CDL (.cc, .ccc, .cdl) works in ACEScct unless `takes` says acescg. A .clf may state both itself.
    """

    noun: ClassVar[str] = "show"
    short: ClassVar[str] = "file"

    file: Path = file(
        (".cube", ".clf", *DECISIONS), "A look-up table or an ASC CDL beside the scene.", REQUIRED,
        example="looks/evening.cube", maximum=SHOW_BYTES,
    )  # fmt: skip
    takes: str | None = choice(
        ENCODINGS, "How the light is encoded that it is fed; none where the file says so.", None
    )
    gives: str | None = choice(
        (*SCREENS, *ENCODINGS), "What comes out: code values of a screen, or encoded light.", None
    )
    decision: str | None = text("Which decision, by its id, where a file has several.", None,
                                example="evening")  # fmt: skip


@record_class
class CameraOptics(Record):
    """What the lens and the sensor add to pictures: stills, mood frames, sheets.

    But for the blades it is put on the light before the view. Readings, false colour and EXR files are
    without it, as are the pictures that a browser mixes by itself.
    """

    noun: ClassVar[str] = "optics"

    blades: float | None = quantity(
        "number", "Straight blades of the iris, which give what is out of focus its shape; none for round.",
        None, minimum=3, maximum=24, example="7",
    )  # fmt: skip
    blade_turn: float = quantity(
        "angle", "Turns the iris clockwise, from a corner straight up.", 0.0, minimum=-180.0, maximum=180.0,
        example="10 deg",
    )  # fmt: skip
    bloom: float = share("Share of the light that is scattered into a halo.", 0.0, maximum=0.5, example="3 %")
    veiling_glare: float = share(
        "Share of the picture's mean light that lies evenly over it, as ISO 9358 has the index.", 0.0,
        maximum=0.5, example="1 %", source=FROM_MEMORY,
    )  # fmt: skip
    vignette: float = quantity(
        "number", "Stops that the corners lose.", 0.0, minimum=0.0, maximum=6.0, example="0.7"
    )  # fmt: skip
    grain: float = quantity(
        "number", "Standard deviation of the grain over patches of its size, in stops.", 0.0, minimum=0.0,
        maximum=2.0, example="0.1",
    )  # fmt: skip
    grain_size: float = quantity(
        "length", "Size of the grain on the sensor.", 0.000012, usual="mm", minimum=0.000005, maximum=0.001,
        example="0.012 mm", source=COMMON_PRACTICE,
    )  # fmt: skip


@record_class
class Camera(Item):
    """A camera and how it is set.

    The f-number is the T-stop times the root of `lens_transmission`.
    """

    noun: ClassVar[str] = "camera"

    at: tuple[float, float, float] = point("Entrance pupil of the lens.")
    aim: Target = target_field("What the middle of the picture is on.")
    roll: float = quantity(
        "angle", "Leans the camera clockwise, as the operator sees it.", 0.0, minimum=-180.0,
        maximum=180.0, example="3 deg",
    )  # fmt: skip
    sensor: tuple[float, float] = special(
        "sensor", "Format by name, or [width, height] that is used.", SENSORS["super 35"],
        dimension="length", usual="mm", minimum=LEAST_LENGTH, maximum=1.0, example="super 35",
        source=FROM_MEMORY,
    )  # fmt: skip
    lens: float = quantity(
        "length", "Focal length.", usual="mm", minimum=0.001, maximum=5.0, example="35 mm"
    )
    stop: float = quantity("t_stop", "T-stop.", minimum=0.5, maximum=128.0)
    lens_transmission: float = share(
        "Share of the light that the glass lets through.", 0.9, minimum=0.01, example="0.9",
        source=COMMON_PRACTICE,
    )  # fmt: skip
    iso: float = quantity("number", "Exposure index.", minimum=1.0, maximum=1e7, example="800")
    shutter: float = quantity(
        "angle", "Shutter angle.", 180.0, minimum=0.1, maximum=360.0, example="180 deg"
    )
    fps: float = quantity(
        "number", "Frames a second.", 24.0, minimum=SLOWEST, maximum=100_000.0, example="24"
    )  # fmt: skip
    nd: float = quantity(
        "number", "Density of the neutral filters on the lens.", 0.0, minimum=0.0, maximum=6.0,
        example="0.6",
    )  # fmt: skip
    white_balance: float = quantity(
        "temperature", "Colour temperature taken for white.", 5600.0, minimum=1500.0,
        maximum=25_000.0, example="4300 K",
    )  # fmt: skip
    green: float = quantity(
        "number", "Duv taken for white, plus towards green.", 0.0, minimum=-0.05, maximum=0.05,
        example="0.003",
    )  # fmt: skip
    focus: Target | float | None = target_field(
        "A thing, a point, or a distance along the axis; none for what it is aimed at.", None,
        dimension="length", above=0.0, maximum=100_000.0,
    )  # fmt: skip
    aspect: float = quantity(
        "ratio", "Width over height of the delivered picture.", 16 / 9, minimum=0.1, maximum=10.0
    )
    squeeze: float = quantity(
        "number", "How much more the lens takes in across than up.", 1.0, minimum=0.5,
        maximum=3.0, example="2",
    )  # fmt: skip
    breathing: bool = yes_no(
        "Whether the angle of view narrows as the lens focuses nearer, as that of a plain lens does.",
        False,
    )
    latitude: Latitude | None = record(
        Latitude, "What it holds over and under 18 % grey; none for no limit.", None,
        example="{over: 6, under: 7}",
    )  # fmt: skip
    show: Show | None = record(
        Show, "A file that its picture is looked at through; none for the plain view.", None,
        example="{file: looks/evening.cube, takes: acescct, gives: srgb}",
    )  # fmt: skip
    optics: CameraOptics | None = record(
        CameraOptics, "What its lens and sensor add to pictures, and to no reading; none for nothing.", None,
        example="{blades: 7, bloom: 3 %, veiling_glare: 1 %, vignette: 0.7}",
    )  # fmt: skip
    may_move: CameraMoves | None = record(
        CameraMoves, "What 'previz balance' may do to it; none for nothing.", None,
        example="{stop: T2 to T5.6}",
    )  # fmt: skip


@record_class
class Meter(Item):
    """A place where the light is metered."""

    noun: ClassVar[str] = "meter"

    at: tuple[float, float, float] = point("Centre of the receptor.")
    facing: Target | None = target_field("What the receptor is turned to; none is up.", None)


@record_class
class SpotPatch(Item):
    """A place that spot meters are pointed at: a patch of the picture, or a direction in the sky."""

    noun: ClassVar[str] = "spot"

    camera: Target | None = target_field(
        "The camera that it is metered from; none for every camera.", None, example="A"
    )
    across: float | None = _of_picture("Middle of the patch from the picture's left.")
    down: float | None = _of_picture("Middle of the patch from the picture's top.")
    width: float | None = _of_picture(
        "Width of the patch over the picture's; none for a round one.", LEAST_PATCH
    )
    height: float | None = _of_picture("Height of the patch over the picture's.", LEAST_PATCH)
    azimuth: float | None = quantity(
        "angle", "Of a patch of the sky, clockwise from true north.", None, minimum=0.0,
        maximum=360.0, example="240 deg",
    )  # fmt: skip
    altitude: float | None = quantity(
        "angle", "Of a patch of the sky, over the horizon.", None, minimum=-90.0, maximum=90.0,
        example="30 deg",
    )  # fmt: skip
    angle: float = quantity(
        "angle", "Full angle of a round patch; a spot meter's own is one degree.", 1.0, minimum=0.1,
        maximum=60.0, example="1 deg", source=COMMON_PRACTICE,
    )  # fmt: skip
