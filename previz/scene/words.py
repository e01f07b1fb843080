"""How messages are put together: suggestions, lists of words, articles."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from previz.units import quote

CLOSE = 0.65
"""How alike two words must be to be suggested, 0 to 1. [1]"""

MOST_MEANT = 3
"""Names suggested where a word is part of several."""

MOST_COMPARED = 500
"""Words that are compared with what was written."""

MOST_LISTED = 60
"""Names listed in one message."""


RENAMED = {
    "tarmac": "asphalt", "wet tarmac": "wet asphalt", "light frost": "thin frost",
    "heavy frost": "thick frost",
}  # fmt: skip
"""Words that scene files no longer have -> what they are called now."""

RENAMED_FIELDS = {("camera", "tint"): "green"}
"""Noun of a record and a field that it no longer has -> what that is called now."""

_SAME = {
    "tint": "duv", "green": "duv", "colour_temperature": "cct", "color_temperature": "cct",
    "kelvin": "cct", "temperature": "cct", "level": "dimmer", "intensity": "output",
    "lumens": "output", "flux": "output", "brightness": "output", "power": "watts",
    "position": "at", "place": "at", "target": "aim", "pointing_at": "aim", "rotate": "turn",
    "rotation": "turn", "material": "surface", "color": "colour", "type": "kind", "filter": "gel",
    "beam_angle": "beam", "field_angle": "field", "focal_length": "lens", "t_stop": "stop",
    "f_stop": "stop", "wb": "white_balance", "shade_angle": "angle", "fabric": "cloth",
    "visible": "in_shot",
}  # fmt: skip
"""Other words for a field -> its name here."""


def field_meant(written: str, known: Iterable[str]) -> str:
    """Return `did_you_mean` for a key that is no field, other words for fields included."""
    known = list(known)
    same = _SAME.get(_plain(written[:80]))
    return did_you_mean(same if same in known else written, known)


def called_now(new: str | None) -> str:
    """Return the advice for an old word; '' where it has no new one."""
    return "" if new is None else f"It is called {quote(new)} now."


def did_you_mean(written: str, known: Iterable[str]) -> str:
    """Return a suggestion, with a space after it, or nothing.

    Parameters
    ----------
    written : str
        What the person wrote.
    known : iterable of str
        What they may have meant.
    """
    known = list(known)[:MOST_COMPARED]
    # Spaces, hyphens and capitals are the usual slips, and weigh too much as letters.
    plain = {_plain(each): each for each in reversed(known)}
    sought = _plain(written[:80])
    close = difflib.get_close_matches(sought, plain, n=1, cutoff=CLOSE)
    # A word alone says less than the names that have it: 'oak' for 'dark oak' and 'light oak'.
    close = close or [each for each in reversed(plain) if sought in each.split("_")][:MOST_MEANT]
    return f"Did you mean {' or '.join(quote(plain[each]) for each in close)}? " if close else ""


def _plain(text):
    return "_".join(text.lower().replace("-", " ").replace("_", " ").split())


def listed(words: Iterable[str]) -> str:
    """Return words with commas between them, `MOST_LISTED` of them; 'none' for no words."""
    words = list(words)
    more = f" and {len(words) - MOST_LISTED} more" if len(words) > MOST_LISTED else ""
    return ", ".join(words[:MOST_LISTED]) + more or "none"
