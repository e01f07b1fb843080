"""The transport loop: one pass gives the light of each lamp in each wavelength band.

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

from previz.engine.airlight import AirPass
from previz.engine.choice import EVEN
from previz.engine.device import on_device, put
from previz.engine.ended import Ended, watched
from previz.engine.frozen import launch
from previz.engine.images import DIRECT
from previz.engine.jit import dr, mi
from previz.engine.render import USUAL_LIMITS
from previz.engine.spread import FOR_RAY, Spread
from previz.engine.step import Step
from previz.engine.tally import Tally


def _paths(samples):
    """Return the samples of each thread on the device."""
    if isinstance(samples, int):
        return dr.opaque(mi.UInt, samples)
    return on_device(mi.UInt, samples)


@dataclass(frozen=True, eq=False)
class Lane:
    """What stays the same in a lane through the whole loop.

    It is no part of the loop's state: Dr.Jit records a loop twice that carries what never changes.
    `whole` and `thread` are its number among all threads and in this run, `left` the samples it
    traces, `turn` the lamp that it begins with; `key` and `stream` are of its random numbers.
    """

    whole: mi.UInt
    thread: mi.UInt
    left: mi.UInt
    turn: mi.UInt
    key: mi.UInt
    stream: mi.UInt64

    def generator(self, state):
        """Return the generator of random numbers whose state is this."""
        generator = mi.PCG32()
        generator.state, generator.inc = mi.UInt64(state), self.stream
        return generator


@dataclass
class Path:
    """What a lane remembers from leg to leg.

    `random` is the state of its generator; `sent` about what its first point sends on of all light,
    which its throughput is judged by, and `brightness` about how much more than the usual comes from
    where it was sent last. `pdf` is that of the last direction, per solid angle (below 0: it came from
    a camera or a mirror, and light sampling could not have drawn it); `sky_pdf` that
    of light sampling of the sky in the same direction; `cell` is that of the `LampChoice` made where
    it was drawn, and `place` and `share` are as in `images.Site`. Behind a mirror that light samples go
    through, both pdfs are those of the direction before it, times the mirror's reflectance; `trail`
    says which mirrors, `unfolded` how long the path was to the last; `counted` that light met without
    any has been counted elsewhere. `haze_depth` and `scatterings` are its optical depth of haze and how
    often it scattered there; `veil` is set where the air itself sends it to the camera. What is
    kept for mirrors alone is None in a stage that has none. `reach` is 0 behind a surface, and behind a
    scattering as in `next_event.LightSample`; None without haze.
    """

    sample: mi.UInt
    random: mi.UInt64
    origin: mi.Point3f
    direction: mi.Vector3f
    throughput: list
    sent: mi.Float
    brightness: mi.Float
    depth: mi.UInt
    pdf: mi.Float
    sky_pdf: mi.Float
    cell: mi.UInt
    fresh: mi.Bool
    haze_depth: mi.Float
    scatterings: mi.UInt
    veil: mi.Bool
    place: mi.UInt | None = None
    share: mi.Float | None = None
    trail: mi.UInt | None = None
    unfolded: mi.Float | None = None
    counted: mi.Bool | None = None
    reach: mi.Float | None = None


class Transport:
    """Runs paths for one stage on the device.

    Parameters
    ----------
    buffers : Buffers
    start : Start
        Gives each sample its first ray, and the place of its contributions.
    limits : Limits
    densities : sequence of float
        Factors on the density of the haze, with a sum each; see `tally`.
    """

    def __init__(self, buffers, start, limits=USUAL_LIMITS, densities=()):
        self.buffers, self.start, self.limits = buffers, start, limits
        self.densities = tuple(densities)
        self.max_depth = dr.opaque(mi.UInt, limits.max_depth)

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
        if not self.buffers.lamps:
            return Tally(self.buffers, self.start, count, self.densities).sums
        words = dr.opaque(mi.UInt, first), count, _paths(samples), dr.opaque(mi.UInt, seed)
        if not watched():
            return launch(Transport._run, self, *words)
        ended = Ended()
        sums, marks = launch(Transport._marked, self, *words, dr.opaque(mi.UInt, ended.turn))
        ended.hold(marks, samples)
        return sums

    def _run(self, first, count: int, samples, seed):
        """Trace as `run` does; the first thread, the samples and the seed lie on the device."""
        sums, _ = self._trace(first, count, samples, seed)
        dr.eval(sums)
        return sums

    def _marked(self, first, count: int, samples, seed, turn):
        """As `_run`; return the marks of `Ended` too."""
        sums, done = self._trace(first, count, samples, seed)
        marks = done ^ turn
        dr.eval(sums, marks)
        return sums, marks

    def _trace(self, first, count: int, samples, seed):
        """Return (sums, samples that each thread has traced), not evaluated yet."""
        buffers = self.buffers
        tally = Tally(buffers, self.start, count, self.densities)
        thread = dr.arange(mi.UInt, count)
        whole = thread + first
        v0, v1 = mi.sample_tea_32(seed, whole)
        rng = mi.PCG32(initstate=mi.UInt64(v0), initseq=mi.UInt64(v1))
        turn = mi.UInt(rng.next_float32() * mi.Float(buffers.lamp_count))
        lane = Lane(whole, thread, samples, turn, v0 ^ v1, mi.UInt64(rng.inc))
        path = Path(
            sample=mi.UInt(0), random=mi.UInt64(rng.state), origin=mi.Point3f(0),
            direction=mi.Vector3f(0, 0, 1), throughput=[mi.Float(1) for _ in range(buffers.bands)],
            sent=mi.Float(1), brightness=mi.Float(1), depth=mi.UInt(0), pdf=mi.Float(-1),
            sky_pdf=mi.Float(0), cell=dr.opaque(mi.UInt, EVEN), fresh=mi.Bool(True), haze_depth=mi.Float(0),
            scatterings=mi.UInt(0), veil=mi.Bool(False))
        if buffers.images is not None:
            path.place, path.share, path.trail = mi.UInt(0), mi.Float(0), mi.UInt(DIRECT)
            path.unfolded, path.counted = mi.Float(0), mi.Bool(False)
        if buffers.has_haze:
            path.reach = mi.Float(0)

        def more(path):
            return path.sample < lane.left

        def body(path):
            self._begin(lane, path)
            Step(self, lane, path, tally).advance()
            path.sample = dr.select(path.fresh, path.sample + 1, path.sample)
            return (path,)

        path, = dr.while_loop(state=(path,), cond=more, body=body, label="transport")
        if buffers.has_haze and not self.start.has_receptor:
            AirPass(buffers, self.start).run(tally, whole, samples, seed)
        return tally.sums, path.sample

    def _begin(self, lane, path):
        """Start the next sample in lanes whose path has ended."""
        numbers = Spread(lane.key, 0, path.sample, FOR_RAY)
        origin, direction = self.start.ray(lane.whole, path.sample, numbers)
        path.throughput = [dr.select(path.fresh, 1.0, b) for b in path.throughput]
        put(path, path.fresh, origin=origin, direction=direction, sent=1.0, brightness=1.0, depth=0, pdf=-1.0,
            haze_depth=0.0, scatterings=0, veil=False)
        if path.reach is not None:
            put(path, path.fresh, reach=0.0)
        if path.trail is not None:
            put(path, path.fresh, trail=DIRECT, unfolded=0.0, counted=False)
