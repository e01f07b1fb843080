"""`previz watch`: render a scene again whenever it is saved, a draft first."""

from __future__ import annotations

import time

import click

from previz.cli.options import BACKEND, BANDS, CAMERA, OPTION, OUT, SAMPLES, SCENE, SIZE
from previz.studies.folders import out_folder
from previz.studies.selection import select_options


@click.command()
@SCENE
@OPTION
@CAMERA
@SIZE
@click.option("--quality", type=click.Choice(["draft", "working", "fine"]), default="working",
              show_default=True, help="What is rendered in the end; a draft is shown before.")
@SAMPLES
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True, metavar="N",
              help="As in render: the same seed gives the same picture.")
@BANDS
@OUT
@BACKEND
def command(scene, options, cameras, size, quality, samples, seed, bands, out, backend):
    """Render SCENE, and again whenever it or a file that it names is saved: a draft first, then in
    full. Only what has changed is rendered, as in render. Ctrl-C ends it.

    While the file has a mistake it is told, and the pictures stay as they were. A save while it
    renders leaves that off, keeping what is done.
    """
    from previz.cli.watching import Watch
    from previz.studies.render import Asked

    usual = {"scene": scene, "cameras": cameras, "size": size, "seed": seed, "bands": bands,
             "exr": False, "out": out_folder(out, scene), "backend": backend}
    stages = {"draft": Asked(options=[], quality="draft", samples=None, **usual)}
    stages[quality] = Asked(options=[], quality=quality, samples=samples, **usual)
    watch = Watch([scene])
    try:
        while True:
            watch.taken()
            _once(watch, scene, options, stages)
            click.echo(f"Waiting for {scene} to be saved; Ctrl-C ends it.", err=True)
            watch.wait()
    finally:
        watch.close()


def _once(watch, scene, options, stages) -> None:
    """Render the scene as it is now, in every quality, unless it is saved again meanwhile."""
    from dataclasses import replace
    from functools import partial

    from previz.cli.disk import disk_words
    from previz.cli.watching import named_files
    from previz.errors import PrevizError
    from previz.scene.read import load
    from previz.studies.render import run

    try:
        file = load(scene)
        watch.also(named_files(list(file.scenes.values())))
        names = select_options(file, options)
        for quality, asked in stages.items():
            began = time.monotonic()
            if not watch.work(partial(run, file, replace(asked, options=names))):
                click.echo("Saved again: left off.", err=True)
                return
            click.echo(f"{quality}: {asked.out} after {time.monotonic() - began:.1f} s", err=True)
    except PrevizError as error:
        click.echo(str(error), err=True)
    except click.ClickException as error:
        error.show()
    except OSError as error:
        # A full disk, or an editor that has taken the file away for a moment.
        click.echo(disk_words(error) or f"{scene} cannot be read: {error.strerror}.", err=True)
