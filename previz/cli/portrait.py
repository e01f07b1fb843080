"""`previz portrait`: one head under a handful of classic placements, on one sheet."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.options import BACKEND, QUALITY, ROWS, SAMPLES, SEED, print_doubts, print_rows, quantity
from previz.scene.figure import HAIR, HAIR_COLOURS, PERSONS, SHEENS, SKINS
from previz.studies.folders import out_folder


class Stops(click.ParamType):
    """Stops such as '-4 stops' or '-4', or 'none'."""

    name = "STOPS"

    def __init__(self, low: float, high: float, none: bool = False):
        self.low, self.high, self.none = low, high, none

    def convert(self, value, param, ctx):
        """Return the number of stops, None for 'none'."""
        if value is None or isinstance(value, float):
            return value
        if self.none and value == "none":
            return None
        number = quantity(self, value, "stops" if "stop" in value else "number", param, ctx)
        if not self.low <= number <= self.high:
            self.fail(f"'{value}' is out of range; write {self.low:+g} to {self.high:+g} stops.",
                      param, ctx)
        return number


@click.command()
@click.argument("scene", type=click.Path(path_type=Path), required=False)
@click.option("--figure", default="", metavar="NAME", help="Whose head, where SCENE has several figures.")
@click.option("--option", "option", metavar="NAME", help="The figure as in this option of SCENE.")
@click.option("--person", type=click.Choice(PERSONS), help="Which of the built-in persons.")
@click.option("--skin", type=click.Choice(SKINS), help="Lightness of the skin.")
@click.option("--sheen", type=click.Choice(SHEENS), help="How much the skin shines.")
@click.option("--hair", type=click.Choice(HAIR), help="How the hair is worn.")
@click.option("--hair-colour", type=click.Choice(HAIR_COLOURS), help="Colour of the hair.")
@click.option("--fill", type=Stops(-10, 0, none=True), default="-4 stops", show_default=True,
              help="A broad lamp over the lens, against the key; 'none' for the key alone.")
@click.option("--exposure", type=Stops(-4, 4), default="+1 stop", show_default=True,
              help="How far the lens is opened from what a meter at the face sets.")
@click.option("--size", type=click.IntRange(64, 2048), default=360, show_default=True,
              metavar="WIDTH", help="Width of each portrait in pixels.")
@QUALITY
@SAMPLES
@SEED
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER",
              help="Where the sheet goes; renders/<scene> or renders/portrait by default.")
@BACKEND
@ROWS
def command(scene, option, size, out, quality, samples, seed, backend, as_json, as_csv, **portrait_of):
    """Render one head under six classic placements of the key, hard and soft, on one sheet: to see
    how a face takes light before anything is planned with it.

    Without SCENE the head is a built-in person; with it, a figure of the scene as it is dressed
    there. Every lamp gives the same light at the face, and both sides are metered.
    """
    from previz.cli.progress import TerminalProgress
    from previz.rendering.request import Request
    from previz.studies.portrait import portrait

    chosen = _scene(scene, option, portrait_of["figure"])
    folder = out or out_folder(None, scene or Path("portrait"))
    request = Request(folder / "frames", (size, None), quality, samples, seed, backend=backend)
    found = portrait(chosen, request, progress=TerminalProgress(), **portrait_of)
    print_rows(found, as_json, as_csv, found.sheet(folder / "portrait"))
    print_doubts(found.doubtful)


def _scene(path: Path | None, option: str | None, figure: str):
    """Return the option of a scene that the figure is taken from; None for a built-in person."""
    if path is None:
        if figure or option:
            raise click.UsageError("--figure and --option are for a SCENE; name one.")
        return None
    from previz.scene.read import load
    from previz.studies.selection import select

    file = load(path)
    if option is not None:
        select((option,), file.option_names, "option")
    return file.scene(option)
