"""`previz compare`: options side by side, by one camera or several, in pictures and numbers."""

from __future__ import annotations

import time

import click

from previz.cli.options import (
    BACKEND,
    BANDS,
    CAMERA,
    OPTION,
    OUT,
    QUALITY,
    ROWS,
    SAMPLES,
    SCENE,
    SEED,
    SIZE,
    print_doubts,
    print_rows,
)
from previz.cli.progress import TerminalProgress
from previz.studies.folders import out_folder


class Pairing(click.ParamType):
    """A camera and the figure it is on: 'A=clerk'."""

    name = "CAMERA=FIGURE"

    def convert(self, value, param, ctx):
        """Return (camera, figure)."""
        if isinstance(value, tuple):
            return value
        camera, sign, figure = value.partition("=")
        if not (sign and camera.strip() and figure.strip()):
            self.fail(f"'{value}' does not say who is whose; write for example 'A=clerk'.",
                      param, ctx)
        return camera.strip(), figure.strip()


KEY = click.option("--key", "key_lamps", multiple=True, metavar="LAMP",
                   help="The lamp that makes the key; may be given again. Without it, the "
                        "strongest at the lit side.")
SUBJECTS = click.option("--on", "subjects", multiple=True, type=Pairing(),
                        help="Whose face a camera is on, as 'A=clerk'; may be given again. "
                             "Without it, the largest face turned to the camera.")
VOLTS = click.option("--volts", type=click.FloatRange(12, 1000), default=230.0, metavar="VOLTS",
                     show_default=True, help="Mains voltage that currents are told for.")


@click.command()
@SCENE
@OPTION
@CAMERA
@SIZE
@QUALITY
@click.option("--base", metavar="OPTION",
              help="The option that the others are held against; the first one by default.")
@click.option("--spill", default="", metavar="THING",
              help="The surface that spill is told of; what lies behind the face by default.")
@SUBJECTS
@KEY
@VOLTS
@click.option("--scopes", is_flag=True,
              help="Also write each still with its waveforms, chromaticities and histograms.")
@SAMPLES
@SEED
@BANDS
@OUT
@BACKEND
@ROWS
def command(scene, out, size, quality, samples, seed, bands, backend, subjects, scopes, as_json, as_csv,
            **study):
    """Compare the options of SCENE: rows of options, columns of cameras; still, exposure map and
    difference in stops from a base, and a table of key, ratio, softness, background, spill,
    eye-light, colour and load. With several cameras also what stands in whose frame, and lamps
    that flatter one face and flatten another. Written as PNG and PDF.

    Only what an option changes is rendered again: levels, gels, stop and balance cost nothing.
    """
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.studies.compare import compare

    began = time.monotonic()
    file, folder = load(scene), out_folder(out, scene)
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    compared = compare(file, request, subjects=dict(subjects), progress=TerminalProgress(), **study)
    written = compared.sheet(folder / "compare")
    if scopes:
        written += compared.scopes(folder)
    print_rows(compared, as_json, as_csv, written)
    print_doubts([(option or "as written", cell.measures.short)
                  for (option, _), cell in compared.cells.items()])
    click.echo(f"{compared.rendered} pictures rendered, {compared.reused} taken over. "
               f"Done in {time.monotonic() - began:.1f} s.", err=True)
