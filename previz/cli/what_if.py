"""`previz what-if`: what each want of the light hangs on."""

from __future__ import annotations

import click

from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    SIZE,
    Timed,
    out_folder,
    print_doubts,
    print_rows,
    quantity,
    scene_of,
)
from previz.cli.progress import TerminalProgress, drawn


def step_length(text: str) -> float:
    """Return how far off the mark somebody stands. [m]"""
    found = quantity(text, "length")
    if found and not 0.02 <= found <= 3:
        raise click.BadParameter(f"'{text}' is out of range; write 2 cm to 3 m, or 0 m for no step.")
    return found


@click.command(cls=Timed)
@SCENE
@ONE_OPTION
@click.option("--want", "wants", multiple=True, metavar="WANT",
              help="What is wanted, in place of the scene's own wants, as of `previz balance`: 'lit side "
                   "clerk 0', 'ratio clerk 4:1', 'thing north wall -3'. May be given again. Where nothing is "
                   "wanted at all, each face is to stay as it is.")
@click.option("--as-it-is", is_flag=True,
              help="What the wants are of is to stay as it is now, within what each allows, whatever they "
                   "say is wanted: how firm the light stands that is there.")
@click.option("--step", type=step_length, default="0.3 m", show_default=True, metavar="LENGTH",
              help="How far off the mark a figure may stand; 0 m leaves that out.")
@SIZE
@QUALITY
@PATHS
@SHEET
def command(scene, option, out, size, quality, samples, seed, bands, backend, as_json, as_csv, **study):
    """Say what each want of SCENE's light hangs on: what half a stop more or less on each lamp does to it, a
    lamp that is out, the sun behind a cloud, a step off the mark; how far each lamp may go before a want
    is missed; the weakest point, and what to guard on the day.

    Wants stand under 'wants:' in the scene file. Nothing is rendered but what a background is read from.
    """
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.what_if import what_if

    file, lit = scene_of(scene, option)
    stem = sheet_stem("what-if", (option or "",), quality)
    folder = out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf"))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    found = what_if(lit, request, title=file.title or scene.stem, progress=TerminalProgress(), **study)
    if not (as_json or as_csv):
        click.echo(found.table())
    print_rows(found, as_json, as_csv, drawn(lambda: found.sheet(folder / stem)))
    print_doubts([("", found.short)])
