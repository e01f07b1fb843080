"""The two files of a sheet that is laid out in blocks: one long picture, and pages for print."""

from __future__ import annotations

from pathlib import Path

from previz.deliver.atomic import write_png
from previz.deliver.pages import Setting, stacked
from previz.deliver.pdf import write_pdf
from previz.deliver.still import png_info


def write_sheet_files(stem: Path, blocks, setting: Setting, words) -> list[Path]:
    """Write a sheet as a PNG and a PDF.

    Parameters
    ----------
    stem : Path
        Without the ending; both files are replaced in one step each.
    blocks : sequence of pages.Block
        What stands on it, from the top.
    setting : Setting
        The sheet's width and what follows from it.
    words : dict of str to str
        What the files say of themselves.

    Returns
    -------
    list of Path
    """
    png, pdf = stem.with_suffix(".png"), stem.with_suffix(".pdf")
    write_png(png, stacked(blocks, setting).image, png_info(words))
    write_pdf(pdf, blocks, setting, words)
    return [png, pdf]
