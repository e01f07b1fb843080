"""What lamps of each kind usually give, draw and weigh: figures to judge one's own by.

Nothing is taken from here: a scene states its own output. A figure outside its range is not
wrong, only worth a second look.
"""

from __future__ import annotations

from dataclasses import dataclass

from previz.scene.fields import COMMON_PRACTICE

Range = tuple[float, float]


@dataclass(frozen=True)
class Typical:
    """Usual figures of one kind of lamp.

    Parameters
    ----------
    lumens : (float, float)
        Light that leaves the lamp. [lm]
    watts : (float, float) or None
        Power drawn; None for a flame. [W]
    weight : (float, float) or None
        Without a stand; None for a flame. [kg]
    source : str
        Where they come from.
    """

    lumens: Range
    watts: Range | None
    weight: Range | None
    source: str = COMMON_PRACTICE


TYPICAL: dict[str, Typical] = {
    "soft box": Typical((2_000, 60_000), (60, 1200), (3, 20)),
    "overhead soft": Typical((20_000, 400_000), (400, 8000), (20, 200)),
    "small box": Typical((300, 3_000), (5, 50), (0.1, 1)),
    "panel": Typical((1_500, 40_000), (30, 600), (1, 15)),
    "tube": Typical((500, 6_000), (10, 100), (0.3, 3)),
    "lantern ball": Typical((2_000, 25_000), (60, 1000), (0.5, 8)),
    "bulb": Typical((200, 15_000), (5, 1000), (0.05, 0.5)),
    "practical": Typical((200, 1_600), (5, 100), (0.5, 5)),
    "candle": Typical(
        (10, 15), None, None,
        "about 12.6 lm: 'Luminous efficacy' table of a general encyclopaedia",
    ),
    "fire": Typical((100, 3_000), None, None),
    "ellipsoidal": Typical((3_000, 25_000), (150, 1000), (5, 12)),
    "fresnel": Typical((2_000, 300_000), (150, 12_000), (2, 60)),
    "open face": Typical((5_000, 150_000), (300, 5000), (1.5, 15)),
    "parallel beam": Typical((5_000, 150_000), (200, 4000), (10, 80)),
    "daylight lamp": Typical((80_000, 1_700_000), (1200, 18_000), (15, 90)),
    "headlamp": Typical((500, 2_000), (15, 70), (1, 4)),
    "backdrop": Typical((1_000, 200_000), (50, 20_000), (2, 500)),
    "glow": Typical((0.1, 100_000), None, None),
}  # fmt: skip
"""Kind of lamp to its usual figures."""

OFFERED: dict[str, float] = {
    "tungsten": 15.0, "metal halide": 55.0, "fluorescent": 70.0, "led": 90.0, "two-colour led": 90.0,
    "multi-emitter led": 60.0, "daylight": 60.0, "blackbody": 15.0,
}  # fmt: skip
"""What makes the light to the lumens of each watt that messages offer. [lm/W]

A third to nearly all of what the sources give ('Luminous efficacy' table of a general encyclopaedia).
Source: common practice, no source."""

OFFERED_OF_KIND: dict[str, float] = {
    "bulb": 12.0, "practical": 12.0, "candle": 0.3, "fire": 0.3,
}  # fmt: skip
"""The same of kinds that have the warm filament of a household bulb, or a flame. [lm/W]"""


def offered_efficacy(kind: str, spectrum: str) -> float:
    """Return the lumens of each watt that a message offers for a lamp. [lm/W]

    Parameters
    ----------
    kind : str
        A key of `TYPICAL`.
    spectrum : str
        A key of `OFFERED`; '' for a spectrum in figures of its own.
    """
    if spectrum in ("tungsten", "blackbody") and kind in OFFERED_OF_KIND:
        return OFFERED_OF_KIND[kind]
    return OFFERED.get(spectrum, OFFERED["led"])
