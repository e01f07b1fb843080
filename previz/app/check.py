"""`previz check`: read a scene file and say everything that is wrong with it."""

from __future__ import annotations

import click

from previz.app.options import SCENE


@click.command()
@SCENE
def command(scene):
    """Check SCENE and all its options; says what is wrong, where, and what to write.

    Photometric files, spectra, gels and pictures are read too; meshes are read when the scene is
    rendered. Ends with 0 for a good file and 2 for a bad one. Nothing is written.
    """
    from previz.errors import SceneError
    from previz.scene.read import load
    from previz.stage.named_files import faults

    file = load(scene)
    found = {(each.line, each.column, each.message): each
             for option in file.scenes.values() for each in faults(option)}
    if found:
        raise SceneError(found.values())
    first = file.scene(None)
    counts = [(first.figures, "figure"), (first.lights, "lamp"), (first.cameras, "camera"),
              (file.option_names, "option")]
    told = ", ".join(f"{len(each)} {word}{'' if len(each) == 1 else 's'}" for each, word in counts)
    click.echo(f"{scene}: good. {told}.")
