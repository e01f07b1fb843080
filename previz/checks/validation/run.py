"""Run the checks, group by group."""

from __future__ import annotations

from collections.abc import Iterator

from previz.checks.validation import bands, colours, exposures, light, mirrors, things
from previz.checks.validation.records import Check
from previz.rendering.progress import Progress

ARITHMETIC = (
    ("closed forms", things.checks),
    ("colour", colours.checks),
    ("colour rendering", colours.rendering_checks),
    ("bands", bands.checks),
    ("exposure", exposures.checks),
    ("video levels", exposures.level_checks),
    ("lenses", exposures.lens_checks),
    ("lamps, sky and air", things.lamp_checks),
    ("skin", things.skin_checks),
)
"""Groups that need no engine, and what the progress line calls them."""

ENGINE_CHECKS = 39
"""About how many checks the engine makes, for the progress line."""


def all_checks(backend: str, progress: Progress) -> Iterator[Check]:
    """Yield every check; the progress shows what comes next."""
    progress.show("light, through the engine")
    for check in light.checks(backend):
        yield check
        progress.show(f"light, through the engine: {check.quantity}")
    yield from mirrors.checks(backend)
    for name, group in ARITHMETIC:
        progress.show(name)
        yield from group()
