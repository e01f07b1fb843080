"""`previz compare`: options side by side, by one camera or several, in pictures and numbers."""

from __future__ import annotations

import click

from previz.cli.map_options import MAP, mapped
from previz.cli.options import CHOSEN, PATHS, QUALITY, SHEET, Timed, out_folder, print_doubts, print_rows
from previz.cli.progress import TerminalProgress, drawn


def pairing(text: str) -> tuple[str, str]:
    """Return a camera and the figure it is on, of 'A=clerk'."""
    camera, sign, figure = text.partition("=")
    if not (sign and camera.strip() and figure.strip()):
        raise click.BadParameter(f"'{text}' does not say who is whose; write for example 'A=clerk'.")
    return camera.strip(), figure.strip()


@click.command(cls=Timed)
@CHOSEN
@QUALITY
@click.option("--base", metavar="OPTION",
              help="The option that the others are held against; the first one by default.")
@click.option("--spill", default="", metavar="THING",
              help="The surface that spill is told of; what lies behind the face by default.")
@click.option("--on", "subjects", multiple=True, type=pairing, metavar="CAMERA=FIGURE",
              help="Whose face a camera is on, as 'A=clerk'; may be given again. "
                   "Without it, the largest face turned to the camera.")
@click.option("--key", "key_lamps", multiple=True, metavar="LAMP",
              help="The lamp that makes the key; may be given again. Without it, the "
                   "strongest at the lit side.")
@click.option("--volts", type=click.FloatRange(12, 1000), metavar="VOLTS",
              help="Mains voltage that currents are told for, instead of the scene's own.")
@click.option("--scopes", is_flag=True,
              help="Also write each still with its waveforms, chromaticities and histograms.")
@PATHS
@MAP
@SHEET
def command(scene, out, size, quality, samples, seed, bands, backend, subjects, scopes, as_json, as_csv,
            **study):
    """Compare the options of SCENE: rows of options, columns of cameras; still, exposure map and
    difference in stops from a base, and a table of key, ratio, softness, background, spill,
    eye-light, colour and load. With several cameras also what stands in whose frame, and lamps
    that flatter one face and flatten another. Written as PNG and PDF.

    Only what an option changes is rendered again: levels, gels, stop and balance cost nothing.
    """
    from previz.deliver.stems import sheet_stem
    from previz.rendering.request import Request
    from previz.scene.read import load
    from previz.studies.compare import compare

    stem = sheet_stem("compare", (*study["options"], *study["cameras"]), quality)
    file, folder = mapped(load(scene)), out_folder(out, scene, files=(f"{stem}.png", f"{stem}.pdf"))
    request = Request(folder / "frames", size, quality, samples, seed, bands, backend)
    compared = compare(file, request, subjects=dict(subjects), progress=TerminalProgress(), **study)
    written = drawn(lambda: compared.sheet(folder / stem))
    if scopes:
        written += compared.scopes(folder)
    print_rows(compared, as_json, as_csv, written)
    print_doubts([(option or "as written", cell.measures.short)
                  for (option, _), cell in compared.cells.items()])
    click.echo(f"{compared.rendered} pictures rendered, {compared.reused} taken over. ", nl=False, err=True)
