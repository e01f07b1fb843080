"""What several commands ask for and say in the same words, and how a scene is opened."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from previz.studies.result import Result

SCENE = click.argument("scene", type=click.Path(path_type=Path))
OPTION = click.option("--option", "options", multiple=True, metavar="NAME",
                      help="Only this option of the scene; may be given again.")
CAMERA = click.option("--camera", "cameras", multiple=True, metavar="NAME",
                      help="Only this camera; may be given again.")
OUT = click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER",
                   help="Where the files go; renders/<scene> by default.")
QUALITY = click.option("--quality", type=click.Choice(["draft", "working", "fine"]),
                       default="working", show_default=True,
                       help="Draft is a quick look at half the size.")
SAMPLES = click.option("--samples", type=click.IntRange(1, 1 << 20), metavar="N",
                       help="Paths a pixel, instead of the quality's own.")
SEED = click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True, metavar="N",
                    help="The same seed gives the same picture.")
BANDS = click.option("--bands", type=click.IntRange(8, 16), default=12, show_default=True, metavar="N",
                     help="Wavelength bands that light is kept apart in.")


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


BACKEND = click.option("--backend", type=BackendType(), default="auto", show_default=True,
                       help="What the engine runs on: the processor or the GPU; auto takes the GPU where "
                       "it can.")


def quantity(kind: click.ParamType, text: str, dimension: str, param: click.Parameter | None,
             ctx: click.Context | None) -> float:
    """Return a quantity that a person wrote, in the unit used inside; see `units.parse`.

    Raises
    ------
    click.UsageError
        It is none; the message says what to write.
    """
    from previz.units import UnitError, parse

    try:
        return parse(text, dimension)
    except UnitError as error:
        kind.fail(str(error), param, ctx)


class SizeType(click.ParamType):
    """A picture size: '960x540', or '960' for the width alone."""

    name = "WxH"

    def convert(self, value, param, ctx):
        """Return (width, height or None)."""
        if isinstance(value, tuple):
            return value
        parts = value.lower().replace("×", "x").split("x")
        try:
            numbers = [int(part) for part in parts]
        except ValueError:
            numbers = []
        if not 1 <= len(numbers) <= 2 or any(not 16 <= n <= 16384 for n in numbers):
            self.fail(f"'{value}' is no picture size; write '960x540', or '960' for the width.",
                      param, ctx)
        return (numbers[0], numbers[1] if len(numbers) == 2 else None)


class PercentType(click.ParamType):
    """A share: '2%' or '2'."""

    name = "PERCENT"

    def convert(self, value, param, ctx):
        """Return the share, 0.02 for '2%'."""
        if isinstance(value, float):
            return value
        try:
            share = float(value.strip().removesuffix("%")) / 100
        except ValueError:
            share = 0.0
        if not 1e-4 <= share <= 1:
            self.fail(f"'{value}' is no share; write '2%', from 0.01% to 100%.", param, ctx)
        return share


class TimeType(click.ParamType):
    """A span of time: '90 s', '10 min', '2 h'; seconds without a unit."""

    name = "TIME"

    def convert(self, value, param, ctx):
        """Return the span in seconds."""
        if isinstance(value, float):
            return value
        text = value.strip()
        for unit, seconds in (("min", 60.0), ("h", 3600.0), ("s", 1.0), ("", 1.0)):
            if text.endswith(unit):
                try:
                    span = float(text.removesuffix(unit)) * seconds
                except ValueError:
                    continue
                if 0 < span <= 1e6:
                    return span
        return self.fail(f"'{value}' is no span of time; write '90 s' or '10 min'.", param, ctx)


SIZE = click.option("--size", type=SizeType(), default="960", show_default=True,
                    help="Width and height in pixels; a width alone follows the camera's aspect.")


def _one_form(ctx: click.Context, parameter: click.Parameter, value: bool) -> bool:
    """Refuse both forms at once, before any work."""
    if value and any(ctx.params.get(name) for name in ("as_json", "as_csv")):
        raise click.UsageError("Give --json or --csv, not both.")
    return value


def _rows(command: Callable) -> Callable:
    """Add --json and --csv to a command; it takes `as_json` and `as_csv`, see `print_rows`."""
    command = click.option("--csv", "as_csv", is_flag=True, callback=_one_form,
                           help="Print every number of the sheet as CSV, a number a row.")(command)
    return click.option("--json", "as_json", is_flag=True, callback=_one_form,
                        help="Print every number of the sheet as JSON.")(command)


ROWS = _rows


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
