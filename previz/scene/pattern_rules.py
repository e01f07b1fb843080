"""What must hold of a surface's pattern beyond the field table; see `previz.scene.rules`."""

from __future__ import annotations

from collections.abc import Iterator

from previz.scene.fields import INVALID
from previz.scene.patterns import PATTERNS, PLAIN, USUAL, pattern_of
from previz.scene.surface import Surface

GLASS = ("glass", "thin glass")
"""Surfaces of the library that are made into panes and bodies, which have no pattern."""

OF_PATTERN = ("pattern_size", "second", "relief")
"""Fields that only a pattern makes something of."""

SHOWN_OF_SECOND = ("name", "reflectance", "colour", "file")
"""Fields of what shows beside a surface that count."""


def pattern(made: Surface) -> Iterator[tuple[str, str, str]]:
    """Yield what is wrong with a surface's pattern, as `rules.broken` does."""
    said = [field for field in ("pattern", *OF_PATTERN, "worn") if field in made.places]
    if not said or INVALID in (made.name, made.pattern):
        return
    if made.name in GLASS and said != ["pattern"]:
        yield said[0], f"is {made.name}, and '{said[0]}' is for what is not clear", f"Leave out '{said[0]}'."
        return
    if made.pictures and made.pattern not in (None, PLAIN):
        yield "pattern", "has a picture and a pattern", f"Leave out '{made.pictures[0]}' or 'pattern'."
    yield from _worn(made)
    yield from _unused(made)
    if isinstance(made.second, Surface):
        extra = [field for field in made.second.places if field not in SHOWN_OF_SECOND]
        if extra:
            yield "second", f"has '{extra[0]}' in its 'second', of which only the colour shows", (
                "Write a name from the library, a reflectance or a colour."
            )  # fmt: skip


def word_of(made: Surface) -> str | None:
    """Return the word of the pattern that a surface shows anywhere, None where it is plain."""
    if made.pictures and made.pattern is None:
        return None
    found = pattern_of(made.name, made.pattern, None)
    if found is None and made.worn and made.pattern is None and made.name is None:
        return "worn paint"
    return None if found is None else found[0]


def _worn(made: Surface) -> Iterator[tuple[str, str, str]]:
    if made.worn is INVALID or not made.worn:
        return
    word = word_of(made)
    if word is None or not PATTERNS[word].wears:
        yield "worn", f"is worn and {f'shows {word!r}' if word else 'is plain'}, which has no wear", (
            "Leave 'worn' out, or write a paint or a wood, or one of these patterns: "
            f"{', '.join(each for each, found in PATTERNS.items() if found.wears)}."
        )  # fmt: skip


def _unused(made: Surface) -> Iterator[tuple[str, str, str]]:
    word = word_of(made)
    for field in OF_PATTERN:
        if field not in made.places or getattr(made, field) in (None, INVALID):
            continue
        if word is None:
            yield field, f"has '{field}' and no pattern", (
                f"Write a 'pattern', or a surface that has one by itself, such as {next(iter(USUAL))!r}."
            )  # fmt: skip
        elif field == "second" and not PATTERNS[word].second and not (made.worn and PATTERNS[word].wears == "off"):
            yield field, f"has a 'second', and '{word}' shows nothing beside it", (
                "Leave it out, or write a pattern of two: "
                f"{', '.join(each for each, found in PATTERNS.items() if found.second)}."
            )  # fmt: skip
