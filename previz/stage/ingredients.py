"""What the light of one lamp depends on, part by part, each with a fingerprint of its own.

Names do not count, nor does the order of things, nor anything that only changes a level or a
colour. Guides do not count either: they say where rays are sent, not what comes back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from previz.stage.bodies import body_of, things_of
from previz.stage.fingerprint import digest_of, seen_by
from previz.stage.records import Camera, Stage

SHORT = 16
"""Hexadecimal digits that are kept of a part's fingerprint."""


def _short(*values) -> str:
    return digest_of(*values)[:SHORT]


@dataclass(frozen=True)
class Ingredients:
    """The parts of a stage that light depends on.

    Parameters
    ----------
    things : dict of str to str
        Name of a thing -> fingerprint of its triangles and surfaces.
    air : str
        Of haze and panes.
    bodies : dict of str to str
        Lamp -> fingerprint of its body; '' for sun and sky.
    lamps : dict of str to str
        Lamp -> fingerprint of how it sends out its light, and from where.
    """

    things: dict[str, str]
    air: str
    bodies: dict[str, str]
    lamps: dict[str, str]

    def other_bodies(self, lamp: str) -> str:
        """Return the fingerprint of the bodies of all lamps but one."""
        return _short(sorted(body for name, body in self.bodies.items() if name != lamp and body))

    def of_lamp(self, lamp: str, camera: Camera, *settings) -> str:
        """Return the fingerprint of one lamp's light at a camera, the bodies of others aside.

        Settings are size, seed, bands and version; of the camera what `fingerprint.seen_by` says counts.
        """
        return digest_of(sorted(self.things.values()), self.air, self.bodies[lamp],
                         self.lamps[lamp], seen_by(camera), list(settings))[:32]


def ingredients(stage: Stage) -> Ingredients:
    """Return the parts of a stage with their fingerprints."""
    surfaces = {name: _short(replace(surface, name="")) for name, surface in stage.surfaces.items()}

    def of_mesh(mesh):
        return _short(surfaces[mesh.surface], mesh.vertices, mesh.faces, mesh.normals, mesh.uv)

    things: dict[str, list] = {}
    for mesh in things_of(stage):
        things.setdefault(mesh.name, []).append(of_mesh(mesh))
    bodies, lamps = {}, {}
    for number, lamp in enumerate(stage.lamps):
        body = body_of(stage, number)
        parts = sorted([of_mesh(m) for m in body.meshes]
                       + [_short(face.vertices, face.faces) for face in body.faces])
        bodies[lamp.name] = _short(parts) if parts else ""
        sent = [replace(face, lamp=0, name="") for face in body.faces]
        outside = [replace(each, lamp=0) for each in (stage.sun, stage.sky)
                   if each is not None and each.lamp == number]
        lamps[lamp.name] = _short(sent, outside)
    return Ingredients({name: _short(sorted(each)) for name, each in things.items()},
                       _short(stage.haze, [replace(pane, name="") for pane in stage.panes]), bodies, lamps)
