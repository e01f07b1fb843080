"""Stockings under a skirt: knitted, as close as the skin."""

from __future__ import annotations

from previz.stage.figures.wardrobe.garment import Lines, Made


def make(rest, wear, under) -> Made:
    """Return stockings; they are drawn on the body's own suit."""
    lines = Lines(rest)
    return Made(under, 0 * lines.ones, None)
