"""The portrait studio: one head before grey cloth, and lamps at a handful of classic places.

Every lamp gives the same illuminance at the face, held towards the lamp, so what differs from
picture to picture is only where the light comes from and how large its source is.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from previz.exposure.camera import working_illuminance
from previz.physics.exposure import CameraSettings
from previz.scene.camera import Camera
from previz.scene.figure import Figure
from previz.scene.light import Fresnel, Output, SoftBox
from previz.scene.piece import Piece
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.scene.surface import Surface
from previz.stage.build import build_stage
from previz.stage.records import Stage

SUBJECT = "subject"
"""Name of the figure in the studio."""

FILL = {"hard": "fill", "soft": "frontal"}
"""Name of the broad lamp over the lens that fills the shadows, in each row of the sheet."""

HEAD, EYES = "head", "eyes"
"""Names of the cameras: the portrait, and both eyes from near."""

DISTANCE = 2.0
"""From every lamp to the face. [m]"""

LENS, BOX = 0.12, 0.9
"""Diameter of the hard lamp's lens, and edge of the soft one's front. [m]"""

CAMERA_DISTANCE = 1.6
"""From the lens to the eyes. [m]"""

STOP, ISO, SHUTTER_DEG, FPS = 8.0, 800.0, 180.0, 24.0


@dataclass(frozen=True)
class Placement:
    """Where a lamp stands, as seen from the face.

    Parameters
    ----------
    name, words : str
        What the sheet calls it, and how it is found on a floor.
    across, up : float
        Angle from the camera towards camera left, and above the face. [deg]
    """

    name: str
    words: str
    across: float
    up: float

    @property
    def towards(self) -> np.ndarray:
        """Unit vector from the face to the lamp, the camera looking along +y."""
        a, b = np.radians([self.across, self.up])
        return np.array([-np.sin(a) * np.cos(b), -np.cos(a) * np.cos(b), np.sin(b)])


PLACEMENTS = (
    Placement("frontal", "over the lens, 12° up", 0.0, 12.0),
    Placement("45° high", "45° across, 45° up", 45.0, 45.0),
    Placement("side", "90° across, 10° up", 90.0, 10.0),
    Placement("three-quarter back", "145° across, 35° up", 145.0, 35.0),
    Placement("under", "on the lens's axis, 45° down", 0.0, -45.0),
    Placement("overhead", "over the crown, 82° up", 0.0, 82.0),
)
"""Classic places of a key. Source: common practice, no source."""

SOURCE_SIZE = {"hard": LENS, "soft": BOX}
"""How large the source of each row is. [m]"""

SOURCES = {
    "hard": f"a lens of {100 * LENS:g} cm at {DISTANCE:g} m",
    "soft": f"a face of {100 * BOX:g} × {100 * BOX:g} cm at {DISTANCE:g} m",
}
"""The two rows of the sheet, and what lights them."""


def settings() -> CameraSettings:
    """Return how the portrait camera is set."""
    return CameraSettings(stop=STOP, iso=ISO, shutter_s=SHUTTER_DEG / 360 / FPS)


def studio_figure(figure: Figure) -> Figure:
    """Return a scene's figure as it stands for its portrait: upright, looking into the lens."""
    return dataclasses.replace(
        figure, name=SUBJECT, pose="standing", at=(0.0, 0.0, 0.0), facing=270.0, seat=None,
        looking_at=None, head_turn=0.0, head_tilt=0.0, marks=())


def studio(figure: Figure) -> dict[str, Stage]:
    """Return the stage of each row of the sheet, 'hard' and 'soft', for a figure of `studio_figure`.

    Raises
    ------
    SceneError
        The figure cannot be built as it was written.
    """
    cloth = Piece(name="grey cloth", shape="panel", at=(0.0, 2.2, 0.0), size=(5.0, 0.02, 3.4),
                  surface=Surface(name="grey card"))
    bare = build_stage(Scene(title="Portrait", pieces=(cloth,), figures=(figure,)))
    face, eyes = (bare.places[f"{SUBJECT}.{part}"] for part in ("face", "eyes"))
    lens = eyes + [0.0, -CAMERA_DISTANCE, 0.0]
    looking = dataclasses.replace(figure, looking_at=Target(point=tuple(lens)))
    cameras = (
        _camera(HEAD, lens, face + [0.0, 0.0, 0.018], 0.080, 0.8),
        _camera(EYES, lens, eyes, 0.29, 2.6),
    )
    return {
        name: build_stage(Scene(title="Portrait", pieces=(cloth,), figures=(looking,),
                                lights=lamps, cameras=cameras))
        for name, lamps in (("hard", _hard(face)), ("soft", _soft(face)))
    }


def _camera(name: str, at: np.ndarray, aim: np.ndarray, lens: float, aspect: float) -> Camera:
    return Camera(name=name, at=tuple(at), aim=Target(point=tuple(aim)), lens=lens, stop=STOP,
                  iso=ISO, shutter=SHUTTER_DEG, fps=FPS, aspect=aspect)


def _common(placement: Placement, face: np.ndarray, distance: float = DISTANCE) -> dict[str, Any]:
    return {"name": placement.name, "at": tuple(face + distance * placement.towards),
            "aim": Target(text=f"{SUBJECT}.face"), "cct": 5600.0, "spectrum": "daylight",
            "output": Output(value=float(working_illuminance(settings())), unit="lx",
                             distance=distance)}


def _box(placement: Placement, face: np.ndarray, distance: float = DISTANCE) -> SoftBox:
    """Return a soft lamp."""
    return SoftBox(**_common(placement, face, distance), size=(BOX, BOX))


def _hard(face: np.ndarray) -> tuple[Fresnel | SoftBox, ...]:
    lamps = [Fresnel(**_common(each, face), lens=LENS, beam=40.0) for each in PLACEMENTS]
    # The fill stands behind the frontal lamp, which hides a twentieth of it.
    fill = dataclasses.replace(PLACEMENTS[0], name=FILL["hard"])
    return (*lamps, _box(fill, face, 2.4))


def _soft(face: np.ndarray) -> tuple[SoftBox, ...]:
    return tuple(_box(each, face) for each in PLACEMENTS)
