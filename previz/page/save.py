"""Save a look that was found on the page as an option of the scene file, or of a copy beside it."""

from __future__ import annotations

import json
from pathlib import Path

from previz.errors import DataError
from previz.frames.lock import only_writer
from previz.page.change_text import read_changes, read_moves
from previz.page.desk import Desk
from previz.studies.changes import Changes, changed_scene
from previz.studies.saving import check_name, write_option


def save_look(desk: Desk, request: dict) -> dict:
    """Write a look as a new option.

    Parameters
    ----------
    desk : Desk
        Whose scene it is.
    request : dict
        'name' of the new option, 'option' that it starts from, 'look' as `read_changes`
        takes it (decoded), and 'where': 'scene' or 'own file'.

    Returns
    -------
    dict
        'path', 'option', 'text' for the person, and 'reload': whether the scene itself changed.

    Raises
    ------
    DataError
        The name cannot be used, nothing is changed, or the file cannot take it.
    SceneError
        The scene file, or the look in it, has problems.
    """
    name, base = str(request.get("name", "")).strip(), str(request.get("option", ""))
    where = request.get("where")
    if where not in ("scene", "own file"):
        raise DataError("a look is saved in the scene or in a file of its own", "Choose one.")
    look = json.dumps(request.get("look", {}))
    changes, moves = read_changes(look), read_moves(look)
    check_name(name)
    try:
        # Two pages may save at once, of one program or of two; each has to see what the other wrote.
        with desk.saving, only_writer(desk.folder):
            target = _save(desk.as_it_is(), name, base, changes, moves, own=where != "scene")
    except OSError as error:
        if desk.gone:
            raise DataError(gone_text(desk)) from None
        raise DataError(f"the look cannot be written: {error.strerror or error}",
                        "Look at the folder's permissions and at the space that is left.") from None
    where_to = "" if where == "scene" else f" Render it from {target.name}."
    return {"path": str(target), "option": name, "reload": where == "scene",
            "text": f"Saved as option '{name}' in {target.name}.{where_to}"}


def gone_text(desk: Desk) -> str:
    """Return what is said where the scene file has been removed or renamed."""
    return (f"{desk.path.name} is not there any more. Nothing can be saved before it is back; then the page "
            "goes on with it.")


def _save(desk: Desk, name: str, base: str, changes: Changes, moves: str, *, own: bool) -> Path:
    written = desk.path.read_bytes()
    scene = changed_scene(desk.scene(base, moves), desk.stage(base, moves), changes)
    return write_option(desk.file, name, base, scene, written, own=own, changed=desk.changed_on_disk)
