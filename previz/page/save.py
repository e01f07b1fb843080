"""Save a look that was found on the page: as an option of the scene file or of a copy, or over its text."""

from __future__ import annotations

import json

from previz.errors import DataError
from previz.frames.lock import only_writer
from previz.page.change_text import read_changes, read_moves
from previz.page.desk import Desk
from previz.scene.scene import Scene
from previz.studies.changes import changed_scene
from previz.studies.in_place import write_in_place
from previz.studies.saving import check_name, write_option

NEW, APART, OVER, EVERYWHERE = WHERE = ("scene", "own file", "option", "everywhere")
"""A new option of the scene file, or of a copy beside it; over what the option itself says; or over what it
has from the scene and from options that it is like, for all that have it from there."""


def save_look(desk: Desk, request: dict) -> dict:
    """Write a look into the scene file, or into a copy beside it.

    Parameters
    ----------
    desk : Desk
        Whose scene it is.
    request : dict
        'name' of a new option, 'option' that it starts from, 'look' as `read_changes` and `read_moves`
        take it (decoded), and 'where', one of `WHERE`.

    Returns
    -------
    dict
        'path', 'option', 'text' for the person, 'reload': whether the scene itself changed, and 'taken':
        the page's changes that are now what the file says.

    Raises
    ------
    DataError
        The name cannot be used, nothing is changed, or the file cannot take it.
    SceneError
        The scene file, or the look in it, has problems.
    """
    name, base = str(request.get("name", "")).strip(), str(request.get("option", ""))
    where = request.get("where")
    if where not in WHERE:
        raise DataError(f"a look is saved in one of these places: {', '.join(WHERE)}", "Choose one.")
    look = json.dumps(request.get("look", {}))
    changes, moves = read_changes(look), read_moves(look)
    if where in (NEW, APART):
        check_name(name)
    try:
        # Two pages may save at once, of one program or of two; each has to see what the other wrote.
        with desk.saving, only_writer(desk.folder):
            now = desk.as_it_is()
            written = now.path.read_bytes()
            scene = changed_scene(now.scene(base, moves), now.stage(base, moves), changes)
            if where in (NEW, APART):
                target = write_option(now.file, name, base, scene, written, own=where == APART,
                                      changed=now.changed_on_disk)
                text = f"Saved as option '{name}' in {target.name}."
                text += f" Render it from {target.name}." if where == APART else ""
            else:
                target, text = now.path, _over(now, base, scene, written, everywhere=where == EVERYWHERE)
    except OSError as error:
        if desk.gone:
            raise DataError(gone_text(desk)) from None
        raise DataError(f"the look cannot be written: {error.strerror or error}",
                        "Look at the folder's permissions and at the space that is left.") from None
    over = where in (OVER, EVERYWHERE)
    taken = [key for key in desk.changes if over and is_of_lights_and_places(key, base)]
    return {"path": str(target), "option": name, "reload": where != APART, "text": text, "taken": taken}


def gone_text(desk: Desk) -> str:
    """Return what is said where the scene file has been removed or renamed."""
    return (f"{desk.path.name} is not there any more. Nothing can be saved before it is back; then the page "
            "goes on with it.")


def _over(desk: Desk, option: str, scene: Scene, written: bytes, *, everywhere: bool) -> str:
    """Write over what the file says; return what has become of it in words."""
    followed = write_in_place(desk.file, option, scene, written, everywhere=everywhere,
                              changed=desk.changed_on_disk)
    whose = f"option '{option}'" if option else "the scene"
    others = ", ".join(f"'{each}'" if each else "the scene as written" for each in followed)
    return f"Saved in {desk.path.name}, in {whose}." + (f" With it changed: {others}." if others else "")


def is_of_lights_and_places(key: str, option: str) -> bool:
    """Return whether a change of the page is of an option's lamps, cameras, or places of things."""
    of, _, rest = key.partition("|")
    return of == option and rest.partition("|")[0] in ("lamp", "camera", "place", "added", "removed")
