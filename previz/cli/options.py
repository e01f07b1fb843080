"""What several commands ask for and say in the same words, and how a scene is opened."""

from __future__ import annotations

import functools
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from previz.scene.read import SceneFile
    from previz.scene.scene import Scene
    from previz.studies.result import Result

Decorator = Callable[[Callable], Callable]

# What a person writes, read by functions; what is wrong with it is a `click.BadParameter`.


def quantity(text: str, dimension: str) -> float:
    """Return a quantity in the unit used inside; see `units.parse`."""
    from previz.units import UnitError, parse

    try:
        return parse(text, dimension)
    except UnitError as error:
        raise click.BadParameter(str(error)) from None


def picture_size(text: str) -> tuple[int, int | None]:
    """Return (width, height or None) of '960x540', or of '960' for the width alone. [px]"""
    try:
        numbers = [int(part) for part in text.lower().replace("×", "x").split("x")]
    except ValueError:
        numbers = []
    if not 1 <= len(numbers) <= 2 or any(not 16 <= n <= 16384 for n in numbers):
        raise click.BadParameter(f"'{text}' is no picture size; write '960x540', or '960' for the width.")
    return (numbers[0], numbers[1] if len(numbers) == 2 else None)


class BackendType(click.Choice):
    """What the engine runs on."""

    def __init__(self):
        super().__init__(["auto", "processor", "gpu"])

    def convert(self, value, param, ctx):
        """Return the word; one of an earlier version is refused with what is written now."""
        if value not in self.choices:
            from previz.engine.backend import FORMER

            if value in FORMER:
                self.fail(f"'{value}' is called '{FORMER[value]}' now; write '{FORMER[value]}'.", param, ctx)
        return super().convert(value, param, ctx)


def stacked(*options: Decorator) -> Decorator:
    """Return options as one; a command has them, and its help shows them, in this order."""
    def add(command: Callable) -> Callable:
        for option in reversed(options):
            command = option(command)
        return command

    return add


def size_option(default: str) -> Decorator:
    """Return --size."""
    return click.option("--size", type=picture_size, default=default, show_default=True, metavar="WXH",
                        help="Width and height in pixels; a width alone follows the camera's aspect.")


def quality_option(words: str) -> Decorator:
    """Return --quality, with its help."""
    return click.option("--quality", type=click.Choice(["draft", "working", "fine"]), default="working",
                        show_default=True, help=words)


def seed_option(words: str) -> Decorator:
    """Return --seed, with its help."""
    return click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True,
                        metavar="N", help=words)


def out_option(words: str) -> Decorator:
    """Return --out for a folder, with its help."""
    return click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help=words)


def out_folder(out: Path | None, scene: Path, **more: Any) -> Path:
    """Return the folder that a scene's files go to, and say what is to be known of it.

    One that was taken for them is let go at the command's end if nothing was written to it; see
    `scene_folder.scene_folder`.
    """
    from previz.studies.scene_folder import release, scene_folder

    context = click.get_current_context(silent=True)
    said: set[str] = set() if context is None else context.meta.setdefault("previz.said", set())

    def say(line: str) -> None:
        if line not in said:
            said.add(line)
            click.echo(line, err=True)

    def taken(folder: Path) -> None:
        if context is not None:
            context.call_on_close(functools.partial(release, folder))

    return scene_folder(out, scene, say=say, taken=taken, **more)


def _one_form(ctx: click.Context, parameter: click.Parameter, value: bool) -> bool:
    """Refuse both forms at once, before any work."""
    if value and any(ctx.params.get(name) for name in ("as_json", "as_csv")):
        raise click.UsageError("Give --json or --csv, not both.")
    return value


SCENE = click.argument("scene", type=click.Path(path_type=Path))
OPTION = click.option("--option", "options", multiple=True, metavar="NAME",
                      help="Only this option of the scene; may be given again.")
ONE_OPTION = click.option("--option", metavar="NAME",
                          help="The option of the scene; as written without it.")
CAMERA = click.option("--camera", "cameras", multiple=True, metavar="NAME",
                      help="Only this camera; may be given again.")
OUT = out_option("Where the files go; renders/<scene> by default.")
SIZE = size_option("960")
QUALITY = quality_option("Draft is a quick look at half the size.")
SAMPLES = click.option("--samples", type=click.IntRange(1, 1 << 20), metavar="N",
                       help="Paths a pixel, instead of the quality's own.")
SEED = seed_option("The same seed gives the same picture.")
BANDS = click.option("--bands", type=click.IntRange(8, 16), default=12, show_default=True, metavar="N",
                     help="Wavelength bands that light is kept apart in.")
BACKEND = click.option("--backend", type=BackendType(), default="auto", show_default=True,
                       help="What the engine runs on: the processor or the GPU; auto takes the GPU where "
                       "it can.")

ROWS = stacked(
    click.option("--json", "as_json", is_flag=True, callback=_one_form,
                 help="Print every number of the sheet as JSON."),
    click.option("--csv", "as_csv", is_flag=True, callback=_one_form,
                 help="Print every number of the sheet as CSV, a number a row."))
"""A command takes `as_json` and `as_csv`; see `print_rows`."""

CHOSEN = stacked(SCENE, OPTION, CAMERA, SIZE)
"""A scene, and what pictures of it there are to be."""

PATHS = stacked(SAMPLES, SEED, BANDS)
"""How pictures are rendered, after their quality."""

SHEET = stacked(OUT, BACKEND, ROWS)
"""Where a sheet goes, and in what form its numbers."""


def kept_up(last: str, same: str) -> Decorator:
    """Return the options of a command that follows a scene, drafts first.

    `last` is the help of --quality; the same seed gives the `same` again.
    """
    return stacked(CHOSEN, quality_option(last), SAMPLES,
                   seed_option(f"As in render: the same seed gives the same {same}."), BANDS, OUT, BACKEND)


class Timed(click.Command):
    """A command that says at its end how long it took."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run it."""
        began = time.monotonic()
        status = super().invoke(ctx)
        click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)
        return status


def scene_of(path: Path, option: str | None) -> tuple[SceneFile, Scene]:
    """Return a scene file, and the scene with one of its options; as written without one."""
    from previz.scene.read import load
    from previz.studies.selection import select

    file = load(path)
    if option is not None:
        select((option,), file.option_names, "option")
    return file, file.scene(option)


def print_rows(result: Result, as_json: bool, as_csv: bool, files: Iterable[Path] = ()) -> None:
    """Print a study's numbers, if that is requested, and the names of the files that it wrote.

    Numbers have standard output to themselves: the files are then named on standard error.
    """
    for path in files:
        click.echo(str(path), err=as_json or as_csv)
    if as_json:
        click.echo(result.to_json())
    elif as_csv:
        click.echo(result.to_csv(), nl=False)


def print_doubts(shorts: Iterable[tuple[str, tuple]]) -> None:
    """Say which readings are not as good as requested, as the sheet does; see `trust.doubts`."""
    from previz.exposure.trust import doubts

    words = doubts(shorts)
    if words:
        click.echo(words, err=True)
