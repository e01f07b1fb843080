"""The transport loop: one pass gives every lamp and every wavelength band apart.

Each thread owns one pixel (or one batch of a meter) and runs its samples one after the other in a
single loop: when a path ends, the same lane starts the next sample, so no lane idles while its
neighbours finish. As no two threads write to the same place, the sums need no atomics and are the
same on any number of threads.

A path carries one throughput a band. Lamps give out unit flux in every band; each contribution is
added to its lamp's slice. All estimators are unbiased: light sampling and path sampling are joined
by the balance heuristic, paths end by Russian roulette, and `max_depth` is a safety stop only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from previz.engine import lighting
from previz.engine.airlight import AirPass
from previz.engine.choice import EVEN
from previz.engine.device import on_device
from previz.engine.glass import Boundary, clear_things, crossing_of, straight_through
from previz.engine.haze import Haze
from previz.engine.hit import Hit, offset_point
from previz.engine.images import AT_METERS, DIRECT, LOST, Look, Looked, mirror_fifth
from previz.engine.jit import dr, mi
from previz.engine.shading import Vertex
from previz.engine.spread import FOR_LAMPS, FOR_RAY, Spread
from previz.engine.subsurface import Entry
from previz.engine.tables import NONE
from previz.engine.tally import Tally


@dataclass(frozen=True)
class Limits:
    """How long paths may get.

    Parameters
    ----------
    max_depth : int
        Most surfaces on one path.
    roulette_depth : int
        Surfaces after which a path may end by chance, in proportion to what it still carries.
    """

    max_depth: int = 64
    roulette_depth: int = 3


def _paths(samples):
    """Return the samples of each thread on the device."""
    if isinstance(samples, int):
        return dr.opaque(mi.UInt, samples)
    return on_device(mi.UInt, samples)


_OF_MIRRORS = ("place", "share", "trail", "unfolded", "counted")


@dataclass
class Path:
    """What a lane remembers from leg to leg.

    `density` is the chance per solid angle of the last direction (below 0: it came from a camera
    or a mirror, and light sampling could not have found it); `sky_density` that of the sky's own
    sampling in the same direction; `cell` that of the `LampChoice` made where it was drawn, and
    `place` and `share` as in `images.Looked`. Behind
    a mirror in which lamps are looked for both are those of the direction before it, times the
    mirror's reflectance; `trail` tells which mirrors, `unfolded` how long the way was to the last;
    `counted` that light met without any has been counted elsewhere. `haze_depth` and `scatterings`
    are its optical depth of haze and how often it scattered there; `veil` is set where the air
    itself sends it to the camera. What is kept for mirrors alone is None in a stage that has none.
    """

    whole: mi.UInt
    thread: mi.UInt
    left: mi.UInt
    sample: mi.UInt
    turn: mi.UInt
    key: mi.UInt
    rng: mi.PCG32
    origin: mi.Point3f
    direction: mi.Vector3f
    beta: list
    depth: mi.UInt
    density: mi.Float
    sky_density: mi.Float
    cell: mi.UInt
    place: mi.UInt | None
    share: mi.Float | None
    fresh: mi.Bool
    haze_depth: mi.Float
    scatterings: mi.UInt
    veil: mi.Bool
    trail: mi.UInt | None
    unfolded: mi.Float | None
    counted: mi.Bool | None


class Transport:
    """Runs paths for one stage on the device.

    Parameters
    ----------
    buffers : Buffers
    start : CameraStart or ProbeStart
        Gives each sample its first ray, and tells where contributions go.
    limits : Limits
    densities : tuple of float
        Factors on the density of the haze, to be summed apart; see `tally`.
    """

    def __init__(self, buffers, start, limits=None, densities=()):
        self.buffers, self.start, self.limits = buffers, start, limits or Limits()
        self.densities = tuple(densities)

    def run(self, first: int, count: int, samples: int, seed: int):
        """Trace all samples of a range of threads.

        Parameters
        ----------
        first, count : int
            Range of the start's threads.
        samples : int, or int array of shape (count,)
            Samples that each thread traces.
        seed : int
            Picks the random numbers together with the thread's own number.

        Returns
        -------
        Float, size count · start.slots · parts · lamps · bands
            Sum over the samples; one part, or two a density.
        """
        buffers = self.buffers
        tally = Tally(buffers, self.start, count, self.densities)
        if not buffers.lamps:
            return tally.sums
        thread = dr.arange(mi.UInt, count)
        whole = thread + dr.opaque(mi.UInt, first)
        v0, v1 = mi.sample_tea_32(dr.opaque(mi.UInt, seed), whole)
        rng = mi.PCG32(initstate=mi.UInt64(v0), initseq=mi.UInt64(v1))
        turn = mi.UInt(rng.next_float32() * buffers.lamps)
        path = Path(
            whole=whole, thread=thread, left=_paths(samples), sample=mi.UInt(0),
            turn=turn, key=v0 ^ v1, rng=rng, origin=mi.Point3f(0), direction=mi.Vector3f(0, 0, 1),
            beta=[mi.Float(1) for _ in range(buffers.bands)], depth=mi.UInt(0),
            density=mi.Float(-1), sky_density=mi.Float(0),
            cell=dr.opaque(mi.UInt, EVEN), fresh=mi.Bool(True), haze_depth=mi.Float(0),
            scatterings=mi.UInt(0), veil=mi.Bool(False),
            **(dict.fromkeys(_OF_MIRRORS) if buffers.images is None else {
                "place": mi.UInt(0), "share": mi.Float(0), "trail": mi.UInt(DIRECT),
                "unfolded": mi.Float(0), "counted": mi.Bool(False)}))

        def more(path):
            return path.sample < path.left

        def body(path):
            self._begin(path)
            Step(self, path, tally).advance()
            path.sample = dr.select(path.fresh, path.sample + 1, path.sample)
            return (path,)

        path, = dr.while_loop(state=(path,), cond=more, body=body, label="transport")
        if buffers.has_haze and not self.start.has_receptor:
            AirPass(buffers, self.start).run(tally, whole, _paths(samples), seed)
        dr.eval(tally.sums)
        return tally.sums

    def _begin(self, path):
        """Start the next sample in lanes whose path has ended."""
        numbers = Spread(path.key, 0, path.sample, FOR_RAY)
        origin, direction = self.start.ray(path.whole, path.sample, numbers)
        path.origin = dr.select(path.fresh, origin, path.origin)
        path.direction = dr.select(path.fresh, direction, path.direction)
        path.beta = [dr.select(path.fresh, 1.0, b) for b in path.beta]
        path.depth = dr.select(path.fresh, 0, path.depth)
        path.density = dr.select(path.fresh, -1.0, path.density)
        path.haze_depth = dr.select(path.fresh, 0.0, path.haze_depth)
        path.scatterings = dr.select(path.fresh, 0, path.scatterings)
        path.veil &= ~path.fresh
        if path.trail is not None:
            path.trail = dr.select(path.fresh, DIRECT, path.trail)
            path.unfolded = dr.select(path.fresh, 0.0, path.unfolded)
            path.counted &= ~path.fresh


class Step:
    """One leg of every path: meet a surface, add its light, choose where to go on."""

    def __init__(self, transport, path, tally):
        self.buffers, self.start, self.limits = (transport.buffers, transport.start,
                                                 transport.limits)
        self.path, self.tally = path, tally

    def _float(self):
        return self.path.rng.next_float32()

    def _point(self):
        return mi.Point2f(self._float(), self._float())

    def _look(self, even, spread):
        """Return (number, point) for a look at a lamp; where `spread`, evenly over the samples."""
        u, x, y = (dr.select(spread, each, self._float()) for each in even[:3])
        return u, mi.Point2f(x, y)

    def add(self, lamp, values, weight, bounced, active, further=0.0):
        """Add a path's light to the slice of its lamp; `further` is a last leg's depth of haze."""
        path = self.path
        self.tally.add(path.thread, lamp, values, weight, bounced, active,
                       path.haze_depth + further, path.scatterings, path.veil)

    def advance(self):
        """Take the path one surface, or one scattering in the haze, further."""
        path = self.path
        buffers = self.buffers
        at_start = (path.depth == 0) if self.start.has_receptor else None
        travel = mi.Bool(True) if at_start is None else ~at_start
        ray = mi.Ray3f(path.origin, path.direction)
        hit = Hit(buffers, ray, travel)
        air = Flight(self, hit, travel) if buffers.has_haze else None
        leg = hit.distance if air is None else air.distance
        mirrored = mi.Bool(False)
        if clear_things(buffers):
            crossing = crossing_of(buffers, ray, leg, travel)
            mirrored = crossing.reflects(self._float())
            path.beta = crossing.attenuate(path.beta, mirrored)
        passed = path.beta
        point, side, normal = hit.point, hit.side, hit.normal
        arrived = travel & ~mirrored
        surface = hit.surface
        if air is not None:
            air.settle(mirrored, crossing.away if clear_things(buffers) else None)
            arrived &= ~air.scatters
            point = dr.select(air.scatters, air.point, point)
            normal = dr.select(air.scatters, -path.direction, normal)
            side = dr.select(air.scatters, -path.direction, side)
            surface = dr.select(air.scatters, buffers.black, surface)
        self._add_found_light(hit, arrived)
        valid = hit.valid & arrived
        if air is not None:
            valid |= air.scatters
        if at_start is not None:
            receptor = self.start.receptor(path.whole)
            point = dr.select(at_start, receptor.point, point)
            side = dr.select(at_start, receptor.normal, side)
            normal = dr.select(at_start, receptor.normal, normal)
            surface = dr.select(at_start, buffers.black, surface)
            valid |= at_start
        view = dr.select(valid, -path.direction, normal)
        if at_start is not None:
            view = dr.select(at_start, normal, view)
        vertex = Vertex(buffers, surface, normal, side, view, hit.uv, valid, hit.rounded & arrived)
        if buffers.has_subsurface and at_start is None:
            vertex.entry = Entry(buffers, hit, partial(Hit, buffers),
                                 arrived & (path.density < 0), self._point())
        if buffers.has_bodies:
            vertex.boundary = Boundary(buffers, hit, path.direction, self._float(),
                                       hit.valid & arrived)
            path.beta = vertex.boundary.absorb(path.beta)
        guides = lighting.Guides(buffers, point) if buffers.guides else None
        self.special = Special(self, at_start, air, vertex)
        trail = None if buffers.images is None else Trail(path, buffers.images, hit, vertex)
        self._add_sampled_light(vertex, guides, point, valid)
        self._go_on(vertex, guides, point, valid, trail)
        if clear_things(buffers):
            self._mirror(crossing, mirrored, passed, trail)

    def _add_found_light(self, hit, active):
        """Add the light of an emitter, the sun or the sky that this ray ran into."""
        path = self.path
        buffers = self.buffers
        bounced = path.depth > 1
        if buffers.emitters:
            lit = active & hit.valid & (hit.emitter != NONE) & (hit.cos_emit > 1e-6)
            value = lighting.emitted(buffers, hit.emitter, hit.point, -path.direction,
                                     hit.cos_emit, lit)
            lamp = lighting.read_emitter(buffers, "owner", hit.emitter, lit, mi.Vector4u).x
            far = hit.distance if path.unfolded is None else path.unfolded + hit.distance
            other = lighting.emitter_density(buffers, hit.emitter, hit.area, dr.square(far),
                                             hit.cos_emit, lit)
            weight = self._found_weight(other, lamp)
            shown = lighting.pictured(buffers, path.beta, hit.emitter, hit.point, lit)
            self.add(lamp, shown, value * weight, bounced, lit)
        away = active & ~hit.valid
        if buffers.sun_lamp >= 0:
            value, other = lighting.sun_radiance(buffers, path.direction, away)
            weight = self._found_weight(other, buffers.sun_lamp)
            self.add(mi.UInt(buffers.sun_lamp), path.beta, value * weight, bounced, away)
        if buffers.sky_lamp >= 0:
            value = lighting.sky_radiance(buffers, path.direction, away)
            weight = self._found_weight(path.sky_density, buffers.sky_lamp)
            self.add(mi.UInt(buffers.sky_lamp), path.beta, value * weight, bounced, away)

    def _found_weight(self, other, lamp):
        """Return the weight of a lamp that this ray ran into; `other`: of a look's drawing it."""
        path, images = self.path, self.buffers.images
        if images is None:
            other = other * self.buffers.choice.chance(path.cell, mi.UInt(lamp))
            return dr.select(path.density < 0, 1, path.density / (path.density + other))
        other = other * images.chance(Looked(path.cell, path.place, path.share), lamp, path.trail)
        weight = dr.select(path.density < 0, 1, path.density / (path.density + other))
        return dr.select(path.counted & (path.trail == DIRECT), 0, weight)

    def _add_sampled_light(self, vertex, guides, point, active):
        """Look from this point at one lamp; the first look takes turns."""
        path = self.path
        buffers = self.buffers
        number = self._float()
        lamp = (path.turn + path.sample) % buffers.lamps
        numbers = Spread(path.key, lamp + 1, path.sample // buffers.lamps, FOR_LAMPS)
        even = [numbers.next_float32() for _ in FOR_LAMPS]
        if buffers.choice.useful or buffers.images is not None:
            cell = buffers.choice.cell(point)
        look = None
        if buffers.images is not None:
            number = dr.select(path.depth == 0, even[3], number)
            look = self._mirrored_look(point, cell, number, active)
            number = look.number
        if buffers.choice.useful:
            first_look = path.depth == 0
            path.cell = dr.select(first_look, EVEN, cell)
            lamp = dr.select(first_look, lamp, buffers.choice.draw(cell, number))
        seen_from, spread = point, path.depth == 0
        if look is not None:
            lamp = dr.select(look.mirrored, look.lamp, lamp)
            seen_from, spread = look.seen_from, spread & ~look.mirrored
        u, where = self._look(even, spread)
        direction, distance, value, density = lighting.sample_light(
            buffers, guides, seen_from, lamp, u, where, active)
        if look is None:
            arriving = direction
            density *= buffers.choice.chance(path.cell, lamp)
        else:
            if buffers.sky_lamp in buffers.images.lamps:
                direction, value, density = look.aim_at_sky(lamp, where, (direction, value, density))
            arriving = look.arriving(direction)
            density *= dr.select(look.mirrored, look.chance,
                                 (1 - path.share) * buffers.choice.chance(path.cell, lamp))
        values, path_density = vertex.evaluate(arriving)
        values, path_density = self.special.evaluate(values, path_density, arriving)
        if guides is not None:
            path_density = self._mix(vertex, guides, path_density, guides.densities(arriving)[0])
        path_density *= 1 - vertex.p_mirror
        sent = active & (value > 0) & (density > 0) & ~self.special.dark
        gain = mi.Float(0)
        for v in values:
            gain = dr.maximum(gain, v)
        useful = sent & (gain > 0)
        if self.special.counted is not None:
            useful &= ~self.special.counted if look is None else (
                ~self.special.counted | look.mirrored)
        origin = self.special.leave(point, vertex, arriving)
        lit = seen_from + direction * distance
        carried = [b * v for b, v in zip(path.beta, values, strict=True)]
        further, bounced = 0.0, path.depth > 0
        if look is not None:
            bounced |= look.mirrored
            seen_from = look.unfold(origin)
            way = lit - seen_from
            length = dr.norm(way)
            useful, origin, factors, kept, further = look.travel(origin, way / length, length, useful)
            factors = factors if len(factors) > 1 else factors * buffers.bands
            carried = [c * f for c, f in zip(carried, factors, strict=True)]
            path_density *= kept
        # Aimed anew from the moved origin: along the old way a ray runs into a lamp that is near.
        way = lit - origin
        length = dr.norm(way)
        way /= length
        shadow = mi.Ray3f(origin, way)
        shadow.maxt = length * (1 - 1e-3)
        useful &= ~buffers.scene.ray_test(shadow, coherent=False, active=useful)
        if vertex.entry is not None:
            straight = sent if look is None else sent & ~look.mirrored
            seeped, useful = self._seep(vertex, values, useful, straight, direction, lit)
            seeped = [b * v for b, v in zip(path.beta, seeped, strict=True)]
            carried = seeped if look is None else [
                dr.select(look.mirrored, c, s) for c, s in zip(carried, seeped, strict=True)]
        weight = value / (density + path_density)
        carried = lighting.sampled_picture(buffers, carried, lamp, lit, useful)
        if clear_things(buffers):
            carried = straight_through(buffers, carried, origin, way, length, useful)
        if buffers.has_haze:
            further += Haze(buffers).along(origin, way, length)
            weight *= dr.exp(-further)
        self.add(lamp, carried, weight, bounced, useful, further)

    def _mirrored_look(self, point, cell, number, active):
        """Return the `Look` of this point, and keep where it is from."""
        path, images = self.path, self.buffers.images
        share = dr.gather(mi.Float, images.looks, cell)
        if self.start.has_receptor:
            share = dr.select(path.depth == 0, dr.maximum(share, AT_METERS), share)
        if self.special.counted is not None:
            # Its direct light is counted elsewhere.
            share = dr.select(self.special.counted, 1, share)
        path.place, path.share = cell, share
        return Look(images, point, Looked(path.cell, cell, share), number, active)

    def _seep(self, vertex, values, useful, sent, direction, lit):
        """Return the lobes with the light that came in beside, and where there is any.

        Both points look at the same place `lit` of the lamp, whose direction from both is taken
        to be the same: they are millimetres apart.
        """
        entry = vertex.entry
        here, there, shares = vertex.seeped(direction)
        looked = sent & (there > 0)

        def clear(looked, origin, lit):
            way = lit - origin
            length = dr.norm(way)
            shadow = mi.Ray3f(origin, way / length)
            shadow.maxt = length * (1 - 1e-3)
            return looked & ~self.buffers.scene.ray_test(shadow, coherent=False, active=looked)

        origin = offset_point(entry.place.point, entry.place, direction)
        looked = dr.if_stmt((looked, mi.Point3f(origin), mi.Point3f(lit)), looked, clear,
                            lambda *_: mi.Bool(False))
        more = dr.select(looked, there, 0)
        return [dr.select(useful, v - s * here, 0) + s * more
                for v, s in zip(values, shares, strict=True)], useful | looked

    @staticmethod
    def _mix(vertex, guides, own, aimed):
        return dr.select(vertex.only_mirror, own, dr.lerp(own, aimed, guides.share))

    def _go_on(self, vertex, guides, point, active, trail):
        """Choose the next direction from the lobes and the guides, and end paths by chance."""
        path = self.path
        buffers, special = self.buffers, self.special
        choice, where = self._float(), self._point()
        direction = special.sample(vertex.sample(self._float(), where), where)
        if guides is not None:
            aim = (choice < guides.share) & ~vertex.only_mirror
            direction = dr.select(aim, guides.sample(choice / guides.share, where), direction)
        values, density = special.evaluate(*vertex.evaluate(direction), direction)
        openings = mi.Float(0)
        if guides is not None:
            aimed, openings = guides.densities(direction)
            density = self._mix(vertex, guides, density, aimed)
        density *= 1 - vertex.p_mirror
        factors = [v / dr.maximum(density, 1e-12) for v in values]
        mirror = mi.Bool(False)
        if buffers.has_mirror:
            mirror = active & (self._float() < vertex.p_mirror)
            direction = dr.select(mirror, vertex.mirror_direction(), direction)
            factors = [dr.select(mirror, m, f)
                       for m, f in zip(vertex.mirror_weight(), factors, strict=True)]
        alive = active & (mirror | (density > 1e-9)) & ~special.dark
        beta = [b * f for b, f in zip(path.beta, factors, strict=True)]
        largest = mi.Float(0)
        for b in beta:
            largest = dr.maximum(largest, b)
        alive &= largest > 0
        keep = dr.clip(largest, 0.02, 0.97)
        keep = dr.select(path.depth + 1 >= self.limits.roulette_depth, keep, 1)
        alive &= self._float() < keep
        path.beta = [b / keep for b in beta]
        path.origin = dr.select(active, special.leave(point, vertex, direction), path.origin)
        path.direction = dr.select(active, direction, path.direction)
        path.density = dr.select(mirror, -1, density)
        if special.counted is not None and trail is None:
            # What this direction runs into has been counted: a chance of 0 gives it no weight.
            path.density = dr.select(special.counted, 0, path.density)
        if buffers.sky_lamp >= 0:
            dome = dr.select(direction.z > 0, dr.inv_two_pi, 0)
            path.sky_density = (dome if guides is None
                                else guides.sky_density(direction, openings))
        if trail is not None:
            trail.begin(active, special.counted)
            if buffers.images.has_faces:
                trail.follow(mirror, *trail.at_surface)
        path.depth = dr.select(active, path.depth + 1, path.depth)
        path.fresh = ~alive | (path.depth >= self.limits.max_depth)

    def _mirror(self, crossing, mirrored, passed, trail):
        """Send the paths that a pane or sheet mirrored on from there, with what had come that far."""
        path = self.path
        origin, direction = crossing.mirrored()
        path.origin = dr.select(mirrored, origin, path.origin)
        path.direction = dr.select(mirrored, direction, path.direction)
        path.beta = [dr.select(mirrored, m, b) for m, b in zip(passed, path.beta, strict=True)]
        path.density = dr.select(mirrored, -1, path.density)
        if trail is not None:
            trail.follow(mirrored, *trail.at_pane(crossing))
        path.depth = dr.select(mirrored, path.depth + 1, path.depth)
        path.fresh &= ~mirrored | (path.depth >= self.limits.max_depth)


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
        self.density, self.sky = path.density, path.sky_density
        self.looked = path.cell, path.place, path.share
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
        """Go on with the trail where a mirror sends the path on; its density is that of before."""
        path, images = self.path, self.images
        begun = mirrored & (self.density >= 0)
        trail = images.extend(self.trail, mirror)
        known = begun & (trail != LOST)
        path.trail = dr.select(begun, trail, dr.select(mirrored, self.trail, path.trail))
        path.density = dr.select(known, self.density * kept, path.density)
        path.unfolded = dr.select(known, self.unfolded + leg, path.unfolded)
        path.counted = dr.select(known, self.counted, path.counted)
        path.cell, path.place, path.share = (
            dr.select(known, before, now) for before, now in zip(
                self.looked, (path.cell, path.place, path.share), strict=True))
        if images.buffers.sky_lamp in images.lamps:
            begun = known & (self.trail == DIRECT)
            # Few paths are at a mirror, and the rectangle's solid angle is long to work out.
            sky = dr.if_stmt((begun, mirror, mi.Point3f(self.origin), mi.Vector3f(self.direction)), begun,
                             lambda begun, mirror, origin, direction: images.sky_density(
                                 mirror, origin, direction, begun),
                             lambda *_: mi.Float(0))
            path.sky_density = dr.select(known, dr.select(begun, sky, self.sky), path.sky_density)


class Flight:
    """One leg's way through the haze: whether it scatters there, and where.

    Light that scatters once on the leg from the camera is left to `airlight`.
    """

    def __init__(self, step, hit, travel):
        self.path, self.buffers = step.path, step.buffers
        self.haze = Haze(self.buffers)
        path = self.path
        near, far = self.haze.interval(path.origin, path.direction, hit.distance)
        total = self.haze.depth(path.origin, path.direction, near, far)
        self.from_camera = (travel & (path.depth == 0) if not step.start.has_receptor
                            else mi.Bool(False))
        reached = -dr.log(dr.maximum(1 - step._float(), 1e-12))
        self.scatters = travel & (reached < total)
        at = self.haze.reach(path.origin, path.direction, near, reached)
        self.distance = dr.select(self.scatters, dr.clip(at, near, far), hit.distance)
        self.depth = dr.select(travel, dr.minimum(reached, total), 0)
        self.point = path.origin + path.direction * dr.select(self.scatters, self.distance, 0)

    def settle(self, mirrored, away=None):
        """Drop the scattering of paths that a pane mirrored first, so far away; colour others."""
        self.scatters &= ~mirrored
        path = self.path
        depth = self.depth
        if away is not None:
            depth = dr.select(mirrored, self.haze.along(path.origin, path.direction, away), depth)
        path.haze_depth += depth
        path.scatterings = dr.select(self.scatters, path.scatterings + 1, path.scatterings)
        path.veil |= self.scatters & self.from_camera
        path.beta = [dr.select(self.scatters, b * a, b)
                     for b, a in zip(path.beta, self.buffers.haze_albedo, strict=True)]


class Special:
    """Points of a path that are no surface: the receptor of a meter, a scattering in the haze.

    Attributes
    ----------
    dark : Bool
        Surfaces that send nothing on.
    counted : Bool or None
        Scatterings whose light from lamps has been counted on the camera's leg.
    """

    def __init__(self, step, at_start, air, vertex):
        self.start, self.path, self.buffers = step.start, step.path, step.buffers
        self.at_start, self.air, self.normal = at_start, air, vertex.normal
        self.dark, self.counted = vertex.black, None
        if at_start is not None:
            self.dark &= ~at_start
        if air is not None:
            self.dark &= ~air.scatters
            self.counted = air.scatters & air.from_camera
            self.incoming = mi.Vector3f(step.path.direction)

    def evaluate(self, values, density, direction):
        """Return (values over bands, density) with those of special points put in."""
        if self.air is not None:
            phase = self.air.haze.phase(dr.dot(self.incoming, direction))
            values = [dr.select(self.air.scatters, phase, v) for v in values]
            density = dr.select(self.air.scatters, phase, density)
        if self.at_start is not None:
            received, own = self.start.response(self.path.whole, self.normal, direction)
            values = [dr.select(self.at_start, received, v) for v in values]
            density = dr.select(self.at_start, own, density)
        return values, density

    def sample(self, direction, point):
        """Return the direction drawn, with those of special points put in."""
        if self.air is not None:
            direction = dr.select(self.air.scatters,
                                  self.air.haze.turn(self.incoming, point), direction)
        if self.at_start is not None:
            direction = dr.select(
                self.at_start, self.start.sample(self.path.whole, self.normal, point), direction)
        return direction

    def leave(self, point, vertex, direction):
        """Return where a ray starts: off its surface, or from the very point in the air."""
        moved = offset_point(point, vertex, direction)
        if vertex.boundary is not None:
            moved = vertex.boundary.leave(point, moved)
        return moved if self.air is None else dr.select(self.air.scatters, point, moved)
