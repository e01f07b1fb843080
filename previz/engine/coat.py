"""Glosses that one width does not describe, inside the kernel: of two widths, of fibres, of varied width.

Source: GGX of two widths as Heitz, "Sampling the GGX distribution of visible normals", JCGT 7(4), 2018;
fibres as Estevez and Kulla, "Production friendly microfacet sheen BRDF", 2017 (from memory; see `gloss`).
"""

from __future__ import annotations

from previz.engine.device import read_four
from previz.engine.gloss import TURNS, WIDTHS
from previz.engine.gloss_rows import ACROSS, PLAIN, VARIED
from previz.engine.jit import dr, mi
from previz.stage.records import SMOOTH


def frame_along(normal, tangents):
    """Return a frame about a normal whose first axis goes along a face's u, where it has one."""
    along, _, good = tangents
    along = along - normal * dr.dot(normal, along)
    squared = dr.squared_norm(along)
    any_frame = mi.Frame3f(normal)
    first = dr.select(good & (squared > 1e-6), along * dr.rsqrt(dr.maximum(squared, 1e-6)), any_frame.s)
    return mi.Frame3f(first, dr.cross(normal, first), normal)


class Coat:
    """The gloss of a vertex; `along` and `across` are its GGX widths, `power` that of fibres, 0 for none.

    Parameters
    ----------
    factor : Float or None
        What the pattern multiplies widths by.
    """

    def __init__(self, buffers, surface, along, factor, active):
        self.buffers, self.active = buffers, active
        across, self.power, first, self.kind = read_four(buffers.coat, surface, active)
        self.of_fibres = self.power > 0
        self.along = along
        self.across = dr.select(across > 0, across, along)
        self.factor = mi.Float(1)
        if factor is not None:
            # Of a mirror the width is below 0, and of fibres it says how strong they are.
            wide = (along > 0) & ~self.of_fibres
            self.factor = dr.select(wide, factor, 1)
            self.along, self.across = (dr.select(wide, dr.clip(each * factor, SMOOTH, 1), each)
                                       for each in (along, self.across))
        self.first = mi.UInt(first)
        self.width_step = mi.Float(0)
        if buffers.has_varied:
            low = SMOOTH**0.5
            step = (dr.safe_sqrt(self.along) - low) * ((WIDTHS - 1) / (1 - low))
            self.width_step = dr.select(self.kind == VARIED, dr.clip(step, 0, WIDTHS - 1), 0)

    @property
    def has_rows(self) -> bool:
        """Whether the albedo of any surface lies between rows."""
        return self.buffers.has_varied or self.buffers.has_across

    def rows(self, local):
        """Return (row of the albedo's tables, the next, how far between them) for a direction."""
        step, last = self.width_step, mi.Float(WIDTHS - 1)
        if self.buffers.has_across:
            flat = dr.maximum(dr.square(local.x) + dr.square(local.y), 1e-12)
            widest = dr.select(self.across > self.along, local.y, local.x)
            turn = dr.minimum(dr.abs(widest) * dr.rsqrt(flat), 1) * (TURNS - 1)
            step = dr.select(self.kind == ACROSS, turn, step)
            last = dr.select(self.kind == ACROSS, mi.Float(TURNS - 1), last)
        low = dr.minimum(dr.floor(step), last - 1)
        row = self.first + mi.UInt(low)
        return row, dr.select(self.kind == PLAIN, row, row + 1), step - low

    def under(self, gloss, f0, under):
        """Return the mean of what the gloss leaves to what is under it; `under` where its width is one."""
        row, after, part = self.rows(mi.Vector3f(0, 0, 1))
        t0, t1, t2, _ = dr.lerp(read_four(self.buffers.gloss_means, row, self.active),
                                read_four(self.buffers.gloss_means, after, self.active), part)
        own = dr.maximum(1 - gloss * (t0 + f0 * (t1 + f0 * t2)), 1e-3)
        return dr.select(self.kind == VARIED, own, under)

    def facet_loss(self, loss):
        """Return what the gloss would lose between its facets, from what the table says."""
        # Of two widths a narrower gloss loses less than its table's, by its power 2.5 or more, and a wider
        # one no less: so none gains light. Fibres are scaled as they are.
        part = dr.minimum(dr.square(self.factor) * dr.safe_sqrt(self.factor), 1)
        loss *= dr.select(self.kind == ACROSS, part, 1)
        return dr.select(self.of_fibres, 0, loss)

    def distribution(self, half):
        """Return D of a half vector, in the frame along u."""
        e = dr.square(half.x / self.along) + dr.square(half.y / self.across) + dr.square(half.z)
        return 1 / (dr.pi * self.along * self.across * dr.square(e))

    def hidden(self, local, cosine):
        """Return Smith's lambda of a direction."""
        flat = dr.square(local.x * self.along) + dr.square(local.y * self.across)
        return 0.5 * (dr.sqrt(1 + flat / dr.square(cosine)) - 1)

    def fibres(self, cos_half, cos_view, cos_light):
        """Return the lobe of fibres times the cosine to the light; see `gloss.fuzz_table`."""
        squared = dr.clip(1 - dr.square(cos_half), 1e-9, 1)
        d = (2 + self.power) * dr.exp(0.5 * self.power * dr.log(squared)) * dr.inv_two_pi
        return self.along * d * cos_light / (4 * (cos_view + cos_light - cos_view * cos_light))

    def facet(self, vertex, half, light, cos_light):
        """Return (lobe with the cosine, Schlick's fifth power, pdf of its sampling) for a half vector."""
        to_local, cos_view = vertex.frame.to_local, vertex.cos_view
        cos_half = dr.dot(half, vertex.normal)
        d = self.distribution(to_local(half))
        hidden_view = self.hidden(to_local(vertex.view), cos_view)
        value = d / (1 + hidden_view + self.hidden(to_local(light), cos_light)) / (4 * cos_view)
        pdf = dr.select(cos_half > 0, d / (1 + hidden_view) / (4 * cos_view), 0)
        fifth = (1 - dr.clip(dr.dot(half, light), 0, 1)) ** 5
        if self.buffers.has_fuzz:
            value = dr.select(self.of_fibres, self.fibres(cos_half, cos_view, cos_light), value)
            even = dr.select(dr.dot(vertex.normal, light) > 0, dr.inv_two_pi, 0)
            pdf = dr.select(self.of_fibres, even, pdf)
            fifth = dr.select(self.of_fibres, 0, fifth)
        return value, fifth, pdf
