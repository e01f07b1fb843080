"""The strip of kept looks on paper: one page or picture of all, as other sheets are laid out."""

from __future__ import annotations

import json
from collections.abc import Mapping

import numpy as np

from previz import __version__
from previz.deliver.layout import A3, Block, Setting, paged, stacked
from previz.deliver.looks_sheet import LookLine, looks_blocks
from previz.deliver.wording import settings_text
from previz.errors import DataError, PrevizError, RequestError
from previz.page.change_text import read_moves
from previz.page.desk import Desk
from previz.page.looks import KeptLook, kept_looks
from previz.page.png import png_bytes
from previz.page.references import reference_image
from previz.page.shots import shot
from previz.physics.safety import Caution, together

WIDTH = 2400
"""Of the sheet as a picture. [px]"""

MOST = 24
"""Looks on one sheet."""

NOT_YET = "not rendered yet"


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
    try:
        if look.option not in desk.options or all(each.name != look.camera for each in desk.cameras(
                look.option, read_moves(look.text))):
            return LookLine(look.name, look.note, place, "no longer in the scene"), ()
        request = shot(desk, {"option": look.option, "camera": look.camera, "look": look.text})
    except (DataError, RequestError):
        return LookLine(look.name, look.note, place, NOT_YET), ()
    except PrevizError:
        return LookLine(look.name, look.note, place, "no longer fits the scene"), ()
    differs = [text for text in (request.changes.text(), moves_words(request.moves)) if text]
    if look.wants:
        differs.append(f"wanted as well: {', '.join(look.wants)}")
    return (LookLine(look.name, look.note, f"{place}, {settings_text(request.settings)}",
                     request.developed().still, differs), request.staged().reminders)


def moves_words(moves: str) -> str:
    """Return what is moved in words: 'moved: key, table; put in: flag; taken out: rim'; '' for nothing."""
    given = json.loads(moves or "{}")
    put_in = [str(each.get("name", "")) for group in given.get("add", {}).values() for each in group]
    moved = [name for section, group in given.items() if section not in ("add", "remove") for name in group]
    parts = (("moved", moved), ("put in", put_in), ("taken out", given.get("remove", [])))
    return "; ".join(f"{word}: {', '.join(map(str, names))}" for word, names in parts if names)


def _references(desk: Desk, chosen: set[str] | None) -> list[LookLine]:
    lines = []
    for key, value in desk.changes.items():
        name = key.removeprefix("reference|")
        if name == key or not isinstance(value, dict) or (chosen is not None and name not in chosen):
            continue
        try:
            picture = np.asarray(reference_image(desk, name))
        except PrevizError:
            continue
        lines.append(LookLine(str(value.get("name", "")), str(value.get("note", "")), "reference picture",
                              picture, reference=True))
    return lines
