"""What a command says of an option that it writes into the scene file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from previz.scene.read import SceneFile
    from previz.studies.outside import AddedLamp


def refuse_name(file: SceneFile, name: str) -> None:
    """Refuse a name that no new option of a file can have, before any work.

    Raises
    ------
    RequestError
        With what to write.
    """
    from previz.errors import DataError, RequestError
    from previz.studies.saving import check_name

    try:
        check_name(name)
    except DataError as error:
        raise RequestError(f"Nothing can be saved so: {error.message}.", error.advice) from None
    if name in file.option_names:
        raise RequestError(f"There is already an option '{name}' in {file.path}.", "Choose another name.")


def save_lamp(file: SceneFile, name: str, base: str, lamp: AddedLamp) -> None:
    """Write an option with an added lamp, and say what was written, on standard error.

    `base` is the option that it is like, '' for the scene as written.
    """
    from previz.studies.saving import save_option

    path = save_option(file, name, base, lamp.scene)
    click.echo(f"Option '{name}' is in {path}.", err=True)
    for line in lamp.words():
        click.echo(f"  {line}", err=True)
