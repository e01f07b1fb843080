"""What paths that meet flat mirrors remember, so that light sampling via those mirrors is weighed."""

from __future__ import annotations

from copy import copy

from previz.engine.device import put
from previz.engine.image_sample import mirror_fifth
from previz.engine.images import DIRECT, LOST
from previz.engine.jit import dr, mi
from previz.engine.tables import NONE


class Trail:
    """What a path that meets a mirror keeps of the direction before it; `before` is as its leg begins."""

    def __init__(self, path, images, hit, vertex):
        self.path, self.before, self.images = path, copy(path), images
        if not images.has_faces:
            return
        fifth = mirror_fifth(vertex.cos_view)
        own = dr.gather(mi.UInt, images.of_face, hit.face, hit.valid)
        self.at_surface = (dr.select(hit.valid, own, NONE), hit.distance,
                           vertex.gloss * dr.lerp(vertex.mean_specular, 1, fifth))

    def at_pane(self, crossing):
        """Return (mirror, length of the leg, reflectance) where a pane or sheet mirrors the leg."""
        own, images = mi.UInt(NONE), self.images
        panes = crossing
        if images.of_sheet is not None:
            known = crossing.face != NONE
            own = dr.select(known, dr.gather(mi.UInt, images.of_sheet, crossing.face, known), own)
            panes = getattr(crossing, "panes", None)
        for index, mirror in enumerate(images.of_pane):
            own = dr.select(panes.which == index, mirror, own)
        return own, crossing.away, crossing.share

    def begin(self, active, counted):
        """Begin a new trail where a path goes on from a point that is no mirror."""
        put(self.path, active, trail=DIRECT, unfolded=0)
        if counted is not None:
            put(self.path, active, counted=counted)

    def follow(self, mirrored, mirror, leg, kept):
        """Go on with the trail where a mirror sends the path on; its pdf is that of before."""
        path, before, images = self.path, self.before, self.images
        begun = mirrored & (before.pdf >= 0)
        trail = images.extend(before.trail, mirror)
        known = begun & (trail != LOST)
        path.trail = dr.select(begun, trail, dr.select(mirrored, before.trail, path.trail))
        put(path, known, pdf=before.pdf * kept, unfolded=before.unfolded + leg, counted=before.counted,
            cell=before.cell, place=before.place, share=before.share)
        if images.buffers.sky_lamp in images.lamps:
            begun = known & (before.trail == DIRECT)
            # Few paths are at a mirror, and the rectangle's solid angle is long to work out.
            sky = dr.if_stmt((begun, mirror, mi.Point3f(before.origin), mi.Vector3f(before.direction)),
                             begun, lambda begun, mirror, origin, direction: images.sky_pdf(
                                 mirror, origin, direction, begun),
                             lambda *_: mi.Float(0))
            put(path, known, sky_pdf=dr.select(begun, sky, before.sky_pdf))
