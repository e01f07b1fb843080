"""`previz block`: the cameras' frames as flat shapes, and the set from above, within seconds."""

from __future__ import annotations

from pathlib import Path

import click

from previz.cli.options import CAMERA, SCENE, SHEET, Timed, picture_size, print_rows


@click.command(cls=Timed)
@SCENE
@click.option("--option", "options", multiple=True, metavar="NAME",
              help="This option instead of the scene as it is written; may be given again.")
@CAMERA
@click.option("--size", type=picture_size, default="960", show_default=True, metavar="WXH",
              help="Width and height of a whole drawing in pixels; 16:9 by a width alone.")
@click.option("--shapes", type=click.Choice(["auto", "gl", "engine"]), default="auto",
              show_default=True, help="What finds the shapes; auto takes GL where there is any.")
@SHEET
def command(scene: Path, out: Path | None, as_json: bool, as_csv: bool, **request) -> None:
    """Draw SCENE without light: what each camera has in frame as flat shapes with names, and the
    whole set from above with the cameras' fields of view and the ways the lamps point.

    Writes block-CAMERA.png for every camera and block-above.png.
    """
    from previz.cli.options import out_folder
    from previz.cli.progress import TerminalProgress, drawn
    from previz.scene.read import load
    from previz.studies.block import block

    file, folder = load(scene), out_folder(out, scene)
    found = block(file, **request, progress=TerminalProgress())
    print_rows(found, as_json, as_csv, drawn(lambda: found.sheet(folder / "block")))
