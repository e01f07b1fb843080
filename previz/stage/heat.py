"""Heat of hot lamps and flames: on cloth, boards, people and glass near them, and in their beams.

What a lamp sends to a place is counted at full level with nothing in between, so it is the most that
arrives. Heat leaves a lamp as its light does, by the watts that a source of its sort radiates for each
lumen.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from previz.physics.lamps import EFFICACY_LM_PER_W
from previz.physics.optical_hazard import (
    FULL_SUN,
    INFRARED_LIMIT,
    WOOD_LIMIT,
    black_body_efficacy,
    black_body_infrared,
)
from previz.physics.safety import NO_SOURCE, Caution, few
from previz.stage.records import Emitter, Mesh, Pane
from previz.stage.sheets import Edges

HOT_SPECTRA = ("tungsten", "metal halide")
"""Spectra of lamps that are hot to the touch."""

NEAR_CLOTH = 1.0
"""A hot lamp nearer to cloth or a board than this is pointed out (common practice, no source). [m]"""

NEAR_PEOPLE = 0.3
"""A hot lamp nearer to somebody than this is pointed out (common practice, no source). [m]"""

FILM_TUNGSTEN = 3200.0
"""Temperature of a filament whose colour is a measured spectrum's (common practice, no source). [K]"""

LEAST_DISTANCE = 0.02
"""Nothing is nearer to a bright face than its glass. [m]"""

CUTS = 4
"""Parts that the edges of a face's triangles are cut into where it has few."""

FEW_FACES = 64
MOST_PIECES = 2000
"""Of a face that is a mesh; of more some stand for all."""

MOST_POINTS = 400
"""Of a figure's corners."""

FLAME, URGENT, WARM, GELLED = 0, 1, 5, 7
"""How urgent a flame near something is, heat near something, heat at eyes or on glass, gels on hot lamps."""


@dataclass(frozen=True)
class Surroundings:
    """What a scene's cautions are measured on.

    Parameters
    ----------
    outlines : dict of str to (centre, half edge, half edge)
        Where each board, frame, flag, net and grid is. [m]
    given : dict of str to (float, float or None)
        Lumens and watts of each lamp by its name.
    emitters : sequence of Emitter
        Each with its lamp's number in the scene.
    spectra : sequence of float array, shape (81,)
        Of each lamp of the scene, in its order.
    people : sequence of Mesh
    panes : sequence of Pane
        The room's.
    notes : tuple of str
        What was found on the way that hurts nobody.
    """

    outlines: dict[str, Edges]
    given: dict[str, tuple[float, float | None]]
    emitters: Sequence[Emitter] = ()
    spectra: Sequence[np.ndarray] = ()
    people: Sequence[Mesh] = ()
    panes: Sequence[Pane] = ()
    notes: tuple[str, ...] = ()

    def of_lamp(self, number: int) -> list[Emitter]:
        """Return the emitters of one lamp."""
        return [each for each in self.emitters if each.lamp == number]


def heat_cautions(scene, around: Surroundings) -> Iterator[Caution]:
    """Yield a caution for each thing and person that a hot lamp or a flame comes near to or heats."""
    cloths = {item.name: around.outlines[item.name] for item in (
        *scene.boards, *scene.diffusion, *scene.flags, *scene.nets, *scene.grids)}
    glass = {pane.name: (pane.centre, pane.half_u, pane.half_v) for pane in around.panes}
    for number, light in enumerate(scene.lights):
        if not light.on or not (light.flame or light.spectrum in HOT_SPECTRA):
            continue
        lamp = _Hot(light, around.of_lamp(number), around.given[light.name][0])
        for name, edges in cloths.items():
            yield from lamp.on_cloth(name, edges)
        for name in dict.fromkeys(mesh.name for mesh in around.people):
            yield from lamp.on_figure(name, np.concatenate(
                [mesh.vertices for mesh in around.people if mesh.name == name]))
        if not light.flame:
            for name, edges in glass.items():
                yield from lamp.on_glass(name, edges)


def gel_cautions(scene) -> Iterator[Caution]:
    """Yield the caution for gels on hot lamps."""
    names = tuple(light.name for light in scene.lights
                  if light.on and not light.flame and light.gel and light.spectrum in HOT_SPECTRA)
    if names:
        yield Caution(
            "gels", "gels on hot lamps",
            f"Gels on hot lamps: {few(names)}: heat-resistant gel, clear of the lens, looked at all day",
            f"Gels on hot lamps: {', '.join(names)}. Use gel that is made for heat, in its frame or "
            "clipped to the doors, with air between it and the lens; let no gel or cloth close the lamp's "
            "vents. Deep colours heat most: look at them all day, and change what bleaches, warps or "
            "smokes with the lamp off and cool. Whoever is in charge of fire safety decides. "
            f"Source: {NO_SOURCE}.",
            NO_SOURCE, GELLED, names, float(len(names)))


class _Hot:
    """A hot lamp with its bright faces and its lumens."""

    def __init__(self, light, emitters: Sequence[Emitter], lumens: float):
        self.light, self.emitters, self.lumens = light, emitters, lumens
        self.at = np.asarray(light.at, float)
        tungsten = light.spectrum == "tungsten"
        kelvin = light.cct or FILM_TUNGSTEN
        # A flame's heat rises with its gases, and not as its light does.
        self.watts_per_lumen = 0.0 if light.flame else 1 / (
            black_body_efficacy(kelvin) if tungsten else EFFICACY_LM_PER_W["metal halide"][0])
        self.infrared = black_body_infrared(kelvin) if tungsten else 1.0

    def heat(self, points: np.ndarray) -> float:
        """Return the most heat at any of some points, shape (n, 3). [W/m²]"""
        if not self.watts_per_lumen or not self.emitters:
            return 0.0
        lux = sum(illuminance_at(each, points) for each in self.emitters)
        return float(np.max(lux)) * self.lumens * self.watts_per_lumen

    def _axes(self) -> list[np.ndarray]:
        """Return the directions of its beams."""
        return [np.asarray(each.world_from_light, float)[:, 2] for each in self.emitters if each.flat]

    def _over(self, edges: Edges) -> np.ndarray:
        """Return points all over a rectangle, where its beams meet it among them, shape (n, 3). [m]"""
        centre, half_u, half_v = (np.asarray(each, float) for each in edges)
        steps = np.linspace(-1, 1, 9)
        points = [centre + u * half_u + v * half_v for u in steps for v in steps]
        normal = np.cross(half_u, half_v)
        for axis in self._axes():
            slope, gap = float(axis @ normal), float((centre - self.at) @ normal)
            if slope * gap > 0:
                # Where the axis meets the plane, or the edge that is nearest to that.
                points.append(_nearest(self.at + axis * gap / slope, edges))
        return np.array([*points, _nearest(self.at, edges)])

    def on_cloth(self, name: str, edges: Edges) -> Iterator[Caution]:
        gap, heat = distance(self.at, edges), self.heat(self._over(edges))
        if gap < NEAR_CLOTH or heat >= FULL_SUN:
            yield self._caution(name, gap, heat, "heat near cloth and boards", URGENT,
                                "Keep the lamp's marked distance and use flame-retardant cloth")

    def on_figure(self, name: str, corners: np.ndarray) -> Iterator[Caution]:
        gap = float(np.min(np.linalg.norm(corners - self.at, axis=1)))
        middle = [corners[np.argmax(_cosines(corners - self.at, axis))] for axis in self._axes()]
        heat = self.heat(np.array([*corners[::max(1, len(corners) // MOST_POINTS)], *middle]))
        if gap < NEAR_PEOPLE:
            yield self._caution(name, gap, heat, "heat near people", URGENT,
                                "Keep skin, hair and sleeves off it, and let it cool before it is handled")
        infrared = heat * self.infrared
        if infrared >= INFRARED_LIMIT:
            lamp = self.light.name
            brief = (f"Infrared: {lamp} sends {name} up to {infrared:.0f} W/m²; for eyes the limit over "
                     f"1000 s is {INFRARED_LIMIT:.0f} W/m²")
            yield Caution(
                "infrared", "heat at eyes", brief,
                f"{brief}. At full level, with nothing in between; gels and cloth for heat take some of it. "
                "Keep takes short and let eyes rest; whoever is in charge of safety decides. "
                "Source: ICNIRP 1997.", "ICNIRP 1997", WARM, (lamp, name), infrared)

    def on_glass(self, name: str, edges: Edges) -> Iterator[Caution]:
        gap, heat = distance(self.at, edges), self.heat(self._over(edges))
        if heat >= FULL_SUN:
            yield self._caution(name, gap, heat, "heat on glass", WARM,
                                "Glass that is heated in one place cracks: keep off it, warm it slowly, "
                                "and let nobody stand under it")

    def _caution(self, name: str, gap: float, heat: float, word: str, urgency: int, advice: str) -> Caution:
        lamp = self.light.name
        over = heat >= WOOD_LIMIT
        source = ("Babrauskas 2001" if over else
                  "IEC 60904-3, from memory" if heat >= FULL_SUN else NO_SOURCE)
        far = f"{lamp} is {gap:.1f} m from {name}"
        much = f", up to {watts_text(heat)} there, more than full sun" if heat >= FULL_SUN else ""
        limit = f"; {WOOD_LIMIT / 1000:g} set wood alight within hours" if over else ""
        hot = "" if not heat else (
            f" At most {watts_text(heat)} arrive there at full level; full sun is {FULL_SUN / 1000:g} kW/m², "
            f"and {WOOD_LIMIT / 1000:g} kW/m² set wood alight within hours (Babrauskas 2001).")
        text = (f"Heat: {far}. {advice}.{hot} The venue and whoever is in charge of fire safety decide. "
                f"Source: {source}.")
        return Caution("heat", word, f"Heat: {far}{much}{limit}", text, source,
                       FLAME if self.light.flame else urgency, (lamp, name), heat)


def watts_text(heat: float) -> str:
    """Return heat on a surface as it is told."""
    return f"{heat / 1000:.2g} kW/m²" if heat >= 1000 else f"{float(f'{heat:.2g}'):g} W/m²"


def illuminance_at(emitter: Emitter, points: np.ndarray) -> np.ndarray:
    """Return what receptors that face an emitter get of one lumen of its lamp, with nothing in between.

    E = sum over the pieces of its face of I / r². Where the table is a focused picture it is taken as
    from the face itself.

    Parameters
    ----------
    emitter : Emitter
    points : float array, shape (n, 3)
        [m]

    Returns
    -------
    float array, shape (n,)
        [lx/lm]
    """
    middles, normals, areas = _pieces(emitter)
    # Axis by axis: arrays of points by pieces are large, and threes of numbers slow to go through.
    towards = [points[:, None, k] - middles[:, k] for k in range(3)]

    def along(x: np.ndarray, y: np.ndarray, z: np.ndarray) -> np.ndarray:
        return towards[0] * x + towards[1] * y + towards[2] * z

    far = np.maximum(np.sqrt(along(*towards)), LEAST_DISTANCE)
    if emitter.table is None:
        intensity = np.maximum(along(*normals.T) / far, 0.0) / np.pi
    else:
        right, down, ahead = np.asarray(emitter.world_from_light, float).T
        theta = np.degrees(np.arccos(np.clip(along(*ahead) / far, -1, 1)))
        if emitter.table.round:
            intensity = np.interp(theta, emitter.table.theta_deg, emitter.table.values[:, 0], right=0.0)
        else:
            intensity = emitter.table.intensity(
                theta, np.degrees(np.arctan2(along(*down), along(*right))))
    return emitter.share * (intensity / far**2) @ (areas / areas.sum())


def _pieces(emitter: Emitter) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return middles (m, 3) [m], normals (m, 3) and areas (m,) [m²] of small parts of a face."""
    faces = np.asarray(emitter.faces)
    if len(faces) > MOST_PIECES:
        # By chance, the same in every run: neighbours in a file often face alike.
        faces = faces[np.random.default_rng(0).choice(len(faces), MOST_PIECES, replace=False)]
    corners = np.asarray(emitter.vertices, float)[faces]
    if len(corners) <= FEW_FACES:
        corners = _cut(corners)
    crossed = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(crossed, axis=1)
    real = twice > 0
    return corners.mean(axis=1)[real], (crossed[real] / twice[real, None]), twice[real] / 2


def _cut(corners: np.ndarray) -> np.ndarray:
    """Return triangles (n, 3, 3), each cut into `CUTS` squared like ones."""
    first, edges = corners[:, 0], corners[:, 1:] - corners[:, :1]
    made = []
    for i in range(CUTS):
        for j in range(CUTS - i):
            steps = [[(i, j), (i + 1, j), (i, j + 1)]]
            if i + j < CUTS - 1:
                steps.append([(i + 1, j + 1), (i, j + 1), (i + 1, j)])
            made += [first[:, None] + np.einsum("sk,nkc->nsc", np.array(each) / CUTS, edges)
                     for each in steps]
    return np.concatenate(made)


def distance(point: np.ndarray, edges: Edges) -> float:
    """Return the distance of a point from a rectangle. [m]"""
    return float(np.linalg.norm(point - _nearest(point, edges)))


def _nearest(point: np.ndarray, edges: Edges) -> np.ndarray:
    centre, *halves = edges
    offset = point - centre
    along = np.zeros(3)
    for half in halves:
        along += half * np.clip(offset @ half / (half @ half), -1, 1)
    return np.asarray(centre + along)


def _cosines(offsets: np.ndarray, axis: np.ndarray) -> np.ndarray:
    """Return the cosines between offsets, shape (n, 3), and a direction."""
    return offsets @ axis / np.maximum(np.linalg.norm(offsets, axis=1), 1e-9)
