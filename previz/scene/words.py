"""How messages are put together: suggestions, lists of words, articles."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from previz.units import quote

CLOSE = 0.65
"""How alike two words must be to be suggested, 0 to 1. [1]"""


MOST_COMPARED = 500
"""Words that are looked through for one like what was written."""

MOST_LISTED = 60
"""Names told in one message."""


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
    close = difflib.get_close_matches(_plain(written[:80]), plain, n=1, cutoff=CLOSE)
    return f"Did you mean {quote(plain[close[0]])}? " if close else ""


def _plain(text):
    return "_".join(text.lower().replace("-", " ").replace("_", " ").split())


def listed(words: Iterable[str], most: int = MOST_LISTED) -> str:
    """Return words with commas between them; 'none' for no words.

    Parameters
    ----------
    words : iterable of str
        The words.
    most : int
        How many of them are told.
    """
    words = list(words)
    more = f" and {len(words) - most} more" if len(words) > most else ""
    return ", ".join(words[:most]) + more or "none"
