"""What paths that meet flat mirrors remember, so that light sampling via those mirrors is weighed."""

from __future__ import annotations

from previz.engine.image_sample import mirror_fifth
from previz.engine.images import DIRECT, LOST
from previz.engine.jit import dr, mi
from previz.engine.tables import NONE


class Trail:
    """What a path that meets a mirror keeps of the direction before it; see `Path`.

    Parameters
    ----------
    path : Path
        As its leg begins.
    images : images.Images
    hit : Hit
    vertex : Vertex
    """

    def __init__(self, path, images, hit, vertex):
        self.path, self.images = path, images
        self.trail, self.unfolded, self.counted = path.trail, path.unfolded, path.counted
        self.pdf, self.sky = path.pdf, path.sky_pdf
        self.site = path.cell, path.place, path.share
        self.origin, self.direction = path.origin, path.direction
        if not images.has_faces:
            return
        fifth = mirror_fifth(vertex.cos_view)
        own = dr.gather(mi.UInt, images.of_face, hit.face, hit.valid)
        self.at_surface = (dr.select(hit.valid, own, NONE), hit.distance, vertex.gloss * dr.lerp(
            getattr(vertex, "mean_specular", mi.Float(0)), 1, fifth))

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
        path = self.path
        path.trail = dr.select(active, DIRECT, path.trail)
        path.unfolded = dr.select(active, 0, path.unfolded)
        if counted is not None:
            path.counted = dr.select(active, counted, path.counted)

    def follow(self, mirrored, mirror, leg, kept):
        """Go on with the trail where a mirror sends the path on; its pdf is that of before."""
        path, images = self.path, self.images
        begun = mirrored & (self.pdf >= 0)
        trail = images.extend(self.trail, mirror)
        known = begun & (trail != LOST)
        path.trail = dr.select(begun, trail, dr.select(mirrored, self.trail, path.trail))
        path.pdf = dr.select(known, self.pdf * kept, path.pdf)
        path.unfolded = dr.select(known, self.unfolded + leg, path.unfolded)
        path.counted = dr.select(known, self.counted, path.counted)
        path.cell, path.place, path.share = (
            dr.select(known, before, now) for before, now in zip(
                self.site, (path.cell, path.place, path.share), strict=True))
        if images.buffers.sky_lamp in images.lamps:
            begun = known & (self.trail == DIRECT)
            # Few paths are at a mirror, and the rectangle's solid angle is long to work out.
            sky = dr.if_stmt((begun, mirror, mi.Point3f(self.origin), mi.Vector3f(self.direction)), begun,
                             lambda begun, mirror, origin, direction: images.sky_pdf(
                                 mirror, origin, direction, begun),
                             lambda *_: mi.Float(0))
            path.sky_pdf = dr.select(known, dr.select(begun, sky, self.sky), path.sky_pdf)
