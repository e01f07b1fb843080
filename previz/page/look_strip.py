"""The strip of kept looks on paper: one page or picture of all, as other sheets are laid out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from previz import __version__
from previz.deliver.layout import A3, Block, Setting, paged, stacked
from previz.deliver.looks_sheet import LookLine, looks_blocks
from previz.deliver.plates import FIELD
from previz.deliver.wording import settings_text
from previz.errors import DataError, PrevizError, RequestError
from previz.page.change_text import read_changes, read_moves
from previz.page.desk import Desk
from previz.page.looks import KeptLook, kept_looks
from previz.page.png import png_bytes
from previz.page.references import reference_image
from previz.page.shots import lit, shot
from previz.physics.safety import Caution, together

WIDTH = 2400
"""Of the sheet as a picture. [px]"""

MOST = 24
"""Looks on one sheet."""

NOT_YET, NO_FIT = "not rendered yet", "no longer fits the scene"


def strip_png(desk: Desk, query: Mapping[str, str]) -> bytes:
    """Return the strip as a PNG file; see `strip_blocks`."""
    setting = Setting(WIDTH)
    return png_bytes(np.asarray(stacked(strip_blocks(desk, query, setting), setting).image))


def strip_pdf(desk: Desk, query: Mapping[str, str]) -> bytes:
    """Return the strip as a PDF on A3; see `strip_blocks`."""
    # Its library is slow to import.
    from previz.deliver.pdf import pdf_bytes

    setting = Setting(WIDTH)
    words = {"Title": desk.file.title or desk.path.stem, "Description": "Looks that were kept",
             "Software": f"previz {__version__}"}
    pages = paged(strip_blocks(desk, query, setting), setting, A3[1] / A3[0] * WIDTH)
    return pdf_bytes(pages, setting, words, A3)


def strip_blocks(desk: Desk, query: Mapping[str, str], setting: Setting) -> list[Block]:
    """Return the strip laid out.

    Parameters
    ----------
    desk : Desk
    query : mapping
        'looks': which of them, a JSON list of their ids; all without.
    setting : Setting

    Raises
    ------
    DataError
        No looks are kept, or none of those that are asked for.
    """
    chosen = _chosen(query.get("looks", ""))
    looks = [look for look in kept_looks(desk.changes) if chosen is None or look.id in chosen]
    lines, cautions = [], list[Caution]()
    for look in looks[:MOST]:
        line, more = _line(desk, look)
        lines.append(line)
        cautions += more
    lines += _references(desk, chosen)[:MOST - len(lines)]
    if not lines:
        raise DataError("no look is kept of this scene yet", "Open it with `previz page` and keep one.")
    return looks_blocks(lines, setting, title=desk.file.title or desk.path.stem,
                        subject="Looks that were kept", cautions=together(cautions))


def _chosen(text: str) -> set[str] | None:
    if not text:
        return None
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, list):
        raise DataError("'looks' is a list of looks", "Reload the page.")
    return {each for each in found if isinstance(each, str)}


def _line(desk: Desk, look: KeptLook) -> tuple[LookLine, tuple[Caution, ...]]:
    """Return a look for the sheet, and what it calls for; one that cannot be had says why."""
    place = ", ".join(part for part in (look.option, f"camera {look.camera}") if part)
    differs: list[str] = []
    try:
        changes, moves = read_changes(look.text), read_moves(look.text)
        # Settings of other cameras are not in the picture.
        seen = replace(changes, cameras={name: each for name, each in changes.cameras.items()
                                         if name == look.camera})
        differs = [text for text in (seen.text(), moves_words(moves)) if text]
        if look.wants:
            differs.append(f"wanted as well: {', '.join(look.wants)}")
        if look.option not in desk.options or all(
                each.name != look.camera for each in desk.cameras(look.option, moves)):
            return LookLine(look.name, look.note, place, "no longer in the scene", differs), ()
        request = shot(desk, {"option": look.option, "camera": look.camera, "look": look.text})
    except (DataError, RequestError):
        # A lamp or camera may have gone, or frames have still to come.
        words = NOT_YET if _fits(desk, look) else NO_FIT
        return LookLine(look.name, look.note, place, words, differs), ()
    except PrevizError:
        return LookLine(look.name, look.note, place, NO_FIT, differs), ()
    return (LookLine(look.name, look.note, f"{place}, {settings_text(request.settings)}",
                     request.developed().still, differs), request.staged().reminders)


def _fits(desk: Desk, look: KeptLook) -> bool:
    """Return whether a look can still be laid over its option."""
    try:
        lit(desk, {"option": look.option, "look": look.text})
    except PrevizError:
        return False
    return True


def moves_words(moves: str) -> str:
    """Return what is moved in words: 'moved: key, table; put in: flag; taken out: rim'; '' for nothing."""
    given = json.loads(moves or "{}")
    put_in = [str(each.get("name", "")) for group in given.get("add", {}).values() for each in group]
    moved = [name for section, group in given.items() if section not in ("add", "remove") for name in group]
    parts = (("moved", moved), ("put in", put_in), ("taken out", given.get("remove", [])))
    return "; ".join(f"{word}: {', '.join(map(str, names))}" for word, names in parts if names)


def _lying(picture: np.ndarray) -> np.ndarray:
    """Return a picture that stands on a field as wide as others are, so that it is no taller than they."""
    rows, columns = picture.shape[:2]
    wide = round(rows * 16 / 9)
    if columns >= wide:
        return picture
    made = np.full((rows, wide, 3), FIELD, np.uint8)
    start = (wide - columns) // 2
    made[:, start:start + columns] = picture
    return made


def _references(desk: Desk, chosen: set[str] | None) -> list[LookLine]:
    lines = []
    for key, value in desk.changes.items():
        name = key.removeprefix("reference|")
        if name == key or not isinstance(value, dict) or (chosen is not None and name not in chosen):
            continue
        try:
            picture = _lying(np.asarray(reference_image(desk, name)))
        except PrevizError:
            continue
        lines.append(LookLine(str(value.get("name", "")), str(value.get("note", "")), "reference picture",
                              picture, reference=True))
    return lines
