"""`previz render`: light a scene and deliver what it looks like and what it measures."""

from __future__ import annotations

import time

import click

from previz.app.options import (
    BACKEND,
    CAMERA,
    OPTION,
    OUT,
    SCENE,
    SIZE,
    option_names,
    out_folder,
)


@click.command()
@SCENE
@OPTION
@CAMERA
@SIZE
@click.option("--quality", type=click.Choice(["draft", "working", "fine"]), default="working",
              show_default=True, help="Draft is a quick look at half the size.")
@click.option("--samples", type=click.IntRange(1, 1 << 20), metavar="N",
              help="Paths a pixel, instead of the quality's own.")
@click.option("--seed", type=click.IntRange(0, 2**31 - 1), default=1, show_default=True,
              help="The same seed gives the same picture.")
@click.option("--bands", type=click.IntRange(8, 16), default=12, show_default=True,
              help="Wavelength bands that light is kept apart in.")
@click.option("--no-exr", is_flag=True, help="Leave the linear OpenEXR files out.")
@OUT
@BACKEND
def command(scene, options, cameras, size, quality, samples, seed, bands, no_exr, out, backend):
    """Render SCENE: for every option and camera a still, an exposure map with its legend and a
    linear OpenEXR with each lamp apart; one sheet that compares the options; and an index.

    What was rendered before is kept and used again: changed levels, gels, stop or balance cost no
    rendering. An interrupted render goes on where it stopped.
    """
    from previz.app.session import Asked, run
    from previz.scene.read import load

    began = time.monotonic()
    file = load(scene)
    folder = out_folder(out, scene)
    asked = Asked(scene=scene, options=option_names(file, options), cameras=cameras, size=size,
                  quality=quality, samples=samples, seed=seed, bands=bands, exr=not no_exr,
                  out=folder, backend=backend)
    written = run(file, asked)
    for path in written:
        click.echo(str(path))
    click.echo(f"Done in {time.monotonic() - began:.1f} s.", err=True)
