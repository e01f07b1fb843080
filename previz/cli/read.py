"""`previz read`: what each lamp of a scene does in a picture that somebody likes."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.options import (
    BACKEND,
    ONE_OPTION,
    PATHS,
    ROWS,
    Timed,
    out_folder,
    out_option,
    print_rows,
    size_option,
)
from previz.cli.progress import TerminalProgress, drawn
from previz.cli.render import span


def share(text: str) -> float:
    """Return a share of a side of the picture, of '42 %' or '42%'."""
    number = text.strip().removesuffix("%").strip()
    try:
        value = float(number) / 100
    except ValueError:
        value = -1.0
    if not text.strip().endswith("%") or not 0 <= value <= 1:
        raise click.BadParameter(f"'{text}' is no share of the picture; write '42%', 0 to 100.")
    return value


def mark(text: str):
    """Return the point of a picture that '42%,31%=clerk.face' marks."""
    from previz.studies.read.run import Mark

    at, sign, place = text.partition("=")
    parts = at.split(",")
    if not sign or not place.strip() or len(parts) != 2:
        raise click.BadParameter(f"'{text}' marks no point; write '42%,31%=clerk.face': how far from the "
                                 "left and from the top, and what is seen there.")
    return Mark((share(parts[0]), share(parts[1])), place.strip())


@click.command(cls=Timed)
@click.argument("picture", type=click.Path(path_type=Path))
@click.argument("scene", type=click.Path(path_type=Path))
@ONE_OPTION
@click.option("--camera", default="", metavar="NAME",
              help="The camera that the picture is lined up with; the first by default.")
@click.option("--at", "marks", multiple=True, type=mark, metavar="X%,Y%=PLACE",
              help="A point of the picture, from its left and its top, and the place of the scene that it "
                   "shows, as '42%,31%=clerk.face'. Two or more line up a picture of another frame.")
@click.option("--look", type=click.Choice(["auto", "previz", "srgb"]), default="auto", show_default=True,
              help="What the picture is: a still of this program, or any other picture; auto takes what "
                   "fits better.")
@click.option("--anchor", default="", metavar="LAMP",
              help="A lamp that is as the scene has it, from which levels count; the mean of all that are "
                   "told by default.")
@click.option("--on", "figure", default="", metavar="FIGURE",
              help="The face that is measured; the camera's own subject by default.")
@click.option("--beside", multiple=True, metavar="OPTION",
              help="Another option to stand beside it; may be given again.")
@click.option("--save", "name", default="", metavar="NAME", help="Write what was read as a new option.")
@size_option("480")
@click.option("--quality", type=click.Choice(["draft", "working", "fine"]), default="fine", show_default=True,
              help="Of the scene's own picture; noise in it makes the answer less sure.")
@click.option("--time-budget", "seconds", type=span, default="10 min", show_default=True, metavar="TIME",
              help="For more paths in 'fine' quality, where noise of the scene's own picture keeps lamps "
                   "from being told to 0.1 stop and 100 K.")
@PATHS
@out_option("Where the sheet goes; renders/<scene> by default.")
@BACKEND
@ROWS
def command(picture, scene, option, camera, marks, look, anchor, figure, beside, name, seconds, out, as_json,
            as_csv, **request):
    """Read PICTURE, a reference still of your own, with the lamps of SCENE: the levels and colours that come
    nearest to it, each with its error; exposure, balance and contrast beside; and what no lamp explains,
    with the side that light is missing from.

    A picture cannot tell a brighter scene from a wider stop, so levels are against each other.

    previz read reference.jpg scenes/signal-cabin.yaml --camera A --save "as the reference"
    """
    from previz.cli.options import scene_of
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.read import read
    from previz.studies.read.keep import save
    from previz.studies.saving import check_name
    from previz.studies.selection import select

    file, chosen = scene_of(scene, option)
    if name:
        check_name(name)
        if name in file.option_names:
            raise click.UsageError(f"There is already an option '{name}'; choose another name.")
    select(beside, file.option_names, "option")
    folder = out_folder(out, scene)
    found = read(picture, chosen, Request(folder / "frames", **request), camera=camera, marks=marks,
                 look=look, anchor=anchor, figure=figure, seconds=seconds,
                 beside=[file.scene(each) for each in dict.fromkeys(beside)], progress=TerminalProgress())
    stem = sheet_stem("read", (found.stem, found.option, found.camera), request["quality"])
    files = drawn(lambda: found.sheet(folder / stem))
    for sentence in found.sentences:
        click.echo(sentence, err=as_json or as_csv)
    if name:
        for line in save(found, file, name)[1]:
            click.echo(line, err=as_json or as_csv)
    print_rows(found, as_json, as_csv, files)
