"""A sheet as a picture: what is drawn lies where the page has it; turned words, dashes of any pattern."""

import numpy as np
from drawings import HEAD, legend, line, room_drawing

from previz.deliver.canvas import Canvas, dashes
from previz.deliver.plan_picture import picture
from previz.plans.lengths import METRIC
from previz.plans.records import PAGES, Drawing
from previz.plans.sheet import compose


def test_lines_lie_where_the_page_has_them():
    drawing = Drawing("plan", 50, (line((0, 0), (4, 0), pen="cut"),), (0, 0), (4, 1))
    sheet = compose(drawing, PAGES["a4"], HEAD, (), system=METRIC)
    canvas = picture(sheet, 4.0)
    assert canvas.size == (1188, 840)
    pixels = np.asarray(canvas.image)[:, :, 0]
    x, y = sheet.origin[0] * 4, 840 - sheet.origin[1] * 4
    dark = np.argwhere(pixels[round(y) - 3:round(y) + 4, round(x) - 40:round(x) + 360] < 128)
    # 4 m at 1:50 are 80 mm, 320 pixels.
    assert abs(np.ptp(dark[:, 1]) - 320) <= 2 and abs(dark[:, 1].min() - 40) <= 1


def test_words_are_on_the_picture():
    canvas = picture(compose(room_drawing(50), PAGES["a4"], HEAD, legend(), system=METRIC), 5.0)
    assert {"Signal cabin", "key", "Scale 1:50"} <= {box.text for box in canvas.boxes}


def test_turned_words_stand_upright_beside_their_place():
    """A quarter turn counter-clockwise: upwards from the place, left of the base line."""
    canvas = Canvas(200, 200)
    canvas.turned((100, 150), "HHHHHH", 20, 90.0)
    dark = np.argwhere(np.asarray(canvas.image)[:, :, 0] < 128)
    rows, columns = dark[:, 0], dark[:, 1]
    # Six capitals of 0.764 of the size (the face's table of widths), less white at both ends; 0.717 high.
    assert 145 < rows.max() <= 150 and abs(np.ptp(rows) - (6 * 0.764 - 0.2) * 20) < 4
    assert 98 <= columns.max() <= 101 and abs(np.ptp(columns) - 0.717 * 20) < 2


def test_dashes_of_longer_patterns():
    """4 on, 1 off, 0.6 on, 1 off: twice along 13.2, and what is left is on."""
    path = np.array([[0.0, 0.0], [8.0, 0.0], [14.2, 0.0]])
    pieces = [(piece[0, 0], piece[-1, 0]) for piece in dashes(path, (4.0, 1.0, 0.6, 1.0))]
    assert np.allclose(pieces, [(0, 4), (5, 5.6), (6.6, 10.6), (11.6, 12.2), (13.2, 14.2)])
    assert [len(piece) for piece in dashes(path, (4.0, 1.0, 0.6, 1.0))] == [2, 2, 3, 2, 2]
