"""What holds lamps and what stands in the light, in a section: stands, and what hung things hang by."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from previz.plans.drafting import Drafting
from previz.plans.outlines import covered, rings
from previz.plans.records import Shape
from previz.stage.build import BOOM_END
from previz.stage.records import Mesh
from previz.stage.stands import CROWN, ON_CAMERA, ON_STAND, SPREAD, UNDER_CEILING

if TYPE_CHECKING:
    from previz.scene.light import Light
    from previz.scene.scene import Scene

def on_a_stand(light: Light, draft: Drafting) -> bool:
    """Whether a lamp needs a stand of its own."""
    at = draft.stage.places[light.name]
    on_camera = light.held == "camera" and any(np.linalg.norm(at - camera.position) < ON_CAMERA
                                               for camera in draft.stage.cameras)
    return light.held in ("stand", "camera") and light.hung is None and not light.in_shot and not on_camera


def pole(draft: Drafting, scene: Scene, name: str, at: np.ndarray, layer: str) -> Iterator[Shape]:
    """Yield the stand under a thing, its pole and two of its legs, where it needs one."""
    bodies = [mesh.vertices for mesh in draft.stage.meshes if mesh.name == name]
    bodies += [emitter.vertices for emitter in draft.stage.emitters if emitter.name == name]
    low = min((float(body[:, 1].min()) for body in bodies), default=float(at[1]))
    ceiling = scene.room.size[2] if scene.room is not None and scene.room.ceiling else np.inf
    if ceiling - at[1] >= UNDER_CEILING:
        yield from _stand(draft, scene, name, np.array([at[0], low, at[2]]), layer)


def hangers(draft: Drafting, scene: Scene, name: str, hung: str | None, layer: str) -> Iterator[Shape]:
    """Yield what a hung thing hangs by as it is seen: cord, pipe, plate, or boom and its stand."""
    held = [mesh for mesh in draft.stage.meshes if mesh.name == name]
    if hung is None or not held:
        return
    # `Stage` has it after all else of a thing.
    yield from _seen(held[-1], layer, name)
    end = draft.stage.places.get(name + BOOM_END)
    if end is not None:
        yield from _stand(draft, scene, name, np.asarray(end, float), layer)


def _seen(mesh: Mesh, layer: str, name: str) -> Iterator[Shape]:
    triangles = np.asarray(mesh.vertices, float)[np.asarray(mesh.faces)]
    for points, closed in rings(covered(triangles[..., :2])):
        yield Shape(layer, points, closed, "thin", "tint" if closed else "", name, "hanger")


def _stand(draft: Drafting, scene: Scene, name: str, top: np.ndarray, layer: str) -> Iterator[Shape]:
    foot = _under(draft, scene, top)
    tall = float(top[1]) - foot
    if tall < ON_STAND or not draft.extent.has(top[:2]):
        return
    yield Shape(layer, np.array([[top[0], foot], [top[0], top[1]]]), pen="thin", name=name, part="stand")
    crown = foot + min(CROWN, 0.6 * tall)
    for side in (-SPREAD, SPREAD):
        leg = np.array([[top[0], crown], [top[0] + side, foot]])
        yield Shape(layer, leg, pen="thin", name=name, part="stand")


def _under(draft: Drafting, scene: Scene, top: np.ndarray) -> float:
    """Return the height of what stands under a point: the top of a piece, or the floor. [m]"""
    names = {piece.name for piece in scene.pieces}
    heights = [0.0]
    for mesh in draft.stage.meshes:
        if mesh.name in names and len(mesh.vertices):
            least, most = np.asarray(mesh.vertices).min(axis=0), np.asarray(mesh.vertices).max(axis=0)
            over = least[0] <= top[0] <= most[0] and least[2] <= top[2] <= most[2]
            if over and most[1] <= top[1] + 1e-6:
                heights.append(float(most[1]))
    return max(heights)
