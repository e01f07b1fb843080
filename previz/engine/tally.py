"""Where light is summed: by start, lamp and band, and by density of the haze too where that is requested.

A path through haze of density sigma that has scattered n times in it, over legs of an optical
depth tau, would carry in haze of k times the density

    k^n · exp(-(k - 1) tau)

of what it carries: scattering n times is k^n as likely, and what the legs lose goes with their
depth. So one render holds the picture at other densities too, each path weighed anew. It is exact
in the mean; the noise grows with how unlike the two are.
"""

from __future__ import annotations

from previz.engine.device import add_to_row
from previz.engine.jit import dr, mi


class Tally:
    """The sums of so many threads, on the device; the `Start` says which slot a contribution belongs to.

    For each of the `densities`, factors on that of the haze, there is a sum in two parts: light that
    the air does not send into the line of sight, and light that it does. Without any there is one
    sum, in the haze as it is.
    """

    def __init__(self, buffers, start, count: int, densities: tuple[float, ...]):
        self.lamp_count = buffers.lamp_count
        self.start, self.densities = start, tuple(float(k) for k in densities)
        self.parts = 2 * len(self.densities) or 1
        self.sums = dr.zeros(
            mi.Float, count * start.slots * self.parts * buffers.lamps * buffers.bands)

    def add(self, thread, lamp, values, weight, bounced, active, depth=0.0, scatterings=0,
            veil=False):
        """Add one contribution: `weight` times the values.

        It is `bounced` unless it came straight from its lamp to what was met first. Its whole path
        has an optical depth through the haze as it is [1], and scattered there so often (UInt); a
        `veil` is what the air itself sent towards the camera.
        """
        fine = active & (weight > 0) & dr.isfinite(weight)
        slot = self.start.slot(thread, bounced) * self.parts
        if not self.densities:
            self._scatter(slot, lamp, values, weight, fine)
            return
        once = mi.UInt(scatterings) > 0
        airy = dr.select(mi.Bool(veil), mi.UInt(1), mi.UInt(0))
        for index, factor in enumerate(self.densities):
            changed = dr.exp((1 - factor) * depth)
            if factor == 0:
                changed = dr.select(once, 0, changed)
            elif factor != 1:
                changed *= dr.power(mi.Float(factor), mi.Float(scatterings))
            self._scatter(slot + 2 * index + airy, lamp, values, weight * changed,
                          fine & dr.isfinite(changed))

    def _scatter(self, slot, lamp, values, weight, active):
        add_to_row(self.sums, slot * self.lamp_count + lamp, [v * weight for v in values], active)
