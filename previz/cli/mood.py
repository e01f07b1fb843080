"""`previz mood`: graded frames with titles and no numbers, for a director."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.options import BACKEND, PATHS, QUALITY, ROWS, SIZE, Timed, out_folder, out_option, print_rows


def three(text: str) -> tuple[float, ...]:
    """Return three numbers, red, green and blue, of '1.1, 1, 0.9', or of one for all."""
    try:
        numbers = tuple(float(part) for part in text.split(","))
    except ValueError:
        numbers = ()
    if len(numbers) not in (1, 3):
        raise click.BadParameter(f"'{text}' is not three numbers; write '1.1, 1, 0.9', or one for all.")
    return numbers * 3 if len(numbers) == 1 else numbers


def aspect_ratio(text: str) -> float:
    """Return width over height, of '2.39' or '16:9'. [1]"""
    wide, _, high = text.partition(":")
    try:
        ratio = float(wide) / (float(high) if high else 1.0)
    except (ValueError, ZeroDivisionError):
        ratio = 0.0
    if not 0.3 <= ratio <= 5:
        raise click.BadParameter(f"'{text}' is no picture ratio; write '2.39', '1.85' or '16:9'.")
    return ratio


@click.command(cls=Timed)
@click.argument("frames", nargs=-1, required=True)
@click.option("--aspect", type=aspect_ratio, default="2.39", show_default=True, metavar="RATIO",
              help="Of the frames; the middle of each picture is kept.")
@click.option("--title", default=None, help="Over the sheet; the first scene's by default.")
@click.option("--subtitle", default="", help="Under the title.")
@click.option("--across", type=click.IntRange(1, 8), metavar="N", help="Frames side by side.")
@click.option("--slope", type=three, default="1", metavar="R,G,B", help="ASC CDL slope.")
@click.option("--offset", type=three, default="0", metavar="R,G,B", help="ASC CDL offset.")
@click.option("--power", type=three, default="1", metavar="R,G,B", help="ASC CDL power.")
@click.option("--saturation", type=click.FloatRange(0, 4), default=1.0, show_default=True, metavar="FACTOR",
              help="ASC CDL saturation.")
@click.option("--cdl", "cdl_file", type=click.Path(path_type=Path), metavar="FILE",
              help="A decision from a .cdl, .cc or .ccc file.")
@click.option("--cdl-id", default="", metavar="ID", help="Which decision of the file.")
@click.option("--grade-in", "working", type=click.Choice(["acescct", "linear"]),
              default="acescct", show_default=True, help="Where the CDL works.")
@click.option("--lut", "table", type=click.Path(path_type=Path), metavar="FILE",
              help="A look-up table for the picture as shown, such as a .clf or .cube file.")
@SIZE
@QUALITY
@PATHS
@out_option("Where the files go; renders/<first scene> by default.")
@BACKEND
@ROWS
def command(frames, title, subtitle, across, aspect, slope, offset, power, saturation, cdl_file, cdl_id,
            working, table, out, as_json, as_csv, **request):
    """Make mood frames of FRAMES: a contact sheet (PNG and PDF) and one self-contained HTML page
    that opens from a file with no network. Titles, no numbers; graded by ASC CDL or a look-up
    table, which then take the place of what a camera's picture is looked at through (`show:`).

    A frame is 'FILE:OPTION:CAMERA=Title'; what is left out means all options, all cameras, and
    the option's name. ':OPTION' means the same file as the one before, '::CAMERA' its option too.
    """
    from previz.cli.progress import TerminalProgress, drawn
    from previz.deliver.stems import sheet_stem
    from previz.exposure.grading import Cdl, Grade, GradeError, read_cdl
    from previz.rendering.request import Request
    from previz.studies.mood import mood, shots_named

    try:
        cdl = Cdl(slope, offset, power, saturation)
        if cdl_file is not None:
            if not cdl.neutral:
                raise click.UsageError("Give --cdl or the numbers of a CDL, not both.")
            cdl = read_cdl(cdl_file, cdl_id)
        grade = Grade(cdl, working, table)
    except (GradeError, ValueError) as error:
        raise click.UsageError(str(error)) from error
    shots = shots_named(frames)
    picked = [part for shot in shots for part in (
        "" if shot.which.path == shots[0].which.path else shot.which.path.stem, shot.which.option,
        shot.which.camera)]
    stem = sheet_stem("mood", (title,) if title else picked, request["quality"])
    folder = out_folder(out, shots[0].which.path, files=[f"{stem}.{kind}" for kind in ("png", "pdf", "html")])
    found = mood(frames, Request(folder / "frames", **request), aspect=aspect, grade=grade, title=title,
                 subtitle=subtitle, across=across, progress=TerminalProgress(),
                 cache_of=lambda path: out_folder(out, path) / "frames")
    print_rows(found, as_json, as_csv, drawn(lambda: found.sheet(folder / stem)))
