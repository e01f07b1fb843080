"""`previz page`: a scene's lamps, stops and meters in the hand, in a browser on this machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, TextIO

import click

from previz.cli.options import kept_up, out_folder

if TYPE_CHECKING:
    from previz.page.desk import Desk
    from previz.page.opening import PageRequest, Worker


@click.command()
@kept_up("What is rendered in the end; drafts are shown before.", "frames")
@click.option("--port", type=click.IntRange(0, 65535), default=0, metavar="N",
              help="Port on this machine; a free one by default.")
@click.option("--no-open", is_flag=True, help="Print the address and open no browser.")
@click.option("--no-render", is_flag=True, help="Show what is there and render nothing.")
@click.option("--look", "look", type=click.File("r", encoding="utf-8", errors="replace"), metavar="FILE",
              help="Take in a look that was sent back: a file, or '-', with the mail that it came in. "
                   "With --get, for that answer alone.")
@click.option("--get", "path", metavar="PATH",
              help="Print one answer, such as 'scene.json', 'still.png?camera=A' or 'strip.pdf', and stop.")
def command(scene, options, cameras, out, port, no_open, no_render, look, path, **request):
    """Open a page for SCENE: every lamp's level and colour, the camera's stop and balance, options,
    exposure map, meters. What is missing is rendered meanwhile, drafts first.

    The page is for this machine alone, and its address holds a token: give it to nobody. Changes
    are kept as they are made; a look is saved into the scene file as an option. Looks that are only
    kept lie in a file beside the scene; `--get strip.pdf` prints them as a sheet.
    """
    from previz.page.opening import PageRequest, leave, start_worker
    from previz.rendering.request import Request

    folder = out_folder(out, scene)
    requested = PageRequest(scene, folder, Request(folder / "frames", **request), options, cameras)
    # It loads what it needs while this process does.
    early = path is None and not no_render and scene.is_file() and requested.is_new()
    worker = start_worker(requested) if early else None
    try:
        _open(requested, worker, port, no_open, no_render, look, path)
    finally:
        if worker is not None:
            leave(worker)


def _open(requested: PageRequest, worker: Worker | None, port: int, no_open: bool, no_render: bool,
          look: TextIO | None, path: str | None) -> None:
    """Open the page, or print one answer of it."""
    from previz.page.desk import Desk

    desk = Desk(requested)
    for note in desk.looks.notes:
        click.echo(note, err=True)
    taken = None if look is None else _taken(desk, look, keep=path is None)
    if path is not None:
        _print_answer(desk, path, taken)
        return
    from previz.page.serving import serve

    serve(desk, port, open_browser=not no_open, render=not no_render, opened=_print_address,
          closing=lambda: click.echo("Leaving off; what is rendered is kept.", err=True), worker=worker)


def _taken(desk: Desk, look: TextIO, *, keep: bool) -> dict[str, str]:
    """Take in a look, say what of it does not fit, and return it as a question has it."""
    import json

    from previz.page.look_text import MOST_TEXT, keep_before, take_look, values_of

    taken = take_look(desk, look.read(MOST_TEXT + 1))
    click.echo("\n".join((taken.text, *(f"  {line}" for line in taken.said))), err=True)
    if keep:
        kept = keep_before(desk, taken.option)
        if kept is not None:
            click.echo(f"What was set before is kept as text in {kept}.", err=True)
        desk.change(values_of(desk, taken))
    camera = {"camera": taken.camera} if taken.camera else {}
    return {"option": taken.option, **camera, "look": json.dumps(taken.look)}


def _print_address(address: str) -> None:
    click.echo(address)
    click.echo("The page is open as long as this runs; Ctrl+C ends it. Changes are kept.", err=True)


def _print_answer(desk: Desk, path: str, taken: dict[str, str] | None) -> None:
    """Print the answer to a path; of a look that was taken in, unless the path has one."""
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
        query = {**(taken or {}), **dict(parse_qsl(parts.query, keep_blank_values=True))}
        body = answer(desk, name, query).body
    else:
        listed = ", ".join(sorted(ANSWERS))
        raise click.UsageError(f"There is no '{name}'. There are: {listed}.")
    sys.stdout.buffer.write(body)
    sys.stdout.buffer.flush()
