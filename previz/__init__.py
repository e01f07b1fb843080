"""Light a scene before the pre-light day: scene file in, pictures and measured light out.

The commands of `previz` and what notebooks, scripts and farms use are the same functions:

    import previz

    option = previz.open("scenes/signal-cabin.yaml")["bounce"]
    shot = option.render("A", size=(960, 540), quality="draft")
    dimmed = shot.with_lamps(key={"dimmer": 0.4}, stop=4.0)
    rows = option.meters().rows()

Importing it loads nothing else; the rest comes when it is used.
"""

from __future__ import annotations

from typing import Any

__version__ = "0.5.0"

__all__ = [
    "as_shot", "balance", "compare", "haze", "match", "mood", "open", "paper", "portrait", "read", "readings",
    "study", "times", "walk", "what_if",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Return a name of the library, which is loaded now."""
    if name not in __all__:
        raise AttributeError(f"module 'previz' has no attribute '{name}'")
    from previz import library

    return getattr(library, name)


def __dir__() -> list[str]:
    """Return what there is, for completion."""
    return sorted([*globals(), *__all__])
