"""Where a lamp should stand for what no level meets: places, aims and sizes tried, a few of them metered.

What the moved lamp gives straight at the wanted meters follows from geometry and a few lines of sight, so
hundreds of places are looked at in a second or two; its bounced light is taken to stay what it is. The best
of them are metered with the lamp alone lit, all other lamps' light being known, and solved for levels as
ever.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from previz.errors import RequestError, SceneError
from previz.exposure.comparing.measures import BEHIND
from previz.levels.places import search
from previz.levels.problem import Problem
from previz.levels.response import BOUNCED, DIRECT, Response
from previz.levels.solve import solved
from previz.physics.bands import band_means
from previz.physics.light import lamp_band_xyz
from previz.rendering.job import StageJob
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.light import Light
from previz.scene.records import Target
from previz.sight.straight import Points, Shadows, Stand, axes_of, parts_of
from previz.sight.subjects import projected, subject_of
from previz.stage.bodies import lit_by
from previz.stage.build import build_stage
from previz.studies.balance.allowed import Allowed
from previz.studies.balance.gathering import Meters
from previz.studies.balance.moving import camera_moves, lamps_of, moves
from previz.studies.balance.placed import (
    COARSE,
    Answered,
    Move,
    Place,
    Placed,
    best_of,
    met_of,
    missed_of,
    movable,
)
from previz.studies.balance.solving import solve
from previz.studies.balance.subjects import background_of, with_meters
from previz.studies.measures import foreground_of

LEVELS = 25
"""Levels of the moved lamp that are tried at each place, over six stops."""

LOOKED, FINER, KEPT = 384, 32, 6
"""Places over the whole box, about each of the best a round, and how many of those there are."""

METERED = 3
"""Places that are metered."""

STRAIGHT = 0.2
"""A lamp that gives less of its light straight to the wanted meters is not looked for by that. [1]"""

BY_METERS = 10
"""Such a lamp is metered at so many places over the box."""

EACH_METRE = 0.01
"""Of places that do about as well the nearer is taken: a metre away counts as so much. [stops²]"""


def find_place(known: Answered, move: Move, request: Request, rule: str, *, few: bool = False,
               progress: Progress | None = None) -> Placed:
    """Return the best place of a lamp for what is wanted.

    Parameters
    ----------
    known : Answered
        With the lamp where it stands.
    move : Move
    request : Request
        Of the meters; places are metered to `COARSE`.
    rule, few
        As of `solving.solve`.
    progress : Progress, optional

    Raises
    ------
    RequestError
        There is no such lamp, it cannot be moved so, or it may stand nowhere in the box.
    """
    found = _Search(known, move, request, rule, few, progress or Progress())
    if known.solution.met:
        return found.stays()
    return found.run()


class _Search:
    """One search: the box, what may stand in it, the cheap count and the meters."""

    def __init__(self, known: Answered, move: Move, request: Request, rule: str, few: bool,
                 progress: Progress):
        self.known, self.move, self.rule, self.few, self.progress = known, move, rule, few, progress
        self.request = replace(request, error=max(request.precision, COARSE))
        self.light = movable(known.scene, move)
        self.number = known.response.lamps.index(move.lamp)
        self.allowed = Allowed(known, move, self.light.at, in_shot=self.light.in_shot)
        least, most = self._times()
        self.low, self.high = np.append(self.allowed.low, least), np.append(self.allowed.high, most)
        self.aims = move.aims or ((self.light.aim,) if self.light.aim is not None else (None,))
        at, aim = np.asarray(self.light.at, float), self._point(self.light.aim)
        self.axes = axes_of(at, aim, self.light.turn)
        self.parts = parts_of(known.stage, move.lamp, at, self.axes)
        self.radius = max((float(np.linalg.norm(part.points, axis=1).max()) for part in self.parts),
                          default=0.0)
        self.tried = 0
        self.problem = self._problem(known.response)
        self.state = solved(self.problem, rule, few=few)

    # What may be

    def _times(self) -> tuple[float, float]:
        """Return how many times as large its front may be. [1]"""
        if self.move.sizes is None:
            return 1.0, 1.0
        wide = self.light.size[0]  # type: ignore[attr-defined]
        return self.move.sizes[0] / wide, self.move.sizes[1] / wide

    def _point(self, aim: Target | None) -> np.ndarray | None:
        if aim is None:
            held = self.light.held == "above"
            return np.asarray(self.light.at, float) - [0.0, 0, 1] if held else None
        if aim.point is not None:
            return np.asarray(aim.point, float)
        places = self.known.stage.places
        return np.asarray(places[aim.text], float)

    def _may(self, point: np.ndarray) -> bool:
        """Return whether the lamp may stand at a point of the box."""
        return self.allowed.may(point[:3], self.radius * float(point[3]))

    def _moved(self, point: np.ndarray, aim: Target | None) -> Light:
        x, y, z = (round(float(each), 2) for each in point[:3])
        changes: dict[str, object] = {"at": (x, y, z)}
        if aim != self.light.aim:
            changes["aim"] = aim
        if self.move.sizes is not None:
            changes["size"] = tuple(round(each * float(point[3]), 2) for each in
                                    self.light.size)  # type: ignore[attr-defined]
        return replace(self.light, **changes)  # type: ignore[arg-type]

    # The search

    def stays(self) -> Placed:
        """Return what is to be said where nothing needs to be moved."""
        now = Place(self.light, missed_of(self.known.solution), met_of(self.known.solution))
        return Placed(self.light, now, now, (), 0, (), len(self.known.wants))

    def run(self) -> Placed:
        """Return what came of it."""
        count = len(self.known.wants)
        now = Place(self.light, missed_of(self.known.solution), met_of(self.known.solution))
        found = self._by_geometry() if self._goes_straight() else self._by_meters()
        places = [now]
        with self.progress.running(len(found)):
            for number, (point, aim) in enumerate(found):
                self.progress.show(f"'{self.light.name}' at place {number + 1} of {len(found)}")
                place = self._metered(point, aim)
                self.progress.add(1.0, f"place {number + 1} of {len(found)}")
                if place is not None:
                    places.append(place)
        best, order = best_of(now, places[1:])
        bounds = self.allowed.bounds(best.item.at) if best is not now else ()
        return Placed(self.light, best, now, order, self.tried, bounds, count)

    def _goes_straight(self) -> bool:
        light = self.known.response.mean()[:, self.number].sum(axis=2)
        whole = light.sum()
        return bool(whole == 0 or light[:, DIRECT].sum() >= STRAIGHT * whole)

    def _by_geometry(self) -> list[tuple[np.ndarray, Target | None]]:
        """Return the places that promise most, by what the lamp gives straight there."""
        self.progress.show(f"places for '{self.light.name}'")
        shadows = Shadows(self.known.metered, self.move.lamp, np.asarray(self.light.at, float), self.axes,
                          self.request.bands, self.request.backend)
        points, weights = self._receptors(shadows)
        found = []
        for aim in self.aims:
            target = self._point(aim)

            def missed(places: np.ndarray, target: np.ndarray | None = target) -> np.ndarray:
                may = np.array([self._may(each) for each in places])
                result = np.full(len(places), np.inf)
                if may.any():
                    away = np.linalg.norm(places[may, :3] - self.light.at, axis=1)
                    given = self._given(places[may], target, shadows, points, weights)
                    result[may] = self._missed(given) + EACH_METRE * away
                return result

            start = np.append(np.asarray(self.light.at, float), 1.0)
            best, tried = search(missed, self.low, self.high, count=LOOKED, each=FINER, keep=KEPT,
                                 start=start)
            self.tried += tried
            found += [(each.missed, each.point, aim, self._given(each.point[None], target, shadows, points,
                                                                 weights)[0]) for each in best]
        if not found:
            raise RequestError(f"'{self.light.name}' may stand nowhere in the box: all of it is in walls, in "
                               "bodies, in a frame or too near a face.", "Give another box.")
        # All lamps' levels are free now, by what geometry says.
        ranked = sorted(found, key=lambda each: self._solved_missed(each[3]))
        return [(point, aim) for _, point, aim, _ in ranked[:METERED]]

    def _by_meters(self) -> list[tuple[np.ndarray, Target | None]]:
        """Return places spread over the box, for a lamp whose light comes by way of something else."""
        found: list[tuple[np.ndarray, Target | None]] = []

        def count(places: np.ndarray) -> np.ndarray:
            return np.array([0.0 if self._may(each) else np.inf for each in places])

        each = max(1, BY_METERS // len(self.aims))
        best, _ = search(count, self.low, self.high, count=LOOKED, keep=each, rounds=0)
        for aim in self.aims:
            found += [(one.point, aim) for one in best]
        self.tried = len(found)
        if not found:
            raise RequestError(f"'{self.light.name}' may stand nowhere in the box.", "Give another box.")
        return found

    def _receptors(self, shadows: Shadows) -> tuple[list[Points], list[np.ndarray | None]]:
        """Return points for each meter of the response, and what they send on in each band.

        None where it is not known what a meter sees: the lamp's light there is taken as it is.
        """
        probes = {each.name: each for each in self.known.metered.probes}
        cameras = {each.name: each for each in self.known.stage.cameras}
        spots = {f"{thing}, {camera}": (camera, thing) for camera, thing in self.known.needed.spots}
        behind = {background_of(camera): camera for camera, opening in self.known.needed.views if not opening}
        points, weights = [], list[np.ndarray | None]()
        for name in self.known.response.meters:
            if name in probes:
                probe = probes[name]
                points.append(Points(np.asarray(probe.position, float)[None],
                                     np.asarray(probe.normal, float)[None], np.array([probe.dome])))
                weights.append(np.ones((1, self.request.bands)))
                continue
            if name in spots:
                camera, thing = spots[name]
                seen, reflects = shadows.of_thing(cameras[camera], {thing})
            elif name not in behind:
                # Seen through an opening: what lies outside is not a moved lamp's.
                points.append(Points(np.zeros((0, 3)), np.zeros((0, 3)), np.zeros(0, bool)))
                weights.append(None)
                continue
            else:
                camera = behind[name]
                frames = self.known.frames[camera]
                subject = subject_of(self.known.stage, cameras[camera], frames)
                near = -np.inf if subject is None else projected(
                    cameras[camera], self.known.stage.places[f"{subject}.face"])[2]
                seen, reflects = shadows.of_thing(cameras[camera], foreground_of(self.known.stage), but=True,
                                                  beyond=near + BEHIND)
            points.append(seen)
            some = len(seen.position) > 0
            weights.append(band_means(reflects, self.request.bands) / (np.pi * len(reflects))
                           if some else None)
        return points, weights

    def _given(self, places: np.ndarray, target: np.ndarray | None, shadows: Shadows, points: list[Points],
               weights: Sequence[np.ndarray | None]) -> np.ndarray:
        """Return what the lamp gives from each place. Shape (place, meter, 2, band) [as the response]"""
        now = self.known.response.mean()[:, self.number]
        light = np.repeat(now[None], len(places), axis=0)
        at = places[:, :3]
        axes = (np.repeat(self.axes[None], len(at), axis=0) if target is None or self.light.aim is None else
                np.stack([axes_of(each, target, self.light.turn) for each in at]))
        stand = Stand(at, axes, places[:, 3])
        here = Stand(np.asarray(self.light.at, float)[None], self.axes[None], np.ones(1))
        views = {background_of(camera) for camera, _ in self.known.needed.views}
        for meter, (where, weight) in enumerate(zip(points, weights, strict=True)):
            if weight is None:
                continue
            straight = self._straight(shadows, stand, where, weight)
            if self.known.response.meters[meter] in views:
                # Of a picture the two parts are not told apart.
                straight = straight - self._straight(shadows, here, where, weight)
                light[:, meter, BOUNCED] = np.maximum(light[:, meter, BOUNCED] + straight, 0.0)
            else:
                light[:, meter, DIRECT] = straight
        return light

    def _straight(self, shadows: Shadows, stand: Stand, points: Points, weight: np.ndarray) -> np.ndarray:
        """Return what the lamp gives straight to a meter. Shape (place, band) [as the response]"""
        return np.sum([shadows.light(part, stand, points) @ weight for part in self.parts], axis=0)

    def _missed(self, given: np.ndarray) -> np.ndarray:
        """Return what is missed at each place at the lamp's best level, others as answered. [stops²]"""
        problem, state = self.problem, self.state
        lamp, own = problem.lamps[self.number], float(state.levels[self.number])
        dark = np.where(np.arange(len(state.levels)) == self.number, 0.0, state.levels)
        others = problem.light(replace(state, levels=dark))
        high, low = lamp.high, max(lamp.low, lamp.high / 64)
        levels = np.geomspace(low, high, LEVELS) if high > low > 0 else np.array([high or own])
        colour = lamp.colours[int(round(float(state.places[self.number])))]
        xyz = np.einsum("nmpb,bc->nmc", given, lamp_band_xyz(colour, given.shape[-1]))
        whole = others + levels[None, :, None, None] * xyz[:, None]
        misses = self._misses(problem, whole, state.shifts)
        return np.asarray((misses**2).sum(axis=-1).min(axis=1))

    @staticmethod
    def _misses(problem: Problem, xyz: np.ndarray, shifts: np.ndarray) -> np.ndarray:
        """Return the weighed misses of light (..., meter, 3), either cheek being the lit one. (..., want)"""
        values = problem.values(xyz, shifts)
        sides = dict(problem.sides)
        for pair, first in sides.items():
            problem.sides[pair] = not first
            other = problem.values(xyz, shifts)
            one, two = pair
            swapped = (xyz[..., one, 1] >= xyz[..., two, 1]) != first
            for n, at in enumerate(problem.at):
                if problem.wants[n].side and tuple(sorted(at)) == pair:
                    values[..., n] = np.where(swapped, other[..., n], values[..., n])
            problem.sides[pair] = first
        off = values - np.array([want.target for want in problem.wants])
        for n, want in enumerate(problem.wants):
            if want.at_most or want.at_least:
                off[..., n] = np.maximum(off[..., n], 0) if want.at_most else np.minimum(off[..., n], 0)
        return np.asarray(np.nan_to_num(off / problem.units, nan=20.0) * problem.weights)

    def _problem(self, response: Response) -> Problem:
        scene, stage = self.known.scene, self.known.stage
        lamps = lamps_of(scene, stage)
        levels = {name: each.level or 1.0 for name, each in lamps.items()}
        cameras, _ = camera_moves(scene)
        return Problem(response, self.known.wants, moves(stage, lamps, levels), cameras)

    def _with(self, given: np.ndarray) -> Response:
        """Return the response with the lamp's light from elsewhere, shape (meter, 2, band)."""
        light = self.known.response.light.copy()
        light[:, :, self.number] = given[:, None]
        return replace(self.known.response, light=light)

    def _solved_missed(self, given: np.ndarray) -> float:
        problem = self._problem(self._with(given))
        misses = problem.weighed(solved(problem, self.rule, few=self.few))
        return float(misses @ misses)

    def _metered(self, point: np.ndarray, aim: Target | None) -> Place | None:
        """Return a place with its lamp metered there and all levels solved; None where it cannot be built."""
        light = self._moved(point, aim)
        scene = replace(self.known.scene, lights=tuple(
            light if each.name == light.name else each for each in self.known.scene.lights))
        try:
            stage = build_stage(scene)
        except SceneError:
            return None
        alone = lit_by(with_meters(stage, self.known.needed), (light.name,))
        job = StageJob(alone, self.request.meter_order())
        needed = replace(self.known.needed, views=())
        response = self.known.response
        if needed.incident or needed.spots:
            try:
                found = Meters(job, self.request, Progress()).response(needed, {})
            except RequestError:
                return None
            finally:
                job.close()
            whole = response.light.copy()
            for number, name in enumerate(found.meters):
                whole[response.meters.index(name), :, self.number] = found.light[number, :, 0]
            response = replace(response, light=whole)
        solution = solve(response, self.known.wants, scene, stage, self.rule, few=self.few,
                         views=self.known.needed.view_names)
        return Place(light, missed_of(solution), met_of(solution))
