"""`previz watch`: render a scene again whenever it is saved, a draft first."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from previz.cli.options import kept_up, out_folder

if TYPE_CHECKING:
    from previz.cli.watching import Watch
    from previz.rendering.request import Request


@click.command()
@kept_up("What is rendered in the end; a draft is shown before.", "picture")
def command(scene, options, cameras, out, **request):
    """Render SCENE, and again whenever it or a file that it names is saved: a draft first, then in
    full. Only what has changed is rendered, as in render. Ctrl-C ends it.

    While the file has a mistake it is told, and the pictures stay as they were. A save while it
    renders leaves that off, keeping what is done.
    """
    from previz.cli.watching import Watch
    from previz.rendering.request import Request

    folder = out_folder(out, scene)
    last = Request(folder / "frames", **request)
    requests = {"draft": replace(last, quality="draft", samples=None), last.quality: last}
    watch = Watch([scene])
    try:
        while True:
            watch.taken()
            _once(watch, scene, options, cameras, folder, requests.values(), last.quality)
            click.echo(f"Waiting for {scene} to be saved; Ctrl-C ends it.", err=True)
            watch.wait()
    finally:
        watch.close()


def _once(watch: Watch, scene: Path, options: tuple[str, ...], cameras: tuple[str, ...], folder: Path,
          requests: Iterable[Request], last: str) -> None:
    """Render the scene as it is now, in every quality, unless it is saved again meanwhile.

    All are called as the last is, so that there is one picture to keep an eye on.
    """
    from previz.cli.disk import disk_words
    from previz.cli.progress import TerminalProgress
    from previz.cli.watching import named_files
    from previz.errors import PrevizError
    from previz.scene.read import load
    from previz.studies.render import render
    from previz.studies.render_files import RenderFiles

    try:
        file = load(scene)
        watch.also(named_files(list(file.scenes.values())))
        for request in requests:
            began = time.monotonic()

            def work(request: Request = request) -> None:
                files = RenderFiles(file, folder, request, last)
                files.deliver(render(file, request, options=options, cameras=cameras, shown=files.still,
                                     progress=TerminalProgress()), exr=False)
                for line in files.said:
                    click.echo(line, err=True)

            if not watch.work(work):
                click.echo("Saved again: left off.", err=True)
                return
            click.echo(f"{request.quality}: {folder} after {time.monotonic() - began:.1f} s", err=True)
    except PrevizError as error:
        click.echo(str(error), err=True)
    except OSError as error:
        # A full disk, or an editor that has taken the file away for a moment.
        click.echo(disk_words(error) or f"{scene} cannot be read: {error.strerror}.", err=True)
