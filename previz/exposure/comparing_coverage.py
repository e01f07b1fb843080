"""What stands in whose frame, when several cameras run at once."""

from __future__ import annotations

from dataclasses import dataclass

IN_FRAME, HIDDEN, NEAR_EDGE = "in frame", "hidden behind something", "just outside"
"""How a thing of the rig stands to a frame."""


@dataclass(frozen=True)
class Sighting:
    """A lamp, board, frame, flag or camera, as one camera has it.

    Parameters
    ----------
    name : str
    role : str
        'lamp', 'board', 'frame', 'flag' or 'camera'.
    where : str
        `IN_FRAME`, `HIDDEN` or `NEAR_EDGE`.
    share : float
        Of the frame that it takes. [1]
    on_purpose : bool
        True for a lamp that is left in shot.
    side : str
        Where in the frame or at which of its edges: 'left', 'right', 'top', 'bottom', ''.
    """

    name: str
    role: str
    where: str
    share: float = 0.0
    on_purpose: bool = False
    side: str = ""


@dataclass(frozen=True)
class Coverage:
    """One camera's frame in one option.

    Parameters
    ----------
    option, camera : str
    subject : str
        The figure it is on; '' for none.
    seen : tuple of Sighting
    """

    option: str
    camera: str
    subject: str
    seen: tuple[Sighting, ...]

    @property
    def unwanted(self) -> tuple[Sighting, ...]:
        """What is in the frame and was not left there on purpose."""
        return tuple(s for s in self.seen if s.where == IN_FRAME and not s.on_purpose)
