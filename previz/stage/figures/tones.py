"""Tones of hair: strand by strand, from root to tip, grey among dark; and of the scalp under it."""

from __future__ import annotations

from functools import cache

import numpy as np

from previz.physics import skin as skins
from previz.stage.figures.hair import SCALP_REACH
from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.strands import TONES, scatter
from previz.stage.records import Pattern

ROOT, TIP = 0.80, 1.12
"""Tone at the root and at the tip over the mean, as ends are older and bleached.
Common practice, no source. [1]"""

SPREAD = 0.22
"""Standard deviation of the tone from strand to strand. Common practice, no source. [1]"""

DARK_OF_GREY = "brown"
"""Colour of the strands of grey hair that have kept theirs; the others are white."""

LIGHTEST = 1.25
"""Most that the tone of a strand of white hair is over the mean; see `appearance`. [1]"""

_ALONG = 16
_MOST = 1.5


def white_share(colour):
    """Return the share of strands that are white: what makes the mean the colour's own. [1]"""
    if colour != "grey":
        return 0.0
    dark, white, mean = (skins.hair_reflectance(each).mean() for each in (DARK_OF_GREY, "white", "grey"))
    return float((mean - dark) / (white - dark))


@cache
def strand_tones(colour):
    """Return the tones of strands as a `Pattern` over the texture corners of `strand_places`.

    Rows are strands, columns run from root to tip; the mean factor on reflectance is 1.
    """
    number = scatter(TONES, 401) + scatter(TONES, 402) + scatter(TONES, 403) - 1.5
    own = np.clip(1 + 2 * SPREAD * number, 1 / _MOST, _MOST)
    along = ROOT + (TIP - ROOT) * smooth_step(np.linspace(0, 1, _ALONG), 0.0, 0.8)
    factor = own[:, None] * along
    factor = np.minimum(factor / factor.mean(), LIGHTEST if strand_colour(colour).max() > 0.4 else _MOST)
    white = _white(white_share(colour))
    factor = factor + (1 - factor) * white[:, None]
    tile = np.ones((TONES, _ALONG, 4))
    tile[..., 0] = white[:, None]
    tile[..., 1] = factor
    # Gloss differs too: where scales of the cuticle are worn it is weak.
    tile[..., 2] = np.clip(1.0 - 0.45 * scatter(TONES, 405)[:, None] * np.linspace(0.6, 1.0, _ALONG), 0, 1)
    tile[..., 3] = 0.9 + 0.3 * scatter(TONES, 406)[:, None]
    tile.setflags(write=False)
    return Pattern(tile, (1.0, 1.0), skins.hair_reflectance("white"))


def _white(share):
    """Return how white each row of strands is; the mean is the share, and some are on the way. [1]"""
    rank = (np.argsort(np.argsort(scatter(TONES, 404))) + 0.5) / TONES
    edge = np.clip(3.0 * min(share, 1 - share), 0.0, 0.6)
    return np.clip((share - rank) / max(edge, 1e-3) + 0.5, 0, 1) if share > 0 else np.zeros(TONES)


def strand_colour(colour):
    """Return the albedo of the strands that are not white. Shape (81,)"""
    return skins.hair_reflectance(DARK_OF_GREY if colour == "grey" else colour)


SCALP_HAIR = 0.74
"""Share of the scalp's albedo, deep inside the hairline, that is that of roots in the skin.
Common practice, no source. [1]"""


@cache
def scalp_tones(colour):
    """Return how hair's roots darken the scalp, from none at the hairline inwards, as a `Pattern`."""
    rows = 48
    away = SCALP_REACH[0] + (SCALP_REACH[1] - SCALP_REACH[0]) * (1 - (np.arange(rows) + 0.5) / rows)
    share = smooth_step(away, -5e-3, 18e-3)
    tile = np.ones((rows, 8, 4))
    tile[..., 0] = SCALP_HAIR * share[:, None]
    # Skin between roots is dull, as the roots shade it.
    tile[..., 2] = (1 - 0.85 * share)[:, None]
    tile.setflags(write=False)
    return Pattern(tile, (1.0, 1.0), skins.hair_reflectance(colour))
