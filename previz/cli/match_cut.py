"""`previz match-cut`: do two shots cut together, and what to change where they do not."""

from __future__ import annotations

import time
from pathlib import Path

import click

from previz.cli.options import BACKEND, BANDS, QUALITY, SAMPLES, SEED, SIZE, print_doubts
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
def command(first, second, limits, figure, out, **asked):
    """Say whether FIRST and SECOND cut together: lit side, ratio, key direction, colour, sky
    and background level, shadow edge and haze, with the difference of each, a plain verdict, and
    what to change.

    A shot is 'FILE:OPTION:CAMERA'; option and camera may be left out. ':OPTION' means the same
    file, '::CAMERA' the same option too.

    previz match-cut "scenes/engine-shed.yaml:low sun" ":lamp for sun"
    """
    from previz import __version__
    from previz.deliver.match_sheet import write_match
    from previz.exposure.comparing.match import limits_with, verdict
    from previz.stage.cautions import together
    from previz.studies.match import Wanted, named, points, reference, shot

    began = time.monotonic()
    one = reference(first)
    other = reference(second, one)
    # Both are read before anything is rendered, so that a mistake in the second costs no time.
    for each in (one, other):
        named(each)
    folder = out_folder(out, one.path)
    wanted = Wanted(out=out, **asked)

    def tell(line):
        click.echo(line, err=True)

    shots = [shot(name_of(each, (one, other)), each, wanted, figure, tell)
             for each in (one, other)]
    told = points(*shots, limits_with(dict(limits)))
    words = verdict(told)
    info = {"Title": f"{shots[0].side.name} to {shots[1].side.name}",
            "Software": f"previz {__version__}", "Description": words}
    cautions = together(line for each in shots for line in each.cautions)
    stem = folder / ("match-" + "-to-".join(
        "".join(c if c.isalnum() else "-" for c in each.side.name) for each in shots))
    for path in write_match(stem, shots, told, words, info, cautions):
        click.echo(str(path))
    print_doubts([(each.side.name, each.side.measures.short) for each in shots])
    for point in told:
        if point.advice:
            click.echo(f"{point.label}: {point.advice}.", err=True)
    click.echo(words)
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)


def name_of(which, both) -> str:
    """Return what a shot is called: as much of its file, option and camera as tells it apart.

    Parameters
    ----------
    which : match_session.Reference
        The shot.
    both : (Reference, Reference)
        It and the one that it must be told from.
    """
    parts = []
    if len({each.path for each in both}) > 1:
        parts.append(which.path.stem)
    if which.option or (len({each.option for each in both}) > 1):
        parts.append(which.option or "first option")
    if which.camera or (len({each.camera for each in both}) > 1):
        parts.append(f"camera {which.camera}" if which.camera else "first camera")
    return ", ".join(parts) or which.path.stem
