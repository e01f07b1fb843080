"""`previz match-cut`: do two shots cut together, and what to change where they do not."""

from __future__ import annotations

import time
from pathlib import Path

import click

from previz.cli.options import (
    BACKEND,
    BANDS,
    QUALITY,
    ROWS,
    SAMPLES,
    SEED,
    SIZE,
    print_doubts,
    print_rows,
)
from previz.cli.progress import TerminalProgress
from previz.studies.folders import out_folder


class Allowance(click.ParamType):
    """A limit set otherwise: 'face=0.3', 'mired=25'."""

    name = "WHAT=HOW FAR"

    def convert(self, value, param, ctx):
        """Return (name, number)."""
        if isinstance(value, tuple):
            return value
        from previz.exposure.comparing.match import LIMITS, UNITS

        name, sign, number = value.partition("=")
        if name.strip() not in LIMITS:
            known = ", ".join(f"{key} ({LIMITS[key]:g} {UNITS[key]})" for key in LIMITS)
            self.fail(f"there is no limit '{name.strip()}'; there are {known}.", param, ctx)
        try:
            limit = float(number.split()[0]) if sign and number.strip() else -1.0
        except ValueError:
            limit = -1.0
        if not 0 <= limit < 1e6:
            self.fail(f"'{value}' sets no limit; write for example '{name.strip()}="
                      f"{LIMITS[name.strip()]:g}'.", param, ctx)
        return name.strip(), limit


@click.command("match-cut")
@click.argument("first")
@click.argument("second")
@click.option("--allow", "limits", multiple=True, type=Allowance(),
              help="How far apart they may be, as 'face=0.3' (stops); also ratio, direction (deg), "
                   "mired, duv, sky, background, softness, veil. May be given again.")
@click.option("--on", "figure", default="", metavar="FIGURE",
              help="The face in both shots; each camera's own subject by default.")
@SIZE
@QUALITY
@SAMPLES
@SEED
@BANDS
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER",
              help="Where the sheet goes; renders/<first scene> by default.")
@BACKEND
@ROWS
def command(first, second, limits, figure, out, size, quality, samples, seed, bands, backend, as_json,
            as_csv):
    """Say whether FIRST and SECOND cut together: lit side, ratio, key direction, colour, sky
    and background level, shadow edge and haze, with the difference of each, a plain verdict, and
    what to change.

    A shot is 'FILE:OPTION:CAMERA'; option and camera may be left out. ':OPTION' means the same
    file, '::CAMERA' the same option too.

    previz match-cut "scenes/engine-shed.yaml:low sun" ":lamp for sun"
    """
    from previz.rendering.request import Request
    from previz.studies.match import match, name_of, reference, take

    began = time.monotonic()
    one = reference(first)
    both = one, reference(second, one)
    # Both are read before anything is rendered, so that a mistake in the second costs no time.
    takes = [take(each, name_of(each, both), out_folder(out, each.path) / "frames") for each in both]
    folder = out_folder(out, one.path)
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    matched = match(*takes, request, limits=dict(limits), figure=figure, progress=TerminalProgress())
    print_rows(matched, as_json, as_csv, matched.sheet(folder / matched.stem))
    print_doubts([(each.side.name, each.side.measures.short) for each in matched.shots])
    for point in matched.points:
        if point.advice:
            click.echo(f"{point.label}: {point.advice}.", err=True)
    click.echo(matched.verdict, err=as_json or as_csv)
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)
