"""PDF: the same blocks on pages, with type that stays type and can be searched and copied.

Source: ISO 32000-1 (PDF 1.7), as the library writes it.
"""

from __future__ import annotations

import io
from importlib.resources import as_file, files

import numpy as np
from PIL import Image
from reportlab import rl_config
from reportlab.lib.utils import ImageReader
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas as PdfWriter

from previz.deliver.atomic import write_bytes
from previz.deliver.canvas import INK, PAPER, QUIET, RULE, Box, shortened, width_of, wrapped
from previz.deliver.pages import Block, Setting, dashes, paged

A3 = (1190.55, 841.89)
A4 = (841.89, 595.28)
"""Pages, lying. [pt]  Source: ISO 216."""

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


def _colour(code):
    return tuple(part / 255 for part in code)


class PdfPaper:
    """A page that takes what `pages.Paper` takes, in the same pixels.

    Parameters
    ----------
    writer : reportlab canvas
        Takes the drawing.
    width, height : float
        Of the page, in the layout's pixels. [px]
    scale : float
        Points in a pixel. [pt/px]
    """

    def __init__(self, writer, width, height, scale):
        self.writer, self.size, self.scale = writer, (width, height), scale
        self.boxes = []
        self.fill(0, 0, width, height, PAPER)

    def _place(self, x, y):
        return x * self.scale, (self.size[1] - y) * self.scale

    def text(self, at, text, size, *, weight="regular", colour=INK, align="left", room=None):
        """Set one line of text; see `Canvas.text`."""
        shown = text if room is None else shortened(text, size, room, weight)
        width = width_of(shown, size, weight)
        left = at[0] - {"left": 0, "centre": width / 2, "right": width}[align]
        if shown:
            self.writer.setFillColorRGB(*_colour(colour))
            self.writer.setFont(FACES[weight], int(size) * self.scale)
            self.writer.drawString(*self._place(left, at[1]), shown)
            self.boxes.append(Box(shown, left, at[1] - 0.72 * size, left + width, at[1]))
        return width

    def paragraph(self, at, text, size, room, *, colour=QUIET, leading=1.45):
        """Set text in lines; see `Canvas.paragraph`."""
        left, base = at
        lines = wrapped(text, size, room)
        for number, line in enumerate(lines):
            self.text((left, base + number * leading * size), line, size, colour=colour, room=room)
        return base + (len(lines) - 1) * leading * size

    def rule(self, left, right, y, colour=RULE, thickness=1):
        """Draw a thin horizontal line."""
        self.fill(left, y, right, y + thickness, colour)

    def fill(self, left, top, right, bottom, colour):
        """Fill a rectangle."""
        if right > left and bottom > top:
            self.writer.setFillColorRGB(*_colour(colour))
            x, y = self._place(left, bottom)
            self.writer.rect(x, y, (right - left) * self.scale, (bottom - top) * self.scale,
                             stroke=0, fill=1)

    def stroke(self, points, colour=INK, thickness=1.0, dash=None):
        """Draw a line through points; see `Paper.stroke`."""
        self.writer.setStrokeColorRGB(*_colour(colour))
        self.writer.setLineWidth(thickness * self.scale)
        self.writer.setLineJoin(1)
        for piece in dashes(np.asarray(points, dtype=float), dash):
            path = self.writer.beginPath()
            path.moveTo(*self._place(*piece[0]))
            for point in piece[1:]:
                path.lineTo(*self._place(*point))
            self.writer.drawPath(path, stroke=1, fill=0)

    def dot(self, at, radius, colour=INK, ring=None):
        """Draw a filled disc; see `Paper.dot`."""
        for each, colour_of in ((radius, ring or colour), (radius * 0.72, colour)):
            self.writer.setFillColorRGB(*_colour(colour_of))
            self.writer.circle(*self._place(*at), each * self.scale, stroke=0, fill=1)

    def picture(self, at, pixels, size=None, *, smooth=True):
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


def pdf_bytes(blocks, setting: Setting, words, page=A3) -> bytes:
    """Return blocks as a PDF.

    Parameters
    ----------
    blocks : sequence of Block
        In order.
    setting : Setting
        Sizes of the sheet.
    words : dict of str to str
        What the file says of itself: 'Title', 'Description', 'Software'.
    page : (float, float)
        Width and height; a page grows where a block needs more height. [pt]

    Returns
    -------
    bytes
        The same for the same blocks.
    """
    _set_up()
    packed = io.BytesIO()
    writer = PdfWriter(packed, pagesize=page, invariant=1, pageCompression=1)
    writer.setTitle(words.get("Title", ""))
    writer.setSubject(words.get("Description", ""))
    writer.setCreator(words.get("Software", ""))
    scale = page[0] / setting.width
    sheets = paged(blocks, setting, page[1] / scale)
    for number, sheet in enumerate(sheets):
        height = max(page[1] / scale, sum(b.height for b in sheet) + 2 * setting.margin)
        writer.setPageSize((page[0], height * scale))
        paper = PdfPaper(writer, setting.width, height, scale)
        top = setting.margin
        for block in sheet:
            block.draw(paper, setting.margin, top, setting.inner)
            top += block.height
        if len(sheets) > 1:
            _folio(paper, setting, words, number + 1, len(sheets))
        writer.showPage()
    writer.save()
    return packed.getvalue()


def _folio(paper, setting, words, number, count):
    base = paper.size[1] - 0.9 * setting.unit
    size = round(0.8 * setting.unit)
    paper.text((setting.margin, base), words.get("Title", ""), size, colour=QUIET,
               room=0.7 * setting.inner)
    paper.text((setting.width - setting.margin, base), f"{number} of {count}", size, colour=QUIET,
               align="right")


def write_pdf(path, blocks: list[Block], setting: Setting, words, page=A3) -> None:
    """Write blocks as a PDF in one step.

    Parameters
    ----------
    path : path-like
        A .pdf; replaced.
    blocks, setting, words, page
        As in `pdf_bytes`.
    """
    write_bytes(path, pdf_bytes(blocks, setting, words, page))
