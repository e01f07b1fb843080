"""A step off the mark: the meters of a face beside, before and behind where it is, with nobody there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from previz.exposure.faces import cheeks_of
from previz.levels.dependence import Other
from previz.levels.problem import Problem
from previz.levels.response import Response
from previz.levels.sensitivity import elsewhere
from previz.scene.wants import FACES
from previz.stage.heads import HEAD_RADIUS, Head
from previz.stage.records import Probe, Stage
from previz.stage.way import between, cheek_probes, cheeks_in
from previz.studies.balance.subjects import Needed, Subject, at_mark

ON = "on the mark"
"""The place that the others are held against."""

LEFT, RIGHT, FORWARD, BACK = "to camera left", "to camera right", "forward", "back"
"""Steps: as the camera sees it, and along the way that the face points."""

OWN_LEFT, OWN_RIGHT = "to its own left", "to its own right"
"""The same of a scene without a camera."""


@dataclass(frozen=True)
class Stand:
    """A place of a face, by whose camera left and right are told.

    Parameters
    ----------
    figure, mark, camera : str
        '' for where the figure is; '' for a scene without a camera.
    """

    figure: str
    mark: str
    camera: str

    def meters(self, where: str) -> tuple[str, str]:
        """Return what the flat meters at its cheeks are called, on the mark or off it."""
        at = at_mark(self.figure, self.mark) if self.mark else self.figure
        return cheeks_of(f"{at}, camera {self.camera or '–'}, {where}")


@dataclass(frozen=True, eq=False)
class Off:
    """The meters of one figure on its marks and a step off them.

    Parameters
    ----------
    stage : Stage
        Without the figure's body, with these meters alone.
    needed : Needed
    steps : dict of Stand to list of str
        Where each may step.
    blocked : tuple of str
        Steps that there is no room for, in words.
    """

    stage: Stage
    needed: Needed
    steps: dict[Stand, list[str]]
    blocked: tuple[str, ...]


def stand_of(subject: Subject) -> Stand | None:
    """Return the place of a want's face; None of a want at no face."""
    if subject.written.subject not in FACES:
        return None
    return Stand(subject.of, subject.mark, subject.camera)


def off_marks(stage: Stage, figure: str, stands: Iterable[Stand], step: float) -> Off:
    """Return the meters of a figure's stands, on the mark and a step [m] off it each way.

    As of a walk, the light is that of the set without the figure's own body.
    """
    cheeks = cheeks_in(stage.head(figure), stage.probes)
    bare = tuple(mesh for mesh in stage.meshes if mesh.name != figure)
    probes: list[Probe] = []
    steps: dict[Stand, list[str]] = {}
    blocked: list[str] = []
    for stand in dict.fromkeys(stands):
        head = stage.head(figure, stand.mark)
        probes += cheek_probes(head, cheeks, stand.meters(ON))
        steps[stand] = []
        for where, way in _ways(stage, head, stand.camera).items():
            # The head's own breadth has to have room there too.
            reach = head.centre + way * (step + HEAD_RADIUS)
            things = between(head.centre, reach, bare)
            if things:
                blocked.append(f"{_label(stand)}: no room for a step {where}, there is '{things[0]}'.")
                continue
            steps[stand].append(where)
            moved = replace(head, nose=head.nose + step * way, face=head.face + step * way)
            probes += cheek_probes(moved, cheeks, stand.meters(where))
    names = tuple(probe.name for probe in probes)
    return Off(replace(stage, meshes=bare, probes=tuple(probes)), Needed(names, (), ()), steps,
               tuple(dict.fromkeys(blocked)))


def _label(stand: Stand) -> str:
    return at_mark(stand.figure, stand.mark) if stand.mark else stand.figure


def _ways(stage: Stage, head: Head, camera: str) -> dict[str, np.ndarray]:
    """Return level unit vectors of the steps."""
    seen = next((each for each in stage.cameras if each.name == camera), None)
    ahead = _level(head.ahead, np.array([1.0, 0, 0]))
    if seen is None:
        return {OWN_LEFT: _level(head.left, ahead), OWN_RIGHT: -_level(head.left, ahead), FORWARD: ahead,
                BACK: -ahead}
    right = _level(np.asarray(seen.world_from_camera, float)[:3, 0], -head.left)
    return {LEFT: -right, RIGHT: right, FORWARD: ahead, BACK: -ahead}


def _level(way: np.ndarray, otherwise: np.ndarray) -> np.ndarray:
    """Return a direction on the floor; another where it goes straight up or down."""
    flat = np.array([way[0], way[1], 0.0])
    return flat / np.linalg.norm(flat) if np.linalg.norm(flat) > 1e-3 else otherwise


def changes_off(problem: Problem, subjects: Sequence[Subject], off: Off, response: Response,
                step: float) -> dict[int, tuple[Other, ...]]:
    """Return what each step does to each want of a figure, by the want's number.

    Parameters
    ----------
    problem : Problem
        Of all wants, on the mark.
    subjects : sequence of Subject
        Of the same wants.
    off : Off
    response : Response
        Of its meters.
    step : float
        [m]
    """
    made: dict[int, tuple[Other, ...]] = {}
    for stand, steps in off.steps.items():
        mine = [number for number, each in enumerate(subjects) if stand_of(each) == stand]
        wants = [problem.wants[number] for number in mine]
        left, right = cheeks_of(wants[0].meters[0].rpartition(": ")[0])
        sides: dict[tuple[int, ...], bool] = {}
        if {left, right} <= set(problem.response.meters):
            one, other = (problem.response.meters.index(name) for name in (left, right))
            known = problem.sides.get((min(one, other), max(one, other)))
            if known is not None:
                # The side that is lit on the mark stays the lit side.
                sides[0, 1] = known == (one < other)
        places = {where: _named(response, stand.meters(where), (left, right)) for where in (ON, *steps)}
        here = Problem(places[ON], wants, problem.lamps, problem.cameras, sides=sides)
        found = [elsewhere(here, here.now, f"{step:g} m {where}", places[where]) for where in steps]
        for position, number in enumerate(mine):
            made[number] = tuple(Other(each.what, "", each.changes[position]) for each in found)
    return made


def _named(response: Response, meters: tuple[str, str], names: tuple[str, str]) -> Response:
    """Return two meters of a response under other names."""
    at = [response.meters.index(name) for name in meters]
    return Response(names, response.lamps, response.light[at])
