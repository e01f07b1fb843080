"""Which images of lamps, sun and sky in flat mirrors and panes are sampled, and how often.

What a lamp sends to a point via a flat mirror arrives as if from its mirror image. Candidates are
pairs of a lamp and a mirror, or a chain of two; which of them a light sample goes to is chosen by
what comes from there, cell by cell of the grid of `choice`: a measurement follows light from the
lamps over points of every mirror into the set. `image_sample` draws and follows the samples;
`trail` keeps what paths need that meet the same mirrors, so that both estimators are joined by MIS.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from previz.engine.choice import alias_tables
from previz.engine.device import Rectangle, on_device, read_four
from previz.engine.jit import dr, mi
from previz.engine.mirrored_light import MirroredLight, spread_out
from previz.engine.mirrors import FACES, PANES, SHEETS, flat_mirrors
from previz.engine.seen import SeenRectangle
from previz.engine.tables import NONE

MOST_CANDIDATES = 96
"""Pairs of a lamp and a chain of mirrors that are sampled."""

LEAST, FLOOR, MOST = 0.004, 0.02, 0.5
"""Least and most of the light samples that go via mirrors: at least `FLOOR` where mirrors give as
large a part of all light, down to `LEAST` where next to none."""

LEAST_OF_SKY = 0.01
"""Part of the sky's light under which what mirrors throw of it is not sampled: as the sky is half
of all directions, paths that they send out meet it. [1]"""

AT_METERS = 0.25
"""Least share of a meter's first light samples that go via mirrors."""

ABROAD = 0.4
"""Share of these samples that candidates divide by what they give in the whole set: a cell's own
measurement may have missed a small pool of light."""

DIRECT, LOST = 0, 0xFFFFFFFF
"""Trails of a path that met no mirror, and one that no image stands for."""


class Site(NamedTuple):
    """Where a light sample is from.

    `cell` is that of its `LampChoice`, `EVEN` at a path's start, and `place` the cell itself; of the
    light samples from there a `share` goes via mirrors.
    """

    cell: mi.UInt
    place: mi.UInt
    share: mi.Float


class Images:
    """Which images of lamps a stage has, and how often each is sampled, on the device.

    The `LampChoice` has been measured; outputs are those of the lamps at full. There are `count`
    candidates, 0 where no mirror sends any lamp's light on.
    """

    def __init__(self, buffers, choice, mirrors, outputs):
        choice.measure(buffers)
        self.buffers, self.choice, self.mirrors = buffers, choice, len(mirrors)
        self.planes = on_device(mi.Float, np.column_stack(
            [mirrors.normal, np.einsum("mi,mi->m", mirrors.normal, mirrors.point)]))
        self.bounds = on_device(mi.Float, [
            buffers.rectangle(c, u, v, (0.0, 0.0, 0.0)) for c, u, v in
            zip(mirrors.centre, mirrors.half_u, mirrors.half_v, strict=True)])
        self.of_face = on_device(mi.UInt, mirrors.of_face)
        self.of_pane = [int(m) for m in mirrors.of_pane]
        self.of_sheet = on_device(mi.UInt, mirrors.of_sheet) if len(mirrors.of_sheet) else None
        self.has_faces, self.has_panes, self.has_sheets = (
            bool(np.any(mirrors.kind == kind)) for kind in (FACES, PANES, SHEETS))
        # Mirrors and what lies between them may be coloured; if not, one factor does for all bands.
        coloured = (self.has_faces and buffers.has_coloured_gloss or buffers.has_tint
                    or buffers.has_sheets and buffers.has_sheet_tint)
        self.factors = buffers.bands if coloured else 1
        self._choose(*MirroredLight(buffers, choice, mirrors).run(), np.asarray(outputs, float))

    def _choose(self, found, fallen, outputs):
        """Lay out candidates and their probabilities in each cell; light as `MirroredLight` has it."""
        keys = sorted(found, key=lambda key: -float(found[key].sum()) * outputs[key[0]])
        keys = [key for key in keys if found[key].sum() * outputs[key[0]] > 0
                and not self._left_to_paths(key[0], fallen[key])][:MOST_CANDIDATES]
        self.count = len(keys)
        if not keys:
            return
        self.candidate_count = dr.opaque(mi.UInt, self.count)
        size = self.mirrors + 1
        trails = [first + 1 + size * (second + 1) for _, first, second in keys]
        self.candidates = on_device(mi.UInt, [
            (lamp, first, NONE if second < 0 else second, 0) for lamp, first, second in keys])
        self.has_pairs = any(second >= 0 for _, _, second in keys)
        self.lamps = {lamp for lamp, _, _ in keys}
        number = np.full((size * size, self.buffers.lamps), NONE, np.int64)
        for index, ((lamp, _, _), trail) in enumerate(zip(keys, trails, strict=True)):
            number[trail, lamp] = index
        self.number = on_device(mi.UInt, number)
        everywhere, light = (np.stack([spread_out(part[key]) * outputs[key[0]] for key in keys], axis=1)
                             for part in (found, fallen))
        # Through the air goes much that falls on nothing there, which counts only where haze is lit.
        on_surfaces = self.choice.known & (not self.buffers.has_haze)
        light = np.where(on_surfaces[:, None], light, everywhere)
        total = light.sum(axis=1)
        self.sampled = on_device(mi.Float, self._share(total, self.choice.given @ outputs))
        # The root samples the weak more often than they give: one sample of them weighs much.
        whole = np.sqrt(everywhere.sum(axis=0))
        whole /= whole.sum()
        parts = np.where(total[:, None] > 0, light / np.maximum(total, 1e-30)[:, None], whole)
        parts = ABROAD * whole + (1 - ABROAD) * parts
        self.shares = on_device(mi.Float, parts)
        self.drawn = on_device(mi.Float, np.stack(alias_tables(parts), axis=2))

    def _left_to_paths(self, lamp, fallen):
        """Return whether a lamp is wide, and gives next to nothing via these mirrors."""
        if lamp != self.buffers.sky_lamp or self.buffers.has_haze:
            return False
        known = self.choice.known
        return fallen[known].sum() < LEAST_OF_SKY * self.choice.given[known, lamp].sum()

    def _share(self, mirrored, direct):
        """Return the share of the light samples from each cell that go via mirrors."""
        known = self.choice.known
        usual = direct[known].mean() if known.any() else 0.0
        floor = FLOOR
        if usual > 0:
            floor = float(np.clip(mirrored[known].mean() / usual, LEAST, FLOOR))
        direct = np.where(known, direct + 0.01 * usual, usual)
        part = np.where(mirrored > 0, mirrored / np.maximum(mirrored + direct, 1e-30), 0)
        return np.clip(floor + part, floor, MOST)

    def probability(self, site, lamp, trail):
        """Return the probability that a light sample from a `Site` goes to a lamp by a path's trail.

        The lamp is a plain number where it is the same for all lanes.
        """
        cell, place, share = site
        direct = dr.select(trail == DIRECT, (1 - share) * self.choice.probability(cell, mi.UInt(lamp)), 0)
        if isinstance(lamp, int) and lamp not in self.lamps:
            return direct

        def mirrored(known, place, share, lamp, trail):
            number = dr.gather(mi.UInt, self.number, trail * self.buffers.lamp_count + lamp, known)
            known &= number != NONE
            own = dr.gather(mi.Float, self.shares, place * self.candidate_count + number, known)
            return dr.select(known, share * own, 0)

        known = (trail != DIRECT) & (trail != LOST)
        images = dr.if_stmt((known, mi.UInt(place), mi.Float(share), mi.UInt(lamp), mi.UInt(trail)),
                            known, mirrored, lambda *_: mi.Float(0))
        return direct + images

    def draw(self, cell, number, active):
        """Return (lamp, first mirror, second mirror or `NONE`, probability) that a number stands for."""
        scaled = number * mi.Float(self.candidate_count)
        which = dr.minimum(mi.UInt(scaled), self.candidate_count - 1)
        likely, other = dr.gather(mi.Vector2f, self.drawn, cell * self.candidate_count + which, active)
        which = dr.select(scaled - mi.Float(which) < likely, which, mi.UInt(other))
        lamp, first, second, _ = read_four(self.candidates, which, active, mi.Vector4u)
        share = dr.gather(mi.Float, self.shares, cell * self.candidate_count + which, active)
        return lamp, first, second, share

    def extend(self, trail, mirror):
        """Return the trail after one more mirror (`NONE`: a mirror that is none of these)."""
        size = self.mirrors + 1
        one = mirror + 1
        if not self.has_pairs:
            return dr.select((mirror == NONE) | (trail != DIRECT), LOST, one)
        longer = dr.select(trail == DIRECT, one, trail + size * one)
        return dr.select((mirror == NONE) | (trail >= size), LOST, longer)

    def sky_pdf(self, mirror, point, direction, active):
        """Return the pdf per solid angle of light sampling of the sky in a mirror."""
        shape = Rectangle(self.bounds, dr.select(active, mirror, 0))
        return SeenRectangle(shape, point).pdf(direction)


def images_of(buffers, stage, choice):
    """Return the stage's `Images`, or None where no mirror sends any lamp's light on."""
    mirrors = flat_mirrors(stage, buffers.geometry, buffers.sheets)
    if not len(mirrors) or not buffers.lamps:
        return None
    images = Images(buffers, choice, mirrors, [lamp.output for lamp in stage.lamps])
    return images if images.count else None
