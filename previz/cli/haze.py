"""`previz haze`: one scene at several densities of its haze, on one sheet."""

from __future__ import annotations

import click

from previz.cli.options import (
    ONE_OPTION,
    PATHS,
    QUALITY,
    SCENE,
    SHEET,
    Timed,
    out_folder,
    print_rows,
    scene_of,
    size_option,
)

MOST = 8
"""Most densities of one sheet."""


def ladder(text: str) -> tuple[float, ...]:
    """Return factors on a density, smallest first, of '0, 1/2, 1, 2'. [1]"""
    try:
        found = tuple(sorted({_number(part) for part in text.split(",")}))
    except (ValueError, ZeroDivisionError):
        found = ()
    if not 1 <= len(found) <= MOST or found[0] < 0 or found[-1] > 100:
        raise click.BadParameter(f"'{text}' is no ladder of densities; write one to {MOST} factors on the "
                                 "scene's own from 0 to 100, as '0, 1/2, 1, 2'.")
    return found


def _number(text: str) -> float:
    over, _, under = text.strip().partition("/")
    return float(over) / (float(under) if under else 1.0)


@click.command(cls=Timed)
@SCENE
@click.option("--densities", "factors", type=ladder, default="0, 1/2, 1, 2", show_default=True,
              metavar="FACTORS", help="Times the density that the scene has.")
@ONE_OPTION
@click.option("--camera", default="", metavar="NAME", help="The camera; the first by default.")
@click.option("--face", default="", metavar="FIGURE",
              help="The face that contrast is read on; whose the camera is on by default.")
@size_option("640")
@QUALITY
@PATHS
@SHEET
def command(scene, option, out, factors, camera, face, as_json, as_csv, **request):
    """Show SCENE at several densities of its haze: the picture, the haze alone, the contrast
    between a face and what is behind it, and the veil over the blacks. Densities from none to
    twice the scene's own come from one render; others are rendered anew, and it is said which.
    """
    from previz.cli.progress import TerminalProgress, drawn
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.studies.haze import haze

    _, lit = scene_of(scene, option)
    folder = out_folder(out, scene)
    found = haze(lit, Request(folder / "frames", **request), factors=factors,
                 camera=camera, figure=face, progress=TerminalProgress())
    stem = sheet_stem("haze", (option or "", found.ladder.camera), request["quality"])
    print_rows(found, as_json, as_csv, drawn(lambda: found.sheet(folder / stem)))
