"""The mains that the lamps are fed from."""

from __future__ import annotations

from typing import ClassVar

from previz.scene.fields import COMMON_PRACTICE, quantity
from previz.scene.records import Record, record_class


@record_class
class Mains(Record):
    """What currents and circuits are reckoned for in the load and its caution."""

    noun: ClassVar[str] = "mains"

    voltage: float = quantity(
        "voltage", "Voltage between live and neutral.", 230.0, minimum=12.0, maximum=1000.0,
        source=COMMON_PRACTICE,
    )  # fmt: skip
    circuit: float = quantity(
        "current", "What each circuit is fused for.", 16.0, minimum=1.0, maximum=1000.0,
        source=COMMON_PRACTICE,
    )  # fmt: skip
