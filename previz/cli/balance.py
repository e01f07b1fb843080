"""`previz balance`: levels, colours and exposure for what is wanted of the light."""

from __future__ import annotations

import click

from previz.cli.map_options import MAP, mapped
from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    SIZE,
    Timed,
    out_folder,
    print_doubts,
    print_rows,
    quantity,
)
from previz.cli.progress import TerminalProgress, drawn


def box(text: str) -> tuple[tuple[float, float], ...]:
    """Return the ends of x, y and z of '0.5..3, 0.3..2.5, 1.2..2.4'. [m]"""
    parts = [part.partition("..") for part in text.split(",")]
    try:
        ends = tuple((_metres(low), _metres(high)) for low, _, high in parts)
    except ValueError:
        ends = ()
    if len(ends) != 3 or any(high < low for low, high in ends):
        raise click.BadParameter(f"'{text}' is no box; write the least and the most of x, y and z in metres, "
                                 "as '0.5..3, 0.3..2.5, 1.2..2.4'.")
    return ends


def _metres(text: str) -> float:
    found = float(text.strip().removesuffix("m"))
    if not abs(found) <= 1000:
        raise ValueError(text)
    return found


def widths(text: str) -> tuple[float, float]:
    """Return the ends of '0.6 m to 1.5 m'. [m]"""
    low, sign, high = text.partition(" to ")
    found = (quantity(low, "length"), quantity(high if sign else low, "length"))
    if not 0.01 <= found[0] <= found[1] <= 20:
        raise click.BadParameter(f"'{text}' is no range of widths; write '0.6 m to 1.5 m'.")
    return found


@click.command(cls=Timed)
@SCENE
@ONE_OPTION
@click.option("--want", "wants", multiple=True, metavar="WANT",
              help="What is wanted, in place of the scene's own wants: 'lit side clerk 0', 'shadow side "
                   "clerk -2', 'ratio clerk 4:1', 'colour clerk 3600 K', 'thing north wall -3', 'thing "
                   "window holds', 'background A at most -2'. After commas 'camera B', 'at window', 'at "
                   "every mark', 'within 0.2', 'weight 2'. May be given again.")
@click.option("--may", multiple=True, metavar="LAMP RANGE",
              help="What a lamp may do: 'key 20 % to 100 %', 'key 3200 K to 5600 K', or both after a comma. "
                   "May be given again.")
@click.option("--lock", multiple=True, metavar="LAMP", help="A lamp that stays as it is; may be given again.")
@click.option("--gels", multiple=True, metavar="LAMP=GELS",
              help="Gels to choose from for a lamp: 'key=quarter cto, half cto'. May be given again.")
@click.option("--stop", multiple=True, metavar="RANGE",
              help="T-stops that the cameras may have, 'T2 to T5.6', or one of them, 'A=T2 to T5.6'.")
@click.option("--nd", multiple=True, metavar="DENSITIES",
              help="Neutral filters that there are, '0, 0.3, 0.6', or for one camera, 'A=0, 0.3'.")
@click.option("--rule", type=click.Choice(["least squares", "least worst"]), default="least squares",
              show_default=True, help="What is made small: all misses together, or the greatest of them.")
@click.option("--fewest", "few", is_flag=True,
              help="Of answers that are as good, the one with the fewest lamps and watts, instead of the one "
                   "nearest to what is set.")
@click.option("--camera", "cameras", multiple=True, metavar="NAME",
              help="Show this camera's picture; those of the wants without it. May be given again.")
@click.option("--no-pictures", is_flag=True, help="Numbers alone, from the meters.")
@click.option("--move", "lamp", metavar="LAMP",
              help="A lamp, board, frame or flag whose place may change too: places are tried, and the best "
                   "is named by coordinates.")
@click.option("--within", type=box, metavar="BOX",
              help="Where it may stand, in metres: '0.5..3, 0.3..2.5, 1.2..2.4' for x, y and z; anywhere in "
                   "the room by default, off walls, faces and out of frame.")
@click.option("--keep-side", is_flag=True,
              help="It stays on its side of the line from the face to the first camera.")
@click.option("--sizes", type=widths, metavar="RANGE",
              help="Width of a soft lamp's front that it may have, its shape kept: '0.6 m to 1.5 m'.")
@click.option("--aim-at", "aims", multiple=True, metavar="THING",
              help="What it may be aimed at, 'clerk.chest'; what it is aimed at without it. "
                   "May be given again.")
@click.option("--save", metavar="NAME",
              help="Write the answer as an option of that name into the scene file.")
@click.option("--save-own", metavar="NAME",
              help="Write it as an option into a file of its own beside the scene.")
@SIZE
@QUALITY
@PATHS
@MAP
@SHEET
def command(scene, option, lamp, within, keep_side, sizes, aims, out, size, quality, samples, seed, bands,
            backend, as_json, as_csv, no_pictures, save, save_own, **study):
    """Find the levels of SCENE's lamps (and colours, gels, stop and ND, where these may move) that come
    nearest to what is wanted: lit and shadow side, ratio, things, patches and background in stops,
    colour at a face, a highlight that holds, a black that stays. Says which wants are met, by how much
    the others miss, and what would have to change; shows still and map of the answer from what is
    cached.

    Wants stand under 'wants:' in the scene file, what may move under 'may_move:' of lamps and cameras.
    """
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.scene.records import Target
    from previz.studies.balance import balance
    from previz.studies.balance.placed import Move
    from previz.studies.saving import check_name

    if save and save_own:
        raise click.UsageError("Give --save or --save-own, not both.")
    if save or save_own:
        check_name(save or save_own)
    if lamp is None and (within or keep_side or sizes or aims):
        raise click.UsageError("--within, --keep-side, --sizes and --aim-at say how a lamp may be moved: "
                               "name it with --move.")
    aimed = tuple(Target(each) for each in aims)
    move = None if lamp is None else Move(lamp, within, keep_side, sizes, aimed)
    file = mapped(load(scene))
    if save in file.option_names:
        raise click.UsageError(f"There is already an option '{save}': give --save another name.")
    stem = sheet_stem("balance", (option or "",), quality)
    folder = out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf"))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    found = balance(file, option or "", request, pictures=not no_pictures, move=move,
                    progress=TerminalProgress(), **study)
    files = drawn(lambda: found.sheet(folder / stem))
    # Kept before anything is printed, as whoever reads it may stop to.
    path = found.save(save or save_own, own=bool(save_own)) if save or save_own else None
    if not (as_json or as_csv):
        click.echo(found.table())
    print_rows(found, as_json, as_csv, files)
    print_doubts([("", found.short)])
    if path is not None:
        click.echo(f"'{save or save_own}' is an option of {path} now.", err=as_json or as_csv)
