"""The glow of the air along the camera's rays: single scattering, in a pass of its own.

Light that a lamp sends to a point of hazy air and that turns there towards the camera needs no
path: a distance along the ray, a point of the lamp and one shadow ray. Most of it is gathered
outside the transport loop, where each sample costs a small part of a path. Distances are drawn where
the lamp's light is (see `haze`) and spread evenly over a pixel's samples.
"""

from __future__ import annotations

from previz.engine import lighting
from previz.engine.device import by_turns
from previz.engine.glass import clear_things, straight_through
from previz.engine.haze import Haze, sample_leg
from previz.engine.hit import clear
from previz.engine.jit import dr, mi
from previz.engine.spread import FOR_LAMPS, FOR_RAY, Spread

SAMPLES_A_PATH, SAMPLES_ALONE = 1, 2
"""Samples of the air for each path of a pixel: where paths take their share of it, and where not."""

IN_PATHS = 1 / 3
"""Share of the camera's single scattering that is taken from the light samples of paths which scatter
on that leg: half as many samples, with none to pay for."""


def share_of_paths(buffers) -> float:
    """Return the share of the air's glow that paths count; none where these samples go via mirrors."""
    return IN_PATHS if buffers.images is None else 0.0


def samples_a_path(buffers) -> int:
    """Return the samples of the air for each path of a pixel."""
    return SAMPLES_A_PATH if share_of_paths(buffers) else SAMPLES_ALONE


class AirPass:
    """Gathers the glow of the air for a stage with haze; the `CameraStart` gives each sample its ray."""

    def __init__(self, buffers, start):
        self.buffers, self.start = buffers, start

    def run(self, tally, whole, paths, seed) -> None:
        """Gather the air of a range of pixels, as the sum over so many paths would have it.

        Parameters
        ----------
        tally : Tally
        whole : UInt
            Numbers of the start's threads.
        paths : UInt
            Samples of the transport loop that this goes with.
        seed : UInt
            Picks the random numbers together with the thread's own number.
        """
        thread = dr.arange(mi.UInt, dr.width(whole))
        key, turn = mi.sample_tea_32(~seed, whole)
        total = paths * samples_a_path(self.buffers)

        def more(sample):
            return sample < total

        def body(sample):
            self._gather(tally, whole, thread, key, turn % self.buffers.lamp_count, sample)
            return (sample + 1,)

        dr.while_loop(state=(dr.zeros(mi.UInt, dr.width(whole)),), cond=more, body=body, label="airlight")

    def _gather(self, tally, whole, thread, key, turn, sample):
        """Add what one lamp sends along one ray, via one point of the air."""
        buffers, haze = self.buffers, Haze(self.buffers)
        _, lamp = by_turns(turn + sample, buffers.lamp_count)
        visit, _ = by_turns(sample, buffers.lamp_count)
        origin, direction = self.start.ray(whole, sample // samples_a_path(buffers),
                                           Spread(key, 0, sample, FOR_RAY))
        found = buffers.scene.ray_intersect_preliminary(mi.Ray3f(origin, direction), coherent=True)
        near, far = haze.interval(origin, direction, dr.select(found.is_valid(), found.t, dr.inf))
        light = Spread(key, lamp + 1, visit, FOR_LAMPS)
        u, where = light.next_float32(), mi.Point2f(light.next_float32(), light.next_float32())
        place = light.next_float32()
        distance, place_pdf, _ = sample_leg(buffers, haze, lamp, u, place, origin, direction, near, far)
        point = origin + direction * distance
        by_opening = any(buffers.guide_opening) and buffers.sky_lamp >= 0
        guides = lighting.Guides(buffers, point) if by_opening else None
        towards, length, value, pdf = lighting.sample_light(
            buffers, guides, point, lamp, u, where, far > near)
        useful = (far > near) & (value > 0) & (place_pdf > 0) & (pdf > 0)
        useful = clear(buffers, point, towards, length, useful)
        depth = haze.depth(origin, direction, near, distance) + haze.along(point, towards, length)
        turned = haze.sigma(point) * haze.phase(dr.dot(direction, towards))
        weight = (value / (pdf * place_pdf) * turned * dr.exp(-depth)
                  * (mi.Float(buffers.lamp_count)
                     * ((1 - share_of_paths(buffers)) / samples_a_path(buffers))))
        carried = list(buffers.haze_albedo)
        carried = lighting.sampled_picture(buffers, carried, lamp, point + towards * length, useful)
        if buffers.has_sky_colour:
            carried = lighting.sky_coloured(buffers, carried, towards, useful & (lamp == buffers.sky_lamp))
        if clear_things(buffers):
            carried = straight_through(buffers, carried, origin, direction, distance, useful)
            carried = straight_through(buffers, carried, point, towards, length, useful)
        tally.add(thread, lamp, carried, weight, mi.Bool(False), useful, depth, mi.UInt(1),
                  mi.Bool(True))
