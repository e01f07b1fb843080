"""`previz portrait`: one head under a handful of classic placements, on one sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from previz.cli.options import (
    BACKEND,
    QUALITY,
    ROWS,
    SAMPLES,
    SEED,
    out_folder,
    out_option,
    print_doubts,
    print_rows,
    quantity,
    scene_of,
)
from previz.scene.figure import HAIR, HAIR_COLOURS, PERSONS, SHEENS, SKINS


def stops(low: float, high: float) -> Callable[[str], float]:
    """Return what reads stops between two limits, as '-4 stops' or '-4'."""
    def within(text: str) -> float:
        number = quantity(text, "stops" if "stop" in text else "number")
        if not low <= number <= high:
            raise click.BadParameter(f"'{text}' is out of range; write {low:+g} to {high:+g} stops.")
        return number

    return within


def fill_stops(text: str) -> float | None:
    """Return the stops of a fill against the key, None for 'none'."""
    return None if text == "none" else stops(-10, 0)(text)


@click.command()
@click.argument("scene", type=click.Path(path_type=Path), required=False)
@click.option("--figure", default="", metavar="NAME", help="Whose head, where SCENE has several figures.")
@click.option("--option", "option", metavar="NAME", help="The figure as in this option of SCENE.")
@click.option("--person", type=click.Choice(PERSONS), help="Which of the built-in persons.")
@click.option("--skin", type=click.Choice(SKINS), help="Lightness of the skin.")
@click.option("--sheen", type=click.Choice(SHEENS), help="How much the skin shines.")
@click.option("--hair", type=click.Choice(HAIR), help="How the hair is worn.")
@click.option("--hair-colour", type=click.Choice(HAIR_COLOURS), help="Colour of the hair.")
@click.option("--fill", type=fill_stops, default="-4 stops", show_default=True, metavar="STOPS",
              help="A broad lamp over the lens, against the key; 'none' for the key alone.")
@click.option("--exposure", type=stops(-4, 4), default="+1 stop", show_default=True, metavar="STOPS",
              help="How far the lens is opened from what a meter at the face sets.")
@click.option("--size", type=click.IntRange(64, 2048), default=360, show_default=True,
              metavar="WIDTH", help="Width of each portrait in pixels.")
@QUALITY
@SAMPLES
@SEED
@out_option("Where the sheet goes; renders/<scene> or renders/portrait by default.")
@BACKEND
@ROWS
def command(scene, option, size, out, quality, samples, seed, backend, as_json, as_csv, **portrait_of):
    """Render one head under six classic placements of the key, hard and soft, on one sheet: to see
    how a face takes light before anything is planned with it.

    Without SCENE the head is a built-in person; with it, a figure of the scene as it is dressed
    there. Every lamp gives the same light at the face, and both sides are metered.
    """
    from previz.cli.progress import TerminalProgress, drawn
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.portrait import portrait

    if scene is None and (portrait_of["figure"] or option):
        raise click.UsageError("--figure and --option are for a SCENE; name one.")
    chosen = None if scene is None else scene_of(scene, option)[1]
    picked = [portrait_of[key] or "" for key in ("figure", "person", "skin", "sheen", "hair", "hair_colour")]
    stem = sheet_stem("portrait", (option or "", *picked), quality)
    folder = out_folder(out, scene or Path("portrait"), files=(f"{stem}.png",))
    request = Request(folder / "frames", (size, None), quality, samples, seed, backend=backend)
    found = portrait(chosen, request, progress=TerminalProgress(), **portrait_of)
    print_rows(found, as_json, as_csv, drawn(lambda: found.sheet(folder / stem)))
    print_doubts(found.doubtful)
