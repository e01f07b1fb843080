"""`previz meter`: what the meters of a scene read, lamp by lamp."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import click

from previz.cli.options import BACKEND, BANDS, CAMERA, OPTION, SCENE, out_folder, quantity, seed_option

TABLE, JSON, CSV = "table", "json", "csv"


def share(text: str) -> float:
    """Return a precision as a number, of '1 %' or '0.01'. [1]"""
    number = quantity(text, "fraction")
    if not 1e-4 <= number <= 0.5:
        raise click.BadParameter(f"'{text}' is no precision; write one from 0.01 % to 50 %, as '1 %'.")
    return number


def numbers(dimension: str, counts: tuple[int, ...]) -> Callable[[str], tuple[float, ...]]:
    """Return what reads so many quantities of a dimension of `units.DIMENSIONS`, with commas between them."""
    def few(text: str) -> tuple[float, ...]:
        found = tuple(quantity(each.strip(), dimension) for each in text.split(","))
        if len(found) not in counts:
            raise click.BadParameter(
                f"'{text}' is {len(found)} numbers; write {' or '.join(map(str, counts))}.")
        if dimension == "fraction" and not all(0 <= each <= 1 for each in found):
            raise click.BadParameter(f"'{text}' is not within the picture; write 0 % to 100 %.")
        return found

    return few


def reference(text: str) -> float | None:
    """Return a colour temperature, of '3200 K'; None for 'own', each light's own. [K]"""
    if text == "own":
        return None
    number = quantity(text, "temperature")
    if not 1600 <= number <= 25000:
        raise click.BadParameter(f"'{text}' is out of range; write 1600 K to 25000 K, or 'own'.")
    return number


@click.command()
@SCENE
@OPTION
@CAMERA
@click.option("--precision", type=share, default="1 %", show_default=True, metavar="SHARE",
              help="Standard error of every reading, as a share of it.")
@click.option("--minutes", type=click.FloatRange(0.05, 600), default=2.0, show_default=True,
              metavar="MINUTES",
              help="Go on with an option for so long at most; what is not as precise by then is "
                   "named.")
@click.option("--spot", "spots", multiple=True, metavar="THING",
              help="Point the spot meters at this; may be given again. Without it: at every face "
                   "and at all that takes 2 % of the frame.")
@click.option("--patch", "patches", type=numbers("fraction", (2, 4)), multiple=True,
              metavar="ACROSS,DOWN[,WIDTH,HEIGHT]",
              help="Point the spot meters at a patch of the picture too, in shares from its left and its "
                   "top, as '40 %,30 %'; may be given again. Without a size it is one degree wide.")
@click.option("--sky", "skies", type=numbers("angle", (2,)), multiple=True, metavar="AZIMUTH,ALTITUDE",
              help="Point them at one degree of the sky too, as '240 deg,30 deg' from true north and the "
                   "horizon; may be given again.")
@click.option("--no-spots", is_flag=True, help="Leave the spot meters out.")
@click.option("--key", "key_lamps", multiple=True, metavar="LAMP",
              help="The lamp that makes the key; may be given again. Without it, the strongest at "
                   "the face.")
@click.option("--reference", type=reference, default="own", show_default=True, metavar="KELVIN",
              help="What SSI compares with: black body below 4000 K, CIE daylight from there; "
                   "'own' takes the colour temperature of the light itself.")
@click.option("--json", "as_json", is_flag=True, help="Give the readings as JSON.")
@click.option("--csv", "as_csv", is_flag=True, help="Give the readings as CSV, a number a row.")
@click.option("--explain", is_flag=True,
              help="Say which lamps' light is used again, and which are run.")
@click.option("--out", type=click.Path(path_type=Path), metavar="FILE",
              help="Write to a file; its ending, .json or .csv, picks the form.")
@seed_option("The same seed gives the same readings.")
@BANDS
@BACKEND
def command(scene, options, out, as_json, as_csv, precision, minutes, seed, bands, backend, **words):
    """Meter SCENE: at each figure's face and each meter of the scene the light, flat and domed,
    lamp by lamp, its colour, lit side, shadow side and their ratio; and what spot meters read at
    each camera.

    What was metered before is kept: changed levels, gels or camera settings cost nothing, a moved
    lamp costs that lamp where its body does not count for the others, and an interrupted or finer
    metering goes on from there.
    """
    if as_json and as_csv:
        raise click.UsageError("Give --json or --csv, not both.")
    if out is not None and out.is_dir():
        raise click.UsageError(f"'{out}' is a folder; give --out the name of a file, such as "
                               "readings.csv.")
    suffix = out.suffix.lower() if out is not None else ""
    form = JSON if as_json or suffix == ".json" and not as_csv else TABLE
    form = CSV if as_csv or suffix == ".csv" and not as_json else form
    from previz import __version__
    from previz.cli.progress import TerminalProgress
    from previz.deliver import meter_card, meter_csv
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.studies.meter import Meters, meter

    file = load(scene)
    request = Request(out_folder(None, scene) / "frames", seed=seed, bands=bands, backend=backend,
                      error=precision)
    found = meter(file, request, options=options, meters=Meters(seconds=60 * minutes, **words),
                  progress=TerminalProgress())
    if form == JSON:
        text = meter_card.json_text(found.reports, __version__)
    elif form == CSV:
        text = meter_csv.csv_text(found.reports)
    else:
        text = found.table()
    if out is None:
        sys.stdout.write(text)
        return
    from previz.deliver.atomic import write_text

    write_text(out, text)
    click.echo(f"Wrote {out}.", err=True)
