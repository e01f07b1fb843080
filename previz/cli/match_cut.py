"""`previz match-cut`: do two shots cut together, and what to change where they do not."""

from __future__ import annotations

import click

from previz.cli.map_options import MAP, mapped_scene
from previz.cli.options import (
    BACKEND,
    PATHS,
    QUALITY,
    ROWS,
    SIZE,
    Timed,
    out_folder,
    out_option,
    print_doubts,
    print_rows,
)
from previz.cli.progress import TerminalProgress, drawn
from previz.cli.saved import refuse_name, save_lamp
from previz.cli.times import length


def allowance(text: str) -> tuple[str, float]:
    """Return (name, number) of a limit that is set otherwise, as 'face=0.3' or 'mired=25'."""
    from previz.exposure.comparing.match import LIMITS, UNITS

    name, sign, number = (part.strip() for part in text.partition("="))
    if name not in LIMITS:
        known = ", ".join(f"{key} ({LIMITS[key]:g} {UNITS[key]})" for key in LIMITS)
        raise click.BadParameter(f"there is no limit '{name}'; there are {known}.")
    try:
        limit = float(number.split()[0]) if sign and number else -1.0
    except ValueError:
        limit = -1.0
    if not 0 <= limit < 1e6:
        raise click.BadParameter(f"'{text}' sets no limit; write for example '{name}={LIMITS[name]:g}'.")
    return name, limit


@click.command("match-cut", cls=Timed)
@click.argument("first")
@click.argument("second")
@click.option("--allow", "limits", multiple=True, type=allowance, metavar="WHAT=HOW FAR",
              help="How far apart they may be, as 'face=0.3' (stops); also ratio, direction (deg), "
                   "mired, duv, sky, background, softness, veil. May be given again.")
@click.option("--on", "figure", default="", metavar="FIGURE",
              help="The face in both shots; each camera's own subject by default.")
@click.option("--save", "saved", default=None, metavar="NAME",
              help="Write an option of that name into SECOND's file: with a lamp that gives it FIRST's key, "
                   "from its direction, at its level and colour, in place of its own.")
@click.option("--throw", type=length, metavar="LENGTH",
              help="How far that lamp stands outside the opening that it shines through, or from the face; "
                   "10 m, or as far as FIRST's own lamp, by default.")
@SIZE
@QUALITY
@PATHS
@MAP
@out_option("Where the sheet goes; renders/<first scene> by default.")
@BACKEND
@ROWS
def command(first, second, limits, figure, saved, throw, out, as_json, as_csv, **request):
    """Say whether FIRST and SECOND cut together: lit side, ratio, key direction, colour, sky
    and background level, shadow edge and haze, with the difference of each, a plain verdict, and
    what to change.

    A shot is 'FILE:OPTION:CAMERA'; option and camera may be left out. ':OPTION' means the same
    file, '::CAMERA' the same option too.

    previz match-cut "scenes/engine-shed.yaml:low sun" ":lamp for sun"
    """
    from dataclasses import replace

    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.studies.match import match, name_of, reference, take
    from previz.studies.match_lamp import lamp_to_match

    one = reference(first)
    both = one, reference(second, one)
    # Both are read before anything is rendered, so that a mistake in the second costs no time.
    takes = [take(each, name_of(each, both), out_folder(out, each.path) / "frames") for each in both]
    takes = [replace(each, scene=mapped_scene(each.scene)) for each in takes]
    file = load(both[1].path) if saved is not None else None
    if file is not None:
        refuse_name(file, saved)
    folder = out_folder(out, one.path)
    requested = Request(folder / "frames", **request)
    matched = match(*takes, requested, limits=dict(limits), figure=figure, progress=TerminalProgress())
    if file is not None:
        matched = replace(matched, lamp=lamp_to_match(matched, tuple(takes), requested, throw=throw))
    print_rows(matched, as_json, as_csv, drawn(lambda: matched.sheet(
        folder / sheet_stem(matched.stem, (), request["quality"]))))
    print_doubts([(each.side.name, each.side.measures.short) for each in matched.shots])
    for point in matched.points:
        if point.advice:
            click.echo(f"{point.label}: {point.advice}.", err=True)
    click.echo(matched.verdict, err=as_json or as_csv)
    if file is not None and matched.lamp is not None:
        save_lamp(file, saved, takes[1].scene.option, matched.lamp)
