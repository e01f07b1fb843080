"""Sheets of drawings on PDF pages: true to scale on paper, with type that can be searched and copied.

Source: ISO 32000-1 (PDF 1.7), as the library writes it: 72 points to the inch of 25.4 mm.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence

import numpy as np
from reportlab.pdfgen.canvas import FILL_NON_ZERO
from reportlab.pdfgen.canvas import Canvas as PdfWriter

from previz.deliver.pdf_faces import FACES, printable, set_up
from previz.plans.records import FILLS, INK, LAYERS, PENS, QUIET, Disc, Mark, Shape, Sheet, Symbol, Words

MM = 72 / 25.4
"""[pt/mm]"""


def sheet_pages(sheets: Sequence[Sheet], words: dict[str, str] | None = None) -> bytes:
    """Return sheets as a PDF, a page each of its own size; the same for the same sheets.

    Parameters
    ----------
    sheets : sequence of plans.records.Sheet
    words : dict of str to str, optional
        What the file says of itself: 'Title', 'Description', 'Software'; else the first sheet's title.
    """
    set_up()
    packed = io.BytesIO()
    writer = PdfWriter(packed, invariant=1, pageCompression=1)
    told = words or {"Title": sheets[0].head.title if sheets else ""}
    writer.setTitle(told.get("Title", ""))
    writer.setSubject(told.get("Description", ""))
    writer.setCreator(told.get("Software", ""))
    keep_scale(writer)
    for sheet in sheets:
        draw_sheet(writer, sheet)
        writer.showPage()
    writer.save()
    return packed.getvalue()


def keep_scale(writer: PdfWriter) -> None:
    """Have programs print a file as it is unless they are told otherwise (ISO 32000-1, table 150)."""
    writer.setViewerPreference("PrintScaling", "None")


def draw_sheet(writer: PdfWriter, sheet: Sheet) -> None:
    """Draw a sheet on the page that a writer is at, which gets the sheet's size.

    Parameters
    ----------
    writer : reportlab canvas
        Its faces are those of `pdf_faces.set_up`. It is left on the page.
    sheet : plans.records.Sheet
    """
    writer.setPageSize((sheet.page[0] * MM, sheet.page[1] * MM))
    writer.saveState()
    writer.setLineJoin(1)
    on_page = _Pen(writer, sheet.on_paper, 1000 / sheet.drawing.scale)
    for layer in LAYERS:
        for mark in sheet.drawing.marks:
            if mark.layer == layer:
                on_page.draw(mark)
    beside = _Pen(writer, lambda points: np.asarray(points, float), 1.0)
    for mark in sheet.furniture:
        beside.draw(mark)
    writer.restoreState()


class _Pen:
    """Draws marks: `place` gives points on the page [mm], `unit` is what their unit is there. [mm]"""

    def __init__(self, writer: PdfWriter, place: Callable[[np.ndarray], np.ndarray], unit: float) -> None:
        self.writer, self.place, self.unit = writer, place, unit

    def draw(self, mark: Mark) -> None:
        if isinstance(mark, Symbol):
            for part in mark.parts:
                self.draw(part)
        elif isinstance(mark, Words):
            self._words(mark)
        elif isinstance(mark, Disc):
            x, y = self._points(np.array([mark.at]))[0]
            self.writer.circle(x, y, mark.radius * self.unit * MM, **self._look(mark))
        elif len(mark.points) > 1:
            path = self.writer.beginPath()
            first, *rest = self._points(mark.points)
            path.moveTo(*first)
            for point in rest:
                path.lineTo(*point)
            if mark.closed:
                path.close()
            self.writer.drawPath(path, fillMode=FILL_NON_ZERO, **self._look(mark))

    def _points(self, points: np.ndarray) -> list[list[float]]:
        return (self.place(points) * MM).tolist()

    def _look(self, mark: Shape | Disc) -> dict[str, int]:
        if mark.fill:
            self.writer.setFillGray(FILLS[mark.fill])
        if mark.pen:
            pen = PENS[mark.pen]
            self.writer.setStrokeGray(INK)
            self.writer.setLineWidth(pen.thickness * MM)
            self.writer.setDash([length * MM for length in pen.dash], 0)
        return {"stroke": int(bool(mark.pen)), "fill": int(bool(mark.fill))}

    def _words(self, mark: Words) -> None:
        weight = "strong" if mark.strong else "regular"
        text = printable(" ".join(mark.text.split("\n")), weight)
        if not text:
            return
        writer = self.writer
        writer.setFillGray(QUIET if mark.quiet else INK)
        writer.setFont(FACES[weight], mark.size * MM)
        draw = {"left": writer.drawString, "centre": writer.drawCentredString,
                "right": writer.drawRightString}[mark.align]
        x, y = self._points(np.array([mark.at]))[0]
        if mark.turn % 360 == 0:
            draw(x, y, text)
            return
        writer.saveState()
        writer.translate(x, y)
        writer.rotate(mark.turn)
        draw(0, 0, text)
        writer.restoreState()
