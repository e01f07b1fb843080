"""The haze ladder: one scene at several densities of its haze, seen and measured."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.deliver.layout import Block, Setting, foot, heading, subheading, write_sheet_files
from previz.deliver.plates import Plate, plate_rows
from previz.deliver.reminders import caution_blocks
from previz.deliver.tables import Cell, Column, Table
from previz.deliver.wording import settings_text, stops_text
from previz.exposure.comparing.haze import Rung
from previz.physics.exposure import CameraSettings
from previz.physics.haze import RANGE_CONTRAST, beam_transmission, droplet_mass, visibility
from previz.physics.safety import Caution

ACROSS = 4
"""Most pictures side by side."""

TERMS = (
    ("Density", "what a metre takes from a beam, for thin haze. One sees so far that a black thing "
     f"has {RANGE_CONTRAST:.0%} contrast left."),
    ("Lost in 10 m", "of a beam that runs so far through it, in stops."),
    ("Face", "its mean level in the picture; the background is what stands behind it within three face "
     "radii, without lamps, boards and people, and is named by what most of it is. Contrast is from "
     "the one to the other; ± is the noise of the render."),
    ("Blacks", "mean level of the darkest tenth of the picture, the same places at each density; "
     "the veil is the part of it that the air sends."),
    ("Levels", "in stops from 18 % grey, as the camera is set. Read from the picture as rendered, "
     "before it was denoised."),
    ("Droplets", "an estimate for fluid of 1 to 2 µm droplets, within a factor of two; only a "
     "measurement can tell."),
)
"""What the heads mean."""


@dataclass(frozen=True, eq=False)
class Step:
    """One density of the ladder.

    Parameters
    ----------
    factor : float
        On the scene's own density. [1]
    name : str
        That in words.
    density : float
        [1/m]
    anew : bool
        True if it was rendered by itself.
    still, air : uint8 array, shape (row, column, 3)
        The picture, and what the air alone sends, exposed alike; sRGB.
    rung : Rung
        What was measured.
    """

    factor: float
    name: str
    density: float
    anew: bool
    still: np.ndarray
    air: np.ndarray
    rung: Rung


@dataclass(frozen=True, eq=False)
class Ladder:
    """A scene at several densities.

    Parameters
    ----------
    title, option, camera : str
        What was rendered.
    face : str
        Whose face the contrast is of; '' for none.
    settings : CameraSettings
        How the camera is set.
    steps : tuple of Step
        Thinnest first.
    cautions : tuple of Caution
        That the scene calls for.
    background : str
        What most of the background is; '' for none.
    """

    title: str
    option: str
    camera: str
    face: str
    settings: CameraSettings
    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    background: str = ""


def density_text(density: float) -> str:
    """Return a density with how far one sees: '0.045 /m · 87 m'."""
    if not density > 0:
        return "no haze"
    seen = float(visibility(density, RANGE_CONTRAST))
    return f"{density:.3g} /m · one sees {seen:.{0 if seen >= 10 else 1}f} m"


def _mass(step: Step) -> str:
    low, high = (float(x) for x in droplet_mass(step.density))
    return f"{low:.0f} to {high:.0f}" if high >= 1 else "under 1" if step.density else "–"


def _contrast(step: Step) -> Cell:
    rung = step.rung
    if rung.contrast is None:
        return Cell("–")
    error = f"± {rung.contrast_error:.1f}" if np.isfinite(rung.contrast_error) else ""
    return Cell(stops_text(rung.contrast), error, strong=True)


def _columns(background: str) -> list[Column]:
    return [
        Column("haze", "", 1.1, lambda s: s.name, align="left"),
        Column("density", "/m", 0.9, lambda s: f"{s.density:.3g}"),
        Column("one sees", "m", 0.9, lambda s: f"{float(visibility(s.density, RANGE_CONTRAST)):.0f}"
               if s.density else "–"),
        Column("lost in 10 m", "stops", 1.0, lambda s: stops_text(float(np.log2(
            beam_transmission(s.density, 10.0)))) if s.density else "0.0"),
        Column("face", "stops from 18 % grey", 1.2, lambda s: stops_text(s.rung.face),
               group="face against its background"),
        Column("background", "stops from 18 % grey", 1.2, lambda s: Cell(
            stops_text(s.rung.behind), background)),
        Column("contrast", "stops", 1.0, _contrast),
        Column("blacks", "stops from 18 % grey", 1.2, lambda s: stops_text(s.rung.blacks),
               group="blacks"),
        Column("veil over them", "stops from 18 % grey", 1.3, lambda s: stops_text(s.rung.veil)),
        Column("droplets", "mg/m³, estimate", 1.2, _mass, group="the air"),
        Column("picture", "", 1.3, lambda s: "rendered anew" if s.anew else "from one render"),
    ]


def ladder_blocks(ladder: Ladder, setting: Setting) -> list[Block]:
    """Return a haze ladder in blocks.

    Raises
    ------
    ValueError
        There is no step.
    """
    if not ladder.steps:
        raise ValueError("a haze ladder needs at least one density")
    option = f", option '{ladder.option}'" if ladder.option else ""
    of = f", contrast on {ladder.face}" if ladder.face else ""
    blocks = [heading(setting, ladder.title, f"Haze ladder, camera {ladder.camera}{option}{of}",
                      settings_text(ladder.settings)),
              subheading(setting, "Picture", "and under it the haze alone, exposed alike")]
    plates = [Plate(([step.still], [step.air]), step.name, density_text(step.density))
              for step in ladder.steps]
    return [*blocks, *plate_rows(setting, plates, min(ACROSS, len(plates))),
            *Table(setting, _columns(ladder.background), ladder.steps).blocks(),
            *foot(setting, TERMS), *caution_blocks(setting, ladder.cautions)]


def write_ladder(stem: Path, ladder: Ladder, words: dict[str, str], width: int = 2400) -> list[Path]:
    """Write a haze ladder as a PNG of a width [px] and a PDF; see `layout.write_sheet_files`."""
    setting = Setting(width)
    return write_sheet_files(stem, ladder_blocks(ladder, setting), setting, words)
