"""PDF: the same blocks on pages, and drawings, with type that stays type and can be searched and copied.

Source: ISO 32000-1 (PDF 1.7), as the library writes it.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas as PdfWriter

from previz.deliver.canvas import INK, PAPER, QUIET, Colour, Line, Paper, dashes, width_of
from previz.deliver.pdf_faces import FACES, printable, set_up
from previz.deliver.plan_pdf import MM, draw_sheet, keep_scale
from previz.plans.records import Sheet

if TYPE_CHECKING:
    from previz.deliver.layout import Block, Setting

JPEG_QUALITY = 92
"""Of photographs; maps and plots are kept exact."""


def _colour(code: Colour) -> tuple[float, ...]:
    return tuple(part / 255 for part in code)


class PdfPaper(Paper):
    """A page that takes what a canvas takes, in the same pixels.

    Parameters
    ----------
    writer : reportlab canvas
    width, height : float
        Of the page, in the layout's pixels. [px]
    scale : float
        Points in a pixel. [pt/px]
    ground : tuple of int, optional
        What it is filled with first; None leaves what is there.
    """

    def __init__(self, writer: PdfWriter, width: float, height: float, scale: float,
                 ground: Colour | None = PAPER) -> None:
        super().__init__()
        self.writer, self.size, self.scale = writer, (width, height), scale
        if ground is not None:
            self.fill(0, 0, width, height, ground)

    def _place(self, x: float, y: float) -> tuple[float, float]:
        return x * self.scale, (self.size[1] - y) * self.scale

    def _letters(self, line: Line, colour: Colour) -> None:
        left, _, _, base = self._edges(line)
        self.writer.setFillColorRGB(*_colour(colour))
        self.writer.setFont(FACES[line.weight], line.size * self.scale)
        self.writer.drawString(*self._place(left, base), printable(line.text, line.weight))

    def _edges(self, line: Line) -> tuple[float, float, float, float]:
        width, base = width_of(line.text, line.size, line.weight), line.at[1]
        left = line.at[0] - {"left": 0, "centre": width / 2, "right": width}[line.align]
        return left, base - 0.72 * line.size, left + width, base

    def fill(self, left: float, top: float, right: float, bottom: float, colour: Colour) -> None:
        """Fill a rectangle; see `Canvas.fill`."""
        if right > left and bottom > top:
            self.writer.setFillColorRGB(*_colour(colour))
            x, y = self._place(left, bottom)
            self.writer.rect(x, y, (right - left) * self.scale, (bottom - top) * self.scale,
                             stroke=0, fill=1)

    def stroke(self, points: Sequence, colour: Colour = INK, thickness: float = 1.0,
               dash: tuple[float, float] | None = None) -> None:
        """Draw a line through points; see `Canvas.stroke`."""
        self.writer.setStrokeColorRGB(*_colour(colour))
        self.writer.setLineWidth(thickness * self.scale)
        self.writer.setLineJoin(1)
        for piece in dashes(np.asarray(points, dtype=float), dash):
            path = self.writer.beginPath()
            path.moveTo(*self._place(*piece[0]))
            for point in piece[1:]:
                path.lineTo(*self._place(*point))
            self.writer.drawPath(path, stroke=1, fill=0)

    def dot(self, at: tuple[float, float], radius: float, colour: Colour = INK,
            ring: Colour | None = None) -> None:
        """Draw a filled disc; see `Canvas.dot`."""
        for each, colour_of in ((radius, ring or colour), (radius * 0.72, colour)):
            self.writer.setFillColorRGB(*_colour(colour_of))
            self.writer.circle(*self._place(*at), each * self.scale, stroke=0, fill=1)

    def picture(self, at: tuple[float, float], pixels: np.ndarray, size: tuple[int, int] | None = None, *,
                smooth: bool = True) -> None:
        """Set a picture; photographs as JPEG, what has hard edges without loss."""
        image = Image.fromarray(np.ascontiguousarray(pixels))
        wide, high = size or image.size
        packed = io.BytesIO()
        if smooth:
            image.save(packed, format="JPEG", quality=JPEG_QUALITY, subsampling=0)
        else:
            image.save(packed, format="PNG")
        packed.seek(0)
        x, y = self._place(at[0], at[1] + high)
        self.writer.drawImage(ImageReader(packed), x, y, wide * self.scale, high * self.scale)


def pdf_bytes(pages: Sequence[Sequence[Block] | Sheet], setting: Setting, words: dict[str, str],
              page: tuple[float, float], *, ground: Colour = PAPER, folios: bool = True) -> bytes:
    """Return blocks and drawings as a PDF, the same for the same pages.

    Parameters
    ----------
    pages : sequence of layout.Block sequences and of plans.records.Sheet
        What stands on each page, in order: blocks, or a drawing on a page of its own size.
    setting : layout.Setting
        Of the blocks.
    words : dict of str to str
        What the file says of itself: 'Title', 'Description', 'Software'.
    page : (float, float)
        Width and height of a page of blocks; it grows where they need more height. [pt]
    ground : tuple of int
        What pages of blocks are filled with, sRGB: white where they are to be printed on paper.
    folios : bool
        Whether title and number stand at the foot of each of several pages.
    """
    set_up()
    packed = io.BytesIO()
    writer = PdfWriter(packed, pagesize=page, invariant=1, pageCompression=1)
    writer.setTitle(words.get("Title", ""))
    writer.setSubject(words.get("Description", ""))
    writer.setCreator(words.get("Software", ""))
    if any(isinstance(content, Sheet) for content in pages):
        keep_scale(writer)
    scale = page[0] / setting.width
    for number, content in enumerate(pages):
        if isinstance(content, Sheet):
            draw_sheet(writer, content)
            wide, high = (length * MM / scale for length in content.page)
            paper = PdfPaper(writer, wide, high, scale, ground=None)
        else:
            height = max(page[1] / scale, sum(b.height for b in content) + 2 * setting.margin)
            writer.setPageSize((page[0], height * scale))
            paper = PdfPaper(writer, setting.width, height, scale, ground)
            top = setting.margin
            for block in content:
                block.draw(paper, setting.margin, top, setting.inner)
                top += block.height
        if folios and len(pages) > 1:
            _folio(paper, setting, words.get("Title", ""), f"{number + 1} of {len(pages)}")
        writer.showPage()
    writer.save()
    return packed.getvalue()


def _folio(paper: PdfPaper, setting: Setting, title: str, number: str) -> None:
    base, size = paper.size[1] - 0.9 * setting.unit, round(0.8 * setting.unit)
    inner = paper.size[0] - 2 * setting.margin
    paper.text((setting.margin, base), title, size, colour=QUIET, room=0.7 * inner)
    paper.text((setting.margin + inner, base), number, size, colour=QUIET, align="right")
