"""Looks that were kept, side by side: each with its name, its note, and how it differs from the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from previz.deliver.layout import Block, Setting, foot, heading, space
from previz.deliver.plates import Plate, Shown, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.physics.safety import Caution

ACROSS = 3
"""Pictures side by side on a sheet with many."""

AS_WRITTEN = "as written"

TERMS = (
    ("Changed", "levels, colours, gels and the camera's settings against the option as the scene file has "
     "it; a level is a share of the lamp's full light."),
    ("Moved", "things that stand elsewhere than the option has them, were put in or taken out."),
    ("Reference", "a picture from elsewhere that was set beside the looks; nothing of it was computed."),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class LookLine:
    """One look of a strip.

    Parameters
    ----------
    name, note : str
        As they were given.
    place : str
        Option, camera and its settings in words; of a reference that it is one.
    picture : Shown
        Its still, or the words in place of one that is not rendered yet.
    differs : sequence of str
        What is changed and moved, in words; none for a look as written.
    reference : bool
        Whether it is a picture from elsewhere.
    """

    name: str
    note: str
    place: str
    picture: Shown
    differs: Sequence[str] = ()
    reference: bool = False


def looks_blocks(lines: Sequence[LookLine], setting: Setting, *, title: str, subject: str,
                 cautions: Sequence[Caution] = ()) -> list[Block]:
    """Return a strip of looks, in order.

    Parameters
    ----------
    lines : sequence of LookLine
        At least one.
    setting : Setting
    title, subject : str
        Over all, and under it.
    cautions : sequence of Caution
        What the looks call for, together.
    """
    across = ACROSS if len(lines) > 4 else 2
    plates = [Plate([[line.picture]], below=line.name, under=[
        line.place, *([line.note] if line.note else []),
        *(line.differs or ([] if line.reference or isinstance(line.picture, str) else [AS_WRITTEN]))])
        for line in lines]
    terms = TERMS if any(line.reference for line in lines) else TERMS[:2]
    return [heading(setting, title, subject), space(0.8 * setting.unit), *plate_rows(setting, plates, across),
            *caution_blocks(setting, cautions), *foot(setting, terms)]
