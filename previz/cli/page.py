"""`previz page`: a scene's lamps, stops and meters in the hand, in a browser on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from previz.cli.options import kept_up, out_folder

if TYPE_CHECKING:
    from previz.page.desk import Desk


@click.command()
@kept_up("What is rendered in the end; drafts are shown before.", "frames")
@click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="N",
              help="Port on this machine; a free one by default.")
@click.option("--no-open", is_flag=True, help="Print the address and open no browser.")
@click.option("--no-render", is_flag=True, help="Show what is there and render nothing.")
@click.option("--get", "path", metavar="PATH",
              help="Print one answer, such as 'scene.json', 'still.png?camera=A' or 'strip.pdf', and stop.")
def command(scene, options, cameras, out, port, no_open, no_render, path, **request):
    """Open a page for SCENE: every lamp's level and colour, the camera's stop and balance, options,
    exposure map, meters. What is missing is rendered meanwhile, drafts first.

    The page is for this machine alone, and its address holds a token: give it to nobody. Changes
    are kept as they are made; a look is saved into the scene file as an option. Looks that are only
    kept lie in a file beside the scene; `--get strip.pdf` prints them as a sheet.
    """
    from previz.page.desk import Desk, PageRequest
    from previz.rendering.request import Request

    folder = out_folder(out, scene)
    desk = Desk(PageRequest(scene, folder, Request(folder / "frames", **request), options, cameras))
    for note in desk.looks.notes:
        click.echo(note, err=True)
    if path is not None:
        _print_answer(desk, path)
        return
    from previz.page.serving import serve

    serve(desk, port, open_browser=not no_open, render=not no_render, opened=_print_address,
          closing=lambda: click.echo("Leaving off; what is rendered is kept.", err=True))


def _print_address(address: str) -> None:
    click.echo(address)
    click.echo("The page is open as long as this runs; Ctrl+C ends it. Changes are kept.", err=True)


def _print_answer(desk: Desk, path: str) -> None:
    """Print what the server would answer, without one."""
    import sys
    from urllib.parse import parse_qsl, urlsplit

    from previz.page.answers import ANSWERS, answer
    from previz.page.static_files import static_files

    parts = urlsplit(path)
    name = parts.path.lstrip("/") or "index.html"
    files = static_files()
    if name in files:
        body = files[name][1].encode()
    elif name in ANSWERS:
        query = dict(parse_qsl(parts.query, keep_blank_values=True))
        body = answer(desk, name, query).body
    else:
        listed = ", ".join(sorted(ANSWERS))
        raise click.UsageError(f"There is no '{name}'. There are: {listed}.")
    sys.stdout.buffer.write(body)
    sys.stdout.buffer.flush()
