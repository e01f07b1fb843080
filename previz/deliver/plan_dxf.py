"""DXF of drawings: full size in model space, and a layout for each with its frame, title and key to scale.

The set is in millimetres, or for imperial lengths in inches: the unit that drawings in feet and inches have,
so that lengths are shown as feet and inches, and that a program which knows units puts such files together
rightly. The first drawing lies where the set does, its (0, 0) at 0,0; each other is moved to the right by
whole metres or feet. No date or random number is in the file. Source: DXF reference R2010, as the library
writes it.
"""

from __future__ import annotations

import io
import logging
import math
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

# Where it may not keep its list of fonts it says so on the terminal, which is no concern of ours.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

import ezdxf  # noqa: E402
import numpy as np  # noqa: E402
from ezdxf.document import Drawing as Document  # noqa: E402
from ezdxf.enums import TextEntityAlignment  # noqa: E402

from previz.deliver.dxf_marks import (  # noqa: E402
    APPLICATION,
    CAPITAL,
    STRONG,
    WORDS,
    Blocks,
    Hand,
    written,
)
from previz.plans.lengths import FOOT, IMPERIAL, INCH, METRIC  # noqa: E402
from previz.plans.records import LAYERS, PENS, Sheet  # noqa: E402

UNITS = {METRIC: 0.001, IMPERIAL: INCH}
"""The file's unit of length. [m]"""

STEPS = {METRIC: 1.0, IMPERIAL: FOOT}
"""What drawings are moved apart by: a whole number of these. [m]"""

APART = 2.0
"""Least between two drawings. [m]"""

LAYER_PENS = {
    "walls": "cut", "openings": "outline", "pieces": "outline", "sun": "thin", "cameras": "outline",
    "beams": "beam", "grip": "outline", "figures": "outline", "lamps": "outline",
    "dimensions": "dimension", "names": "thin", "sheet": "outline",
}
"""What a layer's lines are drawn with where they say nothing else."""

HEADINGS, VIEWPORTS = "headings", "viewports"
"""Layers that are not plotted: which drawing is which, and the frames of what layouts show."""

EDGE = 2.0
"""Round what a layout shows of a drawing. [mm]"""

_LOCKED = 0x4000
"""Flag of a viewport whose scale a turn of the wheel does not change (DXF reference, VIEWPORT, 90)."""


def dxf_bytes(sheets: Sequence[tuple[str, Sheet]], system: str) -> bytes:
    """Return drawings as one DXF file (R2010), the same for the same sheets.

    Parameters
    ----------
    sheets : sequence of (str, Sheet)
        Each with what its layout is called.
    system : str
        'metric' or 'imperial'; see `UNITS`.
    """
    with _without_dates():
        document = _document(system)
        blocks = Blocks(document)
        names = _layout_names([name for name, _ in sheets])
        corners: list[np.ndarray] = []
        for (name, sheet), layout in zip(sheets, names, strict=True):
            shift = _shift(sheet, corners, STEPS[system])
            _in_model_space(document, blocks, name, sheet, shift, UNITS[system])
            _layout(document, layout, sheet, shift, system)
            corners += [np.add(corner, (shift, 0.0)) for corner in (sheet.drawing.low, sheet.drawing.high)]
        _look_at(document, corners or [np.zeros(2)], UNITS[system])
        packed = io.StringIO()
        document.write(packed)
    return packed.getvalue().encode("utf-8", "replace")


@contextmanager
def _without_dates() -> Iterator[None]:
    """Have the library write no date and no random number."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _document(system: str) -> Document:
    """Return an empty document with units, layers, types of line and faces."""
    document = ezdxf.new("R2010", units=4 if system == METRIC else 1)
    # Decimals of a millimetre are of no use on a floor; feet and inches to a sixteenth.
    document.header["$LUNITS"], document.header["$LUPREC"] = (2, 0) if system == METRIC else (4, 4)
    document.header["$LWDISPLAY"] = 1
    # Dashes are stretched by each entity's own scale, in model space and through a viewport alike.
    document.header["$LTSCALE"], document.header["$PSLTSCALE"] = 1.0, 0
    document.set_wipeout_variables(frame=0)
    document.appids.add(APPLICATION)
    paper = UNITS[METRIC] / UNITS[system]
    for name, pen in PENS.items():
        if pen.dash:
            turns = [length * paper * (-1) ** n for n, length in enumerate(pen.dash)]
            document.linetypes.add(name, [sum(map(abs, turns)), *turns], description=name)
    for name, font in ((WORDS, "arial.ttf"), (STRONG, "arialbd.ttf")):
        document.styles.add(name, font=font)
    for name in LAYERS:
        pen = PENS[LAYER_PENS[name]]
        document.layers.add(name, color=7, lineweight=round(100 * pen.thickness),
                            linetype=LAYER_PENS[name] if pen.dash else "Continuous")
    for name in (HEADINGS, VIEWPORTS):
        document.layers.add(name, color=8, plot=False)
    return document


def _shift(sheet: Sheet, corners: Sequence[np.ndarray], step: float) -> float:
    """Return how far to the right a drawing lies of where the set does. [m]"""
    if not corners:
        return 0.0
    need = max(corner[0] for corner in corners) + APART - sheet.drawing.low[0]
    return math.ceil(round(need / step, 6)) * step


def _in_model_space(document: Document, blocks: Blocks, name: str, sheet: Sheet, shift: float, unit: float,
                    ) -> None:
    drawing = sheet.drawing
    paper = drawing.scale * UNITS[METRIC] / unit
    space = document.modelspace()
    hand = Hand(space, 1 / unit, (shift / unit, 0.0), paper, drawing.scale, LAYER_PENS, blocks)
    for layer in LAYERS:
        for mark in drawing.marks:
            if mark.layer == layer:
                hand.draw(mark)
    size = 5.0 * paper
    at = np.add((drawing.low[0], drawing.high[1]), (shift, 0.0)) / unit + (0, size)
    space.add_text(written(f"{name}: {sheet.head.subject}" if sheet.head.subject else name),
                   height=size * CAPITAL, dxfattribs={"layer": HEADINGS, "style": WORDS},
                   ).set_placement(at, align=TextEntityAlignment.LEFT)


def _layout(document: Document, name: str, sheet: Sheet, shift: float, system: str) -> None:
    """Add a layout: the page with all that surrounds the drawing, and a view of that to scale."""
    if document.layouts.names_in_taborder()[1:] == ["Layout1"] and not len(document.layout("Layout1")):
        document.layouts.rename("Layout1", name)
        layout = document.layout(name)
    else:
        layout = document.layouts.new(name)
    unit = UNITS[system]
    paper = UNITS[METRIC] / unit
    layout.page_setup(size=tuple(length * paper for length in sheet.page), margins=(0, 0, 0, 0), scale=(1, 1),
                      units="mm" if system == METRIC else "inch", name="page", device="")
    layout.dxf_layout.dxf.layout_flags = 0
    drawing = sheet.drawing
    low, high = sheet.on_paper(np.array([drawing.low, drawing.high])) + [[-EDGE], [EDGE]]
    middle = np.add(drawing.low, drawing.high) / 2 + (shift, 0.0)
    view = layout.add_viewport(
        center=(low + high) / 2 * paper, size=tuple((high - low) * paper),
        view_center_point=middle / unit, view_height=(high - low)[1] * paper * drawing.scale,
        dxfattribs={"layer": VIEWPORTS})
    view.dxf.flags |= _LOCKED
    view.freeze(HEADINGS)
    hand = Hand(layout, paper, (0.0, 0.0), paper, 1, LAYER_PENS)
    for mark in sheet.furniture:
        hand.draw(mark)


def _look_at(document: Document, corners: Sequence[np.ndarray], unit: float) -> None:
    """Have the file open on all drawings."""
    low, high = np.min(corners, axis=0) / unit, np.max(corners, axis=0) / unit
    document.modelspace().reset_extents((*low, 0), (*high, 0))
    size = np.maximum(high - low, 1 / unit)
    # The window's shape is not known: half as wide again as high.
    document.set_modelspace_vport(1.1 * max(size[1], size[0] / 1.5), tuple((low + high) / 2))


def _layout_names(names: Sequence[str]) -> list[str]:
    """Return names that layouts may have, each once whatever its case."""
    taken = {"model"}
    found = []
    for name in names:
        plain = " ".join(re.sub(r"[<>/\\\":;?*|,=`\x00-\x1f\x7f]+", " ", name).split())[:80] or "sheet"
        tried, number = plain, 1
        while tried.lower() in taken:
            number += 1
            tried = f"{plain} {number}"
        taken.add(tried.lower())
        found.append(tried)
    return found
