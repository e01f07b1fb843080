"""`previz watch`: render a scene again whenever it is saved, a draft first."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from previz.cli.ending import say
from previz.cli.map_options import MAP, mapped
from previz.cli.options import kept_up, out_folder, print_cautions

if TYPE_CHECKING:
    from previz.cli.watching import Watch
    from previz.physics.safety import Caution
    from previz.rendering.request import Request


@click.command()
@kept_up("What is rendered in the end; a draft is shown before.", "picture")
@MAP
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
            say(f"Waiting for {scene} to be saved; Ctrl-C ends it.")
            watch.wait()
    finally:
        watch.close()


def _once(watch: Watch, scene: Path, options: tuple[str, ...], cameras: tuple[str, ...], folder: Path,
          requests: Iterable[Request], last: str) -> None:
    """Render the scene as it is now, in every quality, unless it is saved again meanwhile.

    All are called as the last is, so that there is one picture to keep an eye on.
    """
    from previz.cli.progress import TerminalProgress
    from previz.cli.watching import named_files
    from previz.errors import PrevizError, resource_error
    from previz.scene.read import load
    from previz.studies.render import render
    from previz.studies.render_files import RenderFiles

    try:
        file = mapped(load(scene))
        watch.also(named_files(list(file.scenes.values())))
        cautions: list[Caution] = []
        for request in requests:
            began = time.monotonic()

            def work(request: Request = request) -> None:
                files = RenderFiles(file, folder, request, last)
                found = render(file, request, options=options, cameras=cameras, shown=files.still,
                               progress=TerminalProgress())
                files.deliver(found, exr=False)
                for line in files.said:
                    say(line)
                cautions[:] = found.cautions

            if not watch.work(work):
                say("Saved again: left off.")
                return
            say(f"{request.quality}: {folder} after {time.monotonic() - began:.1f} s")
        print_cautions(cautions)
    except PrevizError as error:
        say(str(error))
    except (OSError, MemoryError) as error:
        # A full disk, or an editor that has taken the file away for a moment.
        say(str(resource_error(error) or f"{scene} cannot be read: {error}."))
