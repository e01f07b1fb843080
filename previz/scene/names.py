"""What a thing may be called.

A name is used by other things ('aim: clerk.eyes'), on sheets, and for files, so it keeps to
letters, figures, spaces and a few marks, and begins with a letter.
"""

from __future__ import annotations

from previz.units import quote

LONGEST = 60
"""[characters]"""

MARKS = " -_'"
"""What a name may hold other than letters and figures."""

KEPT = {
    "sky": "the sky itself",
    "sun": "the sun itself",
    "ground": "the ground outside",
    "floor": "the room's floor",
    "ceiling": "the room's ceiling",
    "north wall": "the room's north wall",
    "south wall": "the room's south wall",
    "east wall": "the room's east wall",
    "west wall": "the room's west wall",
    "none": "nothing at all",
}
"""Names that nothing in a scene may take, and what they stand for."""


def fault(name: str) -> tuple[str, str] | None:
    """Return what is wrong with a name and what to write; None for a good one."""
    if not name:
        return "a name is empty", "Write a name, for example 'desk lamp'."
    if len(name) > LONGEST:
        return (
            f"the name {quote(name)} has {len(name)} letters",
            f"Use {LONGEST} letters or fewer.",
        )
    if not name[0].isalpha():
        return (
            f"the name {quote(name)} does not begin with a letter",
            "Begin a name with a letter, for example 'lamp 2'.",
        )
    for letter in name:
        if not (letter.isalnum() or letter in MARKS):
            return (
                f"the name {quote(name)} has a {quote(letter)} in it",
                "Use letters, figures, spaces and the marks - _ ' in a name.",
            )
    if "  " in name or name != name.strip():
        return f"the name {quote(name)} has a space too many", "Use single spaces between words."
    if name in KEPT:
        return f"the name {quote(name)} is kept for {KEPT[name]}", "Choose another name."
    return None
