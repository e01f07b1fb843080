"""Screens and signs: a flat face that glows with a picture or words, in a box."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from previz.scene.light import Screen, Sign
from previz.stage import shapes
from previz.stage.lights.fixture import Beam, Fixture, Setting, builds
from previz.stage.lights.fronts import fronted
from previz.stage.surfaces import read_picture

CASING = 0.012
"""Rim of a screen's casing, or of a sign's box, round the face. [m]  Common practice, no source."""

SCREEN_DEPTH = 0.035
"""Depth of a screen's casing. [m]  Common practice, no source."""

HEAVY = 0.03
"""How much strokes of letters are widened to each side, over the font's size. [1]"""

PIXELS = 160_000
"""Of the picture of a sign's words."""

FILLED = (0.86, 0.62)
"""Most of a sign's width and height that its words take. [1]  Common practice, no source."""

LEADING = 1.25
"""From line to line, over the height of the letters. [1]"""


def _face(light, setting: Setting, depth: float, picture: np.ndarray | None) -> Fixture:
    """Return a Lambertian face with a picture, and its box, which ends at the face."""
    half = light.size[0] / 2, light.size[1] / 2
    face = shapes.rectangle((0, 0, 0), (half[0], 0, 0), (0, half[1], 0))
    w, h = (each + CASING for each in half)
    box = shapes.box((-w, -h, -depth), (w, h, 0))
    fixture = fronted(light, setting, setting.axes(light.turn), face, half, Beam(None), [box], depth)
    if picture is None:
        return fixture
    return replace(fixture, emitters=tuple(replace(each, picture=picture) for each in fixture.emitters))


@builds(Screen)
def build_screen(light: Screen, setting: Setting) -> Fixture:
    """Build a screen; its output is that of a white picture."""
    picture = None if light.picture is None else read_picture(light, "picture")
    return _face(light, setting, SCREEN_DEPTH, picture)


@builds(Sign)
def build_sign(light: Sign, setting: Setting) -> Fixture:
    """Build a sign; its output is that of a white front."""
    if light.picture is not None:
        picture = read_picture(light, "picture")
    else:
        picture = lettered(light.words or "", light.size, light.letters, light.ground)
    return _face(light, setting, light.depth, picture)


def lettered(words: str, size: tuple[float, float], letters, ground) -> np.ndarray:
    """Return the picture of words, as large as fit, in the middle of a face.

    Parameters
    ----------
    words : str
        ' / ' begins a line.
    size : (float, float)
        Width and height of the face. [m]
    letters, ground : (float, float, float)
        Linear Rec. 709, 0 to 1. [1]

    Returns
    -------
    float array, shape (rows, columns, 3)
        Linear Rec. 709. [1]
    """
    columns = int(np.clip(np.sqrt(PIXELS * size[0] / size[1]), 8, PIXELS / 8))
    rows = max(8, int(PIXELS / columns))
    mask = Image.new("L", (columns, rows), 0)
    lines = [line.strip() for line in words.split(" / ") if line.strip()]
    if lines:
        draw = ImageDraw.Draw(mask)
        trial = ImageFont.load_default(100)
        widest = max(draw.textlength(line, font=trial) for line in lines)
        high = FILLED[1] * rows / (1 + LEADING * (len(lines) - 1))
        fits = min(100 * FILLED[0] * columns / max(widest, 1.0), high / 0.72)
        font = ImageFont.load_default(max(4.0, fits))
        # Capitals are about 0.72 of the font's size (from memory); lines go by their middles.
        step = LEADING * 0.72 * font.size
        for number, line in enumerate(lines):
            middle = rows / 2 + (number - (len(lines) - 1) / 2) * step
            draw.text((columns / 2, middle), line, fill=255, font=font, anchor="mm",
                      stroke_width=HEAVY * font.size)
    share = (np.asarray(mask, np.float32) / 255)[:, :, None]
    return (share * np.asarray(letters) + (1 - share) * np.asarray(ground)).astype(np.float32)
