"""`previz portrait`: one head under a handful of classic placements, on one sheet."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import click

from previz.cli.options import BACKEND, QUALITY, SAMPLES, SEED, print_doubts
from previz.scene.figure import HAIR, HAIR_COLOURS, PERSONS, SHEENS, SKINS
from previz.studies.folders import out_folder
from previz.studies.selection import select

SHEET = "portrait.png"


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
        from previz.units import UnitError, parse

        try:
            number = parse(value, "stops") if "stop" in value else parse(value, "number")
        except UnitError as error:
            self.fail(str(error), param, ctx)
        if not self.low <= number <= self.high:
            self.fail(f"'{value}' is out of range; write {self.low:+g} to {self.high:+g} stops.",
                      param, ctx)
        return number


@click.command()
@click.argument("scene", type=click.Path(path_type=Path), required=False)
@click.option("--figure", metavar="NAME", help="Whose head, where SCENE has several figures.")
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
def command(scene, figure, option, size, out, fill, exposure, quality, samples, seed, backend,
            **looks):
    """Render one head under six classic placements of the key, hard and soft, on one sheet: to see
    how a face takes light before anything is planned with it.

    Without SCENE the head is a built-in person; with it, a figure of the scene as it is dressed
    there. Every lamp gives the same light at the face, and both sides are metered.
    """
    from previz import __version__
    from previz.deliver.portrait_sheet import doubted, write_portrait_sheet
    from previz.deliver.wording import settings_text
    from previz.studies.portrait import Asked, portrait
    from previz.studies.portrait_studio import settings

    chosen_figure = _figure(scene, figure, option, looks)
    folder = out or out_folder(None, scene or Path("portrait"))
    asked = Asked(width=size, fill=fill, exposure=exposure, quality=quality, samples=samples,
                  seed=seed, backend=backend, cache=folder / "frames")
    rows = portrait(chosen_figure, asked)
    folder.mkdir(parents=True, exist_ok=True)
    title = f"Portrait: {_described(chosen_figure)}"
    shown = "" if not exposure else (
        f"; shown at {exposure:+g} stop{'' if abs(exposure) == 1 else 's'}")
    subject = f"Metered for {settings_text(settings())}{shown}"
    write_portrait_sheet(folder / SHEET, rows, title=title, subject=subject,
                         note=_note(fill, rows),
                         words={"Title": title, "Software": f"previz {__version__}"})
    click.echo(str(folder / SHEET))
    print_doubts(doubted(rows))


def _figure(scene, name, option, looks):
    """Return the figure that the command line names, with the looks that it changes."""
    from previz.scene.figure import Figure

    changes = {field: value for field, value in looks.items() if value is not None}
    if scene is None:
        if name or option:
            raise click.UsageError("--figure and --option are for a SCENE; name one.")
        person = changes.setdefault("person", PERSONS[1])
        changes.setdefault("hair", _own_hair(person))
        return Figure(name="subject", at=(0.0, 0.0, 0.0), facing=270.0, **changes)
    from previz.scene.read import load

    file = load(scene)
    if option is not None:
        select((option,), file.option_names, "option")
    figures = {each.name: each for each in file.scene(option).figures}
    if not figures:
        raise click.UsageError("The scene has no figure; add one under 'figures:', or leave SCENE "
                               "out for a built-in person.")
    if name is not None:
        select((name,), list(figures), "figure")
    elif len(figures) > 1:
        raise click.UsageError(f"The scene has {len(figures)} figures; name one with --figure: "
                               f"{', '.join(figures)}.")
    return dataclasses.replace(figures[name or next(iter(figures))], **changes)


def _own_hair(person: str) -> str:
    from previz.stage.figures.people import PEOPLE

    return PEOPLE[person].hair


def _described(figure) -> str:
    from previz.stage.figures.people import PEOPLE

    hair = "no hair" if figure.hair == "none" else f"{figure.hair} {figure.hair_colour} hair"
    who = "" if figure.name == "subject" else f"{figure.name}, "
    sheen = "" if figure.sheen == "natural" else f"{figure.sheen}, "
    return (f"{who}{figure.person} ({PEOPLE[figure.person].words}), {figure.skin} skin, {sheen}"
            f"{hair}")


def _note(fill, rows) -> str:
    filled = ("There is no fill. " if fill is None else
              f"A broad lamp over the lens fills, {abs(fill):g} stops under the key. ")
    denoised = next((cell.note for row in rows for cell in row.cells if cell.note), "")
    return (
        "Every lamp gives the same light at the face, held towards the lamp; that light is the "
        f"working stop. {filled}Lit and shadow side are the brighter and the darker cheek, "
        "metered as planes turned 45° out of the face, in stops over or under the working stop; key "
        "alone is what the lit side has over the shadow side. Across is from the "
        f"lens towards camera left, up from the face. {denoised}").strip()
