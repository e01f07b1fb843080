"""A canvas that keeps what is drawn, and what can be wrong with a sheet."""

from previz.deliver.canvas import Box, Canvas


class Recording(Canvas):
    """A canvas that also keeps where pictures lie; letters are measured, but not inked."""

    def __init__(self, width, height):
        super().__init__(width, height)
        self.pictures = []

    def picture(self, at, pixels, size=None, *, smooth=True):
        """Keep a picture's edges as a box without words."""
        wide, high = size or pixels.shape[1::-1]
        self.pictures.append(Box("", at[0], at[1], at[0] + wide, at[1] + high))
        super().picture(at, pixels, size, smooth=smooth)

    def _letters(self, line, colour):
        """Leave the paper bare: where a word's ink lies is not read from pixels."""

    @property
    def words(self):
        """All texts, in the order in which they were drawn."""
        return [line.text for line in self._lines]


def drawn(blocks, setting):
    """Draw blocks one under the other on a recording canvas."""
    canvas = Recording(setting.width, round(sum(b.height for b in blocks) + 2 * setting.margin))
    top = setting.margin
    for block in blocks:
        block.draw(canvas, setting.margin, top, setting.inner)
        top += block.height
    return canvas


def meet(one, other):
    """Return whether two boxes lie on each other."""
    return (one.left < other.right and other.left < one.right
            and one.top < other.bottom and other.top < one.bottom)


def faults(canvas):
    """Return texts that leave the paper or run into each other."""
    width, height = canvas.size
    boxes = [box for box in canvas.boxes if box.text.strip()]
    out = [box.text for box in boxes
           if box.left < 0 or box.top < 0 or box.right > width or box.bottom > height]
    return out + [(one.text, other.text) for number, one in enumerate(boxes)
                  for other in boxes[number + 1:] if meet(one, other)]


def on_pictures(canvas):
    """Return texts that lie on a picture, and pictures that leave the paper or lie on each other."""
    width, height = canvas.size
    out = [box.text for box in canvas.boxes if any(meet(box, each) for each in canvas.pictures)]
    return out + [each for number, each in enumerate(canvas.pictures)
                  if each.left < 0 or each.right > width or each.bottom > height
                  or any(meet(each, other) for other in canvas.pictures[number + 1:])]


def cut(canvas):
    """Return texts that were cut for want of room."""
    return [line.whole for line in canvas._lines if line.text != line.whole]
