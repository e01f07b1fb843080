"""Widths of lines, letter by letter, against the font library's own of the whole line."""

import random

import pytest
from PIL import ImageFont

from previz.deliver import canvas

LETTERS = "AVTWoa.,fi LYÄßéł0123456789 :–−±²°…%/()\u00a0\u202f"


@pytest.mark.parametrize("weight", ["regular", "strong"])
@pytest.mark.parametrize("size", [7, 14, 23, 57])
def test_letters_add_up_to_the_line(weight, size):
    rng = random.Random(size)
    path = canvas.files("previz.deliver").joinpath("fonts", canvas._FACES[weight])
    with path.open("rb") as file:
        font = ImageFont.truetype(file, size, layout_engine=ImageFont.Layout.BASIC)
    lines = ["", "a", "AVAST, To Wave", *("".join(rng.choices(LETTERS, k=24)) for _ in range(40))]
    assert [canvas.width_of(line, size, weight) for line in lines] == [font.getlength(line) for line in lines]
    # Kerning is what makes a line more than its letters.
    assert canvas.width_of("AVA", 57) < 2 * canvas.width_of("A", 57) + canvas.width_of("V", 57)
