"""How paper and screens say a scene's cautions: short, the most urgent first, and who decides."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from previz.deliver.canvas import QUIET, wrapped
from previz.deliver.layout import Block, Setting, space
from previz.physics.safety import Caution

LINES = 3
"""Most that cautions take on a sheet."""

WHO = "Local codes and licensed people decide"

WHOLE = "previz check --cautions"

LEAD = 6.2
"""Width of the column that says what it is. [units]"""

SIZE = 0.85
"""Of the type. [units]"""

_UNIT = re.compile(r"(?<=\d) (?=(?:[kM]?(?:W|cd|lx)|A|V|m|kg|mg|s|min|mA)\b)")


def phrases(cautions: Sequence[Caution]) -> list[str]:
    """Return one sentence for each sort of caution, of the worst of it; each note by itself."""
    kinds: dict[str, list[Caution]] = {}
    for each in cautions:
        kinds.setdefault(each.text if each.kind == "note" else each.kind, []).append(each)
    return [f"{worst.said} And more like it." if rest else worst.said for worst, *rest in kinds.values()]


def short_text(cautions: Sequence[Caution], fits: Callable[[str], bool]) -> str:
    """Return as many cautions as fit, how to have the rest, and who decides; '' without any.

    `fits` is a function of the text.
    """
    said = phrases(cautions)
    if not said:
        return ""
    text = ""
    for count in range(len(said), -1, -1):
        tail = f"The rest by `{WHOLE}`. {WHO}." if count < len(said) else f"{WHO}."
        text = _UNIT.sub("\N{NO-BREAK SPACE}", " ".join([*said[:count], tail]))
        if fits(text):
            break
    return text


def caution_blocks(setting: Setting, cautions: Sequence[Caution]) -> list[Block]:
    """Return the cautions of a sheet, three lines at most; none where the scene calls for none."""
    high = round(SIZE * setting.unit)
    room = setting.inner - LEAD * setting.unit
    text = short_text(cautions, lambda each: len(wrapped(each, high, room)) <= LINES)
    if not text:
        return []

    def draw(paper, left, top, width):
        paper.text((left, top + 1.2 * high), "Cautions", high, weight="strong")
        paper.paragraph((left + LEAD * setting.unit, top + 1.2 * high), text, high,
                        width - LEAD * setting.unit, colour=QUIET, leading=1.4)

    return [space(0.4 * setting.unit), Block((1.4 * len(wrapped(text, high, room)) + 0.5) * high, draw)]


def words_alone(cautions: Sequence[Caution]) -> str:
    """Return what is to be careful about without a number, for a sheet that has none; '' for nothing."""
    words = list(dict.fromkeys(each.word for each in cautions if each.kind != "note"))
    if not words:
        return ""
    listed = words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
    return f"This set calls for care: {listed}. {WHO}."
