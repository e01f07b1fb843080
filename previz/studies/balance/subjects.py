"""Wants of a scene as numbers at meters: which meters there must be, and what each is to read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from previz.errors import RequestError
from previz.exposure.camera import settings_of, working_illuminance
from previz.exposure.faces import cheeks_of
from previz.exposure.falsecolour import DEFAULT_CLIP, DEFAULT_CRUSH
from previz.levels import wants as numbers
from previz.physics.exposure import MID_GREY, luminance_from_signal
from previz.scene.scene import Scene
from previz.scene.wants import FACES, SEEN
from previz.scene.wants import Want as Written
from previz.stage.heads import Head
from previz.stage.records import Camera, Probe, Stage
from previz.stage.views import FLAT_OFF_SKIN
from previz.studies.selection import no_camera

SIDE_WORDS = {"lit_side": "lit side", "shadow_side": "shadow side", "ratio": "ratio", "colour": "colour",
              "meter": "", "thing": "", "spot": "", "background": "background"}
"""Field of a want -> what a crew calls it."""


@dataclass(frozen=True, eq=False)
class Subject:
    """One want at one place.

    Parameters
    ----------
    written : scene.wants.Want
        As the scene has it.
    want : levels.wants.Want
        The same as a number at meters.
    camera : str
        Whose working stop counts, or that sees it; '' where the scene has none.
    mark : str
        The figure's mark; '' for where the figure is.
    """

    written: Written
    want: numbers.Want
    camera: str
    mark: str = ""

    @property
    def of(self) -> str:
        """Name of what it is of: a figure, a thing, a meter, a patch or a camera."""
        return str(getattr(self.written, self.written.subject or "thing"))

    @property
    def axes(self) -> dict[str, str]:
        """What a row of it is of."""
        kind = self.written.subject or ""
        axis = "figure" if kind in FACES else "meter" if kind == "meter" else "thing"
        return {"want": self.want.name, "camera": self.camera, "mark": self.mark, axis: self.of}

    @property
    def words(self) -> str:
        """What it is of, as a crew says it: 'lit side, clerk at window'."""
        kind = SIDE_WORDS[self.written.subject or "thing"]
        if self.written.side:
            cheek = f"{self.written.side} cheek"
            kind = cheek if kind == "lit side" else f"{kind}, {cheek}"
        if self.written.subject == "background":
            return f"background, camera {self.camera}"
        at = f" at {self.mark}" if self.mark else ""
        return f"{kind}, {self.of}{at}" if kind else self.of


@dataclass(frozen=True)
class Needed:
    """The meters that wants need.

    Parameters
    ----------
    incident : tuple of str
        Incident meters of the stage.
    spots : tuple of (str, str)
        (camera, thing or patch) of spot meters, each named 'thing, camera'.
    views : tuple of (str, str)
        (camera, opening, or '' for the background) of what is read off a picture: what is seen through the
        opening, or lies behind the camera's subject.
    """

    incident: tuple[str, ...]
    spots: tuple[tuple[str, str], ...]
    views: tuple[tuple[str, str], ...]

    @property
    def view_names(self) -> tuple[str, ...]:
        """Names of the meters that are read off a picture of what is seen through an opening."""
        return tuple(f"{opening}, {camera}" for camera, opening in self.views)


def background_of(camera: str) -> str:
    """Return the name of the meter that a camera's background is."""
    return f"background, {camera}"


def subjects_of(scene: Scene, stage: Stage, wants: Iterable[Written]) -> tuple[tuple[Subject, ...], Needed]:
    """Return wants as numbers, one for each mark and each end of a range, and the meters that they need.

    Raises
    ------
    RequestError
        There is no camera for a level to count from, or two wants exclude each other.
    """
    made: list[Subject] = []
    for each in wants:
        figure = next((f for f in scene.figures if f.name == getattr(each, each.subject or "thing")), None)
        marks = [each.at_mark or ""]
        if each.every_mark and figure is not None:
            marks = [mark.name for mark in figure.marks]
        for mark in marks:
            made += _at(scene, stage, each, mark)
    _check(made)
    incident = [meter for each in made if each.written.subject not in SEEN for meter in each.want.meters]
    openings = [each.name for each in scene.room.openings] if scene.room else []
    views = [(each.camera, "" if each.written.subject == "background" else each.of) for each in made
             if each.written.subject == "background" or each.written.thing in openings]
    spots = [(each.camera, each.of) for each in made
             if each.written.subject in ("thing", "spot") and each.written.thing not in openings]
    return tuple(made), Needed(tuple(dict.fromkeys(incident)), tuple(dict.fromkeys(spots)),
                               tuple(dict.fromkeys(views)))


def _at(scene: Scene, stage: Stage, each: Written, mark: str) -> list[Subject]:
    """Return one want at one place: two numbers where it is to lie between two."""
    camera = _camera_of(scene, stage, each)
    name = f"{each.name} at {mark}" if each.every_mark else each.name
    subject = each.subject
    meters, side = _meters(scene, each, mark)
    common: dict[str, Any] = {"meters": meters, "side": side, "weight": each.weight}
    if subject == "colour":
        want = numbers.Want(name, numbers.COLOUR, target=1e6 / _known(each.cct), within=each.within_mired,
                            **common)
        return [Subject(each, want, "" if camera is None else camera.name, mark)]
    if subject == "ratio":
        stops = each.stops if each.stops is not None else float(np.log2(_known(each.lit_to_shadow)))
        want = numbers.Want(name, numbers.RATIO, target=stops, within=each.within, **common)
        return [Subject(each, want, "" if camera is None else camera.name, mark)]
    if camera is None:
        raise no_camera()
    settings = settings_of(camera)
    reference = (float(luminance_from_signal(MID_GREY, settings)) if subject in SEEN
                 else working_illuminance(settings))
    at_most = DEFAULT_CLIP if each.hold else DEFAULT_CRUSH if each.black else each.at_most
    if subject in ("thing", "spot"):
        common["meters"] = (f"{getattr(each, subject)}, {camera.name}",)
    elif subject == "background":
        common["meters"] = (background_of(camera.name),)
    every: tuple[tuple[float | None, dict[str, Any]], ...] = (
        (each.stops, {}), (at_most, {"at_most": True}), (each.at_least, {"at_least": True}))
    ends = [(target, bound) for target, bound in every if target is not None]
    return [Subject(each, numbers.Want(
        name if len(ends) == 1 else f"{name}, at {'most' if 'at_most' in bound else 'least'}", numbers.LEVEL,
        target=target, reference=reference, camera=camera.name, within=each.within, **common, **bound),
        camera.name, mark) for target, bound in ends]


def _known(value: float | None) -> float:
    if value is None:
        raise ValueError("a want does not say how much")
    return value


def _camera_of(scene: Scene, stage: Stage, each: Written) -> Camera | None:
    """Return the camera whose working stop counts: the one named, the first on the figure, or the first."""
    name = each.background if each.subject == "background" else each.camera
    if name is None and each.subject in FACES:
        name = next((camera.name for camera in scene.cameras
                     if camera.aim.name == getattr(each, each.subject or "")), None)
    found = [camera for camera in stage.cameras if name in (None, camera.name)]
    return found[0] if found else None


def _meters(scene: Scene, each: Written, mark: str) -> tuple[tuple[str, ...], str]:
    """Return the meters of a want, and which of two counts."""
    if each.subject == "meter":
        return (str(each.meter),), ""
    if each.subject not in FACES:
        return (), ""
    figure = next(f for f in scene.figures if f.name == getattr(each, each.subject or ""))
    left, right = cheeks_of(figure.name if mark in ("", figure.mark) else at_mark(figure.name, mark))
    if each.side is not None:
        return ((left if each.side == "left" else right),), ""
    return (left, right), numbers.DARKER if each.subject == "shadow_side" else numbers.BRIGHTER


def at_mark(figure: str, mark: str) -> str:
    """Return what the face of a figure at a mark is called in its meters' names."""
    return f"{figure} at {mark}"


def with_meters(stage: Stage, needed: Needed) -> Stage:
    """Return a stage that has the meters too which only wants need.

    They are flat meters at the cheeks at marks. A mark that nobody stands at is metered as a stand-in's
    place is before the actor comes; the cheeks lie in its head as in the figure's own.
    """
    wanted = set(needed.incident) - {probe.name for probe in stage.probes}
    probes: list[Probe] = []
    for head in (each for each in stage.heads if each.mark):
        names = cheeks_of(at_mark(head.figure, head.mark))
        if wanted & set(names):
            own = next(each for each in stage.heads if each.figure == head.figure and not each.mark)
            probes += [_cheek(stage, own, head, name, side) for name, side in
                       zip(names, ("left", "right"), strict=True)]
    return replace(stage, probes=(*stage.probes, *probes)) if probes else stage


def _cheek(stage: Stage, own: Head, there: Head, name: str, side: str) -> Probe:
    """Return the flat meter at a cheek of a head at a mark."""
    def axes(head: Head) -> np.ndarray:
        return np.stack([head.ahead, head.left, head.up], axis=1)

    offset = axes(own).T @ (np.asarray(stage.places[f"{own.figure}.{side} cheek"], float) - own.nose)
    normal = there.ahead + (there.left if side == "left" else -there.left)
    normal = normal / np.linalg.norm(normal)
    return Probe(name, there.nose + axes(there) @ offset + normal * FLAT_OFF_SKIN, normal)


def _check(made: Sequence[Subject]) -> None:
    """Refuse wants that no light at all could meet together."""
    for number, one in enumerate(made):
        for two in made[:number]:
            if _same(one, two) and _apart(one.want, two.want) > 0:
                raise RequestError(
                    f"'{two.want.name}' and '{one.want.name}' exclude each other: both are of {one.words}",
                    "Drop one of them, or let them be further off with 'within'.")
    for lit in (each for each in made if each.written.subject == "lit_side" and each.written.side is None):
        for shadow in (each for each in made if each.written.subject == "shadow_side"):
            high, low = lit.want, shadow.want
            pair = (high.meters, high.camera) == (low.meters, low.camera)
            if pair and not (high.at_least or low.at_most) and (
                    low.target - low.within > high.target + high.within):
                raise RequestError(f"'{high.name}' and '{low.name}' exclude each other: the shadow side is "
                                   "the darker one", "Swap them, or drop one.")
    for ratio in (each for each in made if each.written.subject == "ratio"):
        sides = {side: next((each for each in made if each.written.subject == side
                             and each.want.meters == ratio.want.meters and each.written.stops is not None
                             ), None) for side in ("lit_side", "shadow_side")}
        bright, dark = sides["lit_side"], sides["shadow_side"]
        if bright is None or dark is None or bright.camera != dark.camera:
            continue
        trio = bright.want, dark.want, ratio.want
        between = trio[0].target - trio[1].target
        if abs(between - trio[2].target) > sum(each.within for each in trio) + 1e-9:
            raise RequestError(
                f"'{trio[0].name}', '{trio[1].name}' and '{trio[2].name}' exclude each other: {between:.2g} "
                f"stops between the sides are no ratio of {trio[2].target:.2g} stops",
                "Drop one of the three.")


def _same(one: Subject, two: Subject) -> bool:
    """Return whether two wants are of the same reading, counted alike."""
    a, b = one.want, two.want
    return (a.kind, a.meters, a.side, a.camera) == (b.kind, b.meters, b.side, b.camera)


def _apart(one: numbers.Want, two: numbers.Want) -> float:
    """Return how far two wants of one reading are apart beyond what both allow."""
    def ends(want: numbers.Want) -> tuple[float, float]:
        return (-np.inf if want.at_most else want.target - want.within,
                np.inf if want.at_least else want.target + want.within)

    (low, high), (other_low, other_high) = ends(one), ends(two)
    return max(low - other_high, other_low - high) - 1e-9
