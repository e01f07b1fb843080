"""PDF: the same blocks on pages, with type that stays type and can be searched and copied.

Source: ISO 32000-1 (PDF 1.7), as the library writes it.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from importlib.resources import as_file, files
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image
from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas as PdfWriter

from previz.deliver.canvas import INK, PAPER, QUIET, Colour, Line, Paper, dashes, width_of

if TYPE_CHECKING:
    from previz.deliver.layout import Block, Setting

FACES = {"regular": "Lato-Regular", "strong": "Lato-Semibold"}

JPEG_QUALITY = 92
"""Of photographs; maps and plots are kept exact."""


def _set_up() -> None:
    """Make the two faces known to the writer, and have it pack streams as they are."""
    # Streams as letters would be a quarter larger, and are slow to make.
    rl_config.useA85 = 0
    for name in FACES.values():
        if name not in pdfmetrics.getRegisteredFontNames():
            with as_file(files("previz.deliver").joinpath("fonts", f"{name}.ttf")) as path:
                pdfmetrics.registerFont(TTFont(name, str(path)))


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
    """

    def __init__(self, writer: PdfWriter, width: float, height: float, scale: float) -> None:
        super().__init__()
        self.writer, self.size, self.scale = writer, (width, height), scale
        self.fill(0, 0, width, height, PAPER)

    def _place(self, x: float, y: float) -> tuple[float, float]:
        return x * self.scale, (self.size[1] - y) * self.scale

    def _letters(self, line: Line, colour: Colour) -> None:
        left, _, _, base = self._edges(line)
        self.writer.setFillColorRGB(*_colour(colour))
        self.writer.setFont(FACES[line.weight], line.size * self.scale)
        self.writer.drawString(*self._place(left, base), line.text)

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


def pdf_bytes(pages: Sequence[Sequence[Block]], setting: Setting, words: dict[str, str],
              page: tuple[float, float]) -> bytes:
    """Return blocks as a PDF, the same for the same blocks.

    Parameters
    ----------
    pages : sequence of sequence of layout.Block
        What stands on each page, in order.
    setting : layout.Setting
    words : dict of str to str
        What the file says of itself: 'Title', 'Description', 'Software'.
    page : (float, float)
        Width and height; a page grows where its blocks need more height. [pt]
    """
    _set_up()
    packed = io.BytesIO()
    writer = PdfWriter(packed, pagesize=page, invariant=1, pageCompression=1)
    writer.setTitle(words.get("Title", ""))
    writer.setSubject(words.get("Description", ""))
    writer.setCreator(words.get("Software", ""))
    scale = page[0] / setting.width
    for number, blocks in enumerate(pages):
        height = max(page[1] / scale, sum(b.height for b in blocks) + 2 * setting.margin)
        writer.setPageSize((page[0], height * scale))
        paper = PdfPaper(writer, setting.width, height, scale)
        top = setting.margin
        for block in blocks:
            block.draw(paper, setting.margin, top, setting.inner)
            top += block.height
        if len(pages) > 1:
            _folio(paper, setting, words.get("Title", ""), f"{number + 1} of {len(pages)}")
        writer.showPage()
    writer.save()
    return packed.getvalue()


def _folio(paper: PdfPaper, setting: Setting, title: str, number: str) -> None:
    base, size = paper.size[1] - 0.9 * setting.unit, round(0.8 * setting.unit)
    paper.text((setting.margin, base), title, size, colour=QUIET, room=0.7 * setting.inner)
    paper.text((setting.width - setting.margin, base), number, size, colour=QUIET, align="right")
