"""A still with its scopes: waveforms under it, levels next to them, colours in u', v'."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from previz.deliver.canvas import INK, QUIET, Colour, Paper
from previz.deliver.layout import Block, Setting, heading, paragraph, space, write_sheet_files
from previz.deliver.plots import Panel
from previz.deliver.wording import settings_text
from previz.exposure import scopes
from previz.exposure.camera import balance_white_xy
from previz.exposure.falsecolour import DEFAULT_CLIP, bt709_percent, signed
from previz.physics.chromatic_adaptation import D65_XY
from previz.physics.exposure import MID_GREY, CameraSettings

INKS = ((200, 40, 30), (40, 140, 50), (40, 70, 200))
"""Inks for the three channels; together they darken to black."""

_NOTE = (
    "Above, the scene: stops from 18 % grey, counted from luminance before balance and view, with "
    "the BT.709 level that they would have without a camera's curve. Below, the signal: the code "
    "values of the picture as shown. Colours are CIE 1976 u′, v′; the curve is black bodies, the "
    "dashed one CIE daylight, the triangle BT.709, the ring the camera's balance or the screen's "
    "white."
)

Edges = tuple[float, float, float, float]
"""Left, top, right and bottom of a box. [px]"""

STOP_TICKS, PERCENT_TICKS = np.arange(-8, 9, 2), (0, 20, 40, 60, 80, 100)


def _panels(paper: Paper, box: Edges, size: float) -> tuple[Panel, Panel]:
    """Return the grounds of what is drawn in stops, and under it in percent of the signal."""
    left, top, right, bottom = box
    middle = top + (bottom - top) * 0.52
    panels = (Panel(paper, (left, top, right, middle - 2.6 * size), (0, 1), scopes.STOPS, size),
              Panel(paper, (left, middle + 1.6 * size, right, bottom), (0, 1), scopes.PERCENT, size))
    for panel in panels:
        panel.ground()
    return panels


def _waveforms(paper: Paper, picture, box: Edges, size: float) -> None:
    """Draw the two waveforms under a still: stops, and the three channels."""
    panel, low = _panels(paper, box, size)
    wide = round(box[2] - box[0])
    rows = round(panel.box[3] - panel.box[1])
    panel.density(scopes.waveform(scopes.stops_on_scale(picture.signal), scopes.STOPS, rows, wide))
    panel.scale_up(STOP_TICKS, [signed(t) for t in STOP_TICKS], strong=(0,))
    shown = [t for t in STOP_TICKS if t <= DEFAULT_CLIP]
    panel.scale_up(shown, [f"{bt709_percent(MID_GREY * 2.0**t):.0f} %" for t in shown], right=True)
    panel.line((0, 1), (DEFAULT_CLIP, DEFAULT_CLIP), QUIET, 0.1 * size, (0.6 * size, 0.5 * size))
    panel.title("luminance of the scene",
                "stops from 18 % grey; BT.709 level at the right, white dashed")
    rows = round(low.box[3] - low.box[1])
    third = wide // 3
    channels = scopes.shown_percent(picture.still)
    plane = np.zeros((rows, 3 * third, 3))
    for k in range(3):
        plane[:, k * third:(k + 1) * third, k] = scopes.waveform(channels[k], scopes.PERCENT, rows,
                                                                third)
    low.density(plane, INKS)
    low.scale_up(PERCENT_TICKS, [f"{t} %" for t in PERCENT_TICKS], strong=(0, 100))
    low.title("signal of the picture", "red, green, blue, each the whole frame across; % of code")


def _histograms(paper: Paper, picture, box: Edges, size: float) -> None:
    """Draw how much of the frame lies at each level: in stops, and of the picture as shown."""
    panel, low = _panels(paper, box, size)
    panel.scale_up(STOP_TICKS, [""] * len(STOP_TICKS), strong=(0,))
    _bars(panel, scopes.histogram(scopes.stops_on_scale(picture.signal), scopes.STOPS, 64), INK)
    panel.title("of the frame", "by stops")
    low.scale_up(PERCENT_TICKS, [""] * len(PERCENT_TICKS), strong=(0, 100))
    for ink, channel in zip(INKS, scopes.shown_percent(picture.still), strict=True):
        shares = scopes.histogram(channel, scopes.PERCENT, 58)
        _outline(low, shares, ink)
    low.title("of the frame", "by signal")


def _bars(panel: Panel, shares: np.ndarray, colour: Colour) -> None:
    left, top, right, bottom = panel.box
    edges = np.linspace(top, bottom, len(shares) + 1)
    reach = shares / max(shares.max(), 1e-12)
    for share, upper, lower in zip(reach, edges[:-1], edges[1:], strict=True):
        if share > 0:
            panel.paper.fill(left, round(upper), left + max(1, share * (right - left)),
                             max(round(lower), round(upper) + 1), colour)


def _outline(panel: Panel, shares: np.ndarray, colour: Colour) -> None:
    left, top, right, bottom = panel.box
    edges = np.linspace(top, bottom, len(shares) + 1)
    # The share of a single level, black or white, must not press the others flat.
    full = np.sort(shares)[-3] if len(shares) > 3 else shares.max()
    reach = np.minimum(shares / max(full, 1e-12), 1.0)
    points = [(left + r * (right - left), y) for r, pair in
              zip(reach, zip(edges[:-1], edges[1:], strict=True), strict=True) for y in pair]
    panel.paper.stroke(points, colour, 0.12 * panel.size)


def _chromaticity(paper: Paper, xyz: np.ndarray, white: np.ndarray, box: Edges, size: float,
                  title: str, under: str) -> None:
    """Draw a u', v' diagram with the picture's colours in it."""
    panel = Panel(paper, box, scopes.UV_ACROSS, scopes.UV_UP, size)
    panel.ground()
    cells = (round(box[2] - box[0]) // 3, round(box[3] - box[1]) // 3)
    panel.density(scopes.chromaticities(xyz, cells), INK, 0.4)
    panel.scale_across((0.1, 0.2, 0.3, 0.4), ("0.1", "0.2", "0.3", "0.4"), lines=True)
    panel.scale_up((0.2, 0.3, 0.4, 0.5), ("0.2", "0.3", "0.4", "0.5"))
    u, v = scopes.spectral_locus()
    near = (u > scopes.UV_ACROSS[0]) & (u < scopes.UV_ACROSS[1]) & (v > scopes.UV_UP[0])
    panel.line(np.where(near, u, np.nan), v, QUIET, 0.1 * size)
    panel.line(*scopes.video_triangle(), QUIET, 0.08 * size)
    line, marks = scopes.black_body_locus()
    panel.line(*line, INK, 0.12 * size)
    panel.line(*scopes.daylight_locus(), INK, 0.09 * size, (0.4 * size, 0.3 * size))
    for kelvin, (u, v) in marks.items():
        panel.mark(u, v, INK)
        if kelvin in (2000, 3200, 6500):
            paper.text((panel.x(u) + 0.5 * size, panel.y(v) + 1.5 * size), f"{kelvin} K",
                       round(0.85 * size), colour=QUIET)
    panel.mark(*scopes.uv_from_chromaticity(white), (250, 250, 249), INK)
    panel.title(title, under)


def scopes_block(picture, settings: CameraSettings, setting: Setting) -> Block:
    """Return a still, of a developed picture, with its scopes at its side and under it."""
    size = 0.8 * setting.unit
    axis, between = 3.2 * size, 5.4 * size
    wide = round(0.62 * setting.inner)
    rows, columns = picture.still.shape[:2]
    high = round(wide * rows / columns)
    waves = round(0.4 * wide)

    def draw(paper, left, top, width):
        x, under = round(left + axis), top + high + 2.8 * size
        paper.picture((x, round(top)), picture.still, (wide, high))
        # Waveforms and histograms together are as wide as the still over them.
        strip = 0.17 * wide
        _waveforms(paper, picture, (x, under, x + wide - strip - between, under + waves), size)
        _histograms(paper, picture, (x + wide - strip, under, x + wide, under + waves), size)
        at, right = x + wide + axis + 2.5 * size, left + width
        first, last = top + 1.8 * size, under + waves
        side = min(right - at, (last - first - 4.6 * size) / 2)
        white = balance_white_xy(settings.white_balance, settings.tint)
        _chromaticity(paper, scopes.scene_xyz(picture.linear, settings), white,
                      (right - side, first, right, first + side), size,
                      "colours of the scene", "before balance")
        _chromaticity(paper, scopes.shown_xyz(picture.still), D65_XY,
                      (right - side, last - side, right, last), size, "of the picture", "as shown")

    return Block(high + 2.8 * size + waves + 2.5 * size, draw)


def scopes_blocks(picture, settings: CameraSettings, setting: Setting, *, title: str,
                  subject: str) -> list[Block]:
    """Return a still with its scopes in blocks; see `scopes_block`."""
    return [heading(setting, title, subject, settings_text(settings)), space(1.2 * setting.unit),
            scopes_block(picture, settings, setting), paragraph(setting, _NOTE)]


def write_scopes(path: Path, picture, settings: CameraSettings, *, title: str, subject: str,
                 words: dict[str, str], width: int = 2200) -> None:
    """Write a still with its scopes as a PNG of a width [px]; see `scopes_block`."""
    setting = Setting(width)
    write_sheet_files(path, scopes_blocks(picture, settings, setting, title=title, subject=subject),
                      setting, words, None)
