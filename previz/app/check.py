"""`previz check`: read a scene file and say everything that is wrong with it."""

from __future__ import annotations

import click

from previz.app.options import SCENE


@click.command()
@SCENE
def command(scene):
    """Check SCENE and all its options; says what is wrong, where, and what to write.

    Ends with 0 for a good file and 2 for a bad one. Nothing is written.
    """
    from previz.scene.read import load

    file = load(scene)
    first = file.scene(None)
    counts = [(first.figures, "figure"), (first.lights, "lamp"), (first.cameras, "camera"),
              (file.option_names, "option")]
    told = ", ".join(f"{len(each)} {word}{'' if len(each) == 1 else 's'}" for each, word in counts)
    click.echo(f"{scene}: good. {told}.")
