"""What stands in whose frame, when several cameras run at once."""

from __future__ import annotations

from dataclasses import dataclass

IN_FRAME, HIDDEN, NEAR_EDGE = "in frame", "hidden behind something", "just outside"
FAINT = "too faint to notice"
"""How a thing of the rig stands to a frame."""

GLASS, MIRROR, GLOSS = "glass", "mirror", "gloss"
"""What a reflection is seen in: a pane, a mirror, the shine of a surface."""

NOTICED = 0.1
"""A reflection that lifts the place where it lies by less is not noticed. [stops]  Common
practice, no source."""

SHEEN = 0.5
"""The same of a reflection that a rough surface smears. [stops]  Common practice, no source."""


@dataclass(frozen=True)
class Sighting:
    """A lamp, stand, board, frame, flag or camera, as one camera has it.

    Parameters
    ----------
    name : str
        What it is called.
    role : str
        'lamp', 'stand', 'board', 'frame', 'flag' or 'camera'.
    where : str
        `IN_FRAME`, `HIDDEN`, `NEAR_EDGE` or `FAINT`.
    share : float
        Of the frame that it takes. [1]
    on_purpose : bool
        True for a lamp that is left in shot.
    side : str
        Where in the frame or at which of its edges: 'left', 'right', 'top', 'bottom', ''.
    within : str
        What it is mirrored in: the name of a window or a thing; '' where it is seen itself.
    by : str
        `GLASS`, `MIRROR` or `GLOSS` for a reflection; '' where it is seen itself.
    lift : float or None
        How much a reflection brightens the place where it lies; None where it is seen itself, and
        for a camera or a stand, whose light is not known. [stops]
    box : (float, float, float, float)
        Left, top, right and bottom in parts of the frame, from its upper left corner. [1]
    """

    name: str
    role: str
    where: str
    share: float = 0.0
    on_purpose: bool = False
    side: str = ""
    within: str = ""
    by: str = ""
    lift: float | None = None
    box: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Coverage:
    """One camera's frame in one option.

    Parameters
    ----------
    option, camera : str
        Whose frame it is.
    subject : str
        The figure it is on; '' for none.
    seen : tuple of Sighting
        What stands in it or near it.
    """

    option: str
    camera: str
    subject: str
    seen: tuple[Sighting, ...]

    @property
    def unwanted(self) -> tuple[Sighting, ...]:
        """What is in the frame and was not left there on purpose."""
        return tuple(s for s in self.seen if s.where == IN_FRAME and not s.on_purpose)
