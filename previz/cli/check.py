"""`previz check`: read a scene file and say everything that is wrong with it."""

from __future__ import annotations

from dataclasses import replace

import click

from previz.cli.options import SCENE
from previz.units import quote


@click.command()
@SCENE
def command(scene):
    """Check SCENE and all its options; says what is wrong, where, and what to write.

    Photometric files, spectra, gels and pictures are read too; meshes are read when the scene is
    rendered. What is allowed and hardly meant is told too: a camera or lamp outside the room or in a
    body, a board in a wall, a lamp that gives more than its kind can. Ends with 0 for a good file and
    2 for a bad one. Nothing is written.
    """
    from previz.errors import SceneError
    from previz.scene.read import load
    from previz.stage.named_files import faults

    file = load(scene)
    found = {(each.line, each.column, each.message): each
             for option in file.scenes.values() for each in faults(option)}
    if found:
        raise SceneError(found.values())
    noted = sorted([*file.earlier, *_doubts(file)], key=lambda each: (each.line, each.column))
    for each in noted:
        click.echo(str(each), err=True)
    first = file.scene(None)
    counts = [(first.figures, "figure"), (first.lights, "lamp"), (first.cameras, "camera"),
              (file.option_names, "option")]
    has = ", ".join(f"{len(each)} {word}{'' if len(each) == 1 else 's'}" for each, word in counts)
    more = f", with {len(noted)} thing{'' if len(noted) == 1 else 's'} to look at" if noted else ""
    click.echo(f"{scene}: good{more}. {has}.")


def _doubts(file) -> list:
    """Return what is hardly meant in a scene or its options, each once."""
    from previz.stage.doubts import doubts

    found = {}
    for option, scene in file.scenes.items():
        for each in doubts(scene):
            key = each.line, each.column, each.message
            if key not in found:
                message = f"with option {quote(option)}, {each.message}" if option else each.message
                found[key] = replace(each, message=message)
    return sorted(found.values(), key=lambda each: (each.line, each.column))
