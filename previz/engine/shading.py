"""What a surface does with light, inside the kernel: evaluate, weigh and sample its lobes.

A surface has a diffuse reflection, a transmission, diffuse or in a lobe about straight on, and a
gloss (GGX, or a perfect mirror). The lobe is a Gaussian in the plane of the sheet, between the
directions' sines: f = tau exp(-|d|² / s²) / (pi s²). So it is the same in both directions, it is drawn from
exactly, and what would leave under the sheet at a glancing angle is lost in it.
The diffuse lobes get what the gloss leaves, as light enters and as it leaves, so that energy is
kept exactly:  f_d = rho/pi · (1 - E(in)) (1 - E(out)) / (1 - mean E).

Where a relief leans, what lies under the horizon of the level surface is its neighbouring slopes. Of its
diffuse light the share h = (1 - cos)/2 falls on them, which send on as much of it: rho (1 + rho h / (1 - h))
goes on. What the gloss sends there goes on as mirrored at the level surface. So both keep the energy.

Source: the coupling of a gloss with the diffuse lobe under it follows Kelemen and Szirmay-Kalos,
"A microfacet based coupled specular-matte BRDF model", Eurographics 2001 (from memory); the gain
for light that a rough gloss loses between its facets follows Turquin, "Practical multiple
scattering compensation for microfacet models", 2019 (from memory).
"""

from __future__ import annotations

from previz.engine.coat import Coat, frame_along
from previz.engine.device import first_three, read_four, read_row
from previz.engine.gloss import ANGLES
from previz.engine.jit import dr, mi
from previz.engine.places import read_pattern

HELD_BACK, HELD_BY_FIBRES = 0.04, 0.75
"""Share of the diffuse light towards slopes of a relief that a whole gloss keeps back, and that of fibres
which mirror all light; so that none is gained, and under one per cent lost. [1]"""


class Vertex:
    """One point of a path on a surface, with everything its lobes need.

    `normal` and `side` are the shading and the geometric normal, both on the viewer's side; `view` is
    towards where the path came from. Where `rounded`, the face stands for a rounded, opaque surface
    whose normal is `level`: the shading normal without relief, and that with it if none is given.
    `tangents` and `tile` are as of a `Hit`.
    """

    def __init__(self, buffers, surface, normal, side, view, uv, active, rounded=False, level=None,
                 tangents=None, tile=None):
        self.buffers, self.surface, self.active = buffers, surface, active
        self.normal, self.side, self.view = normal, side, view
        self.level = normal if level is None else level
        self.rounded = mi.Bool(rounded)
        self.entry = self.boundary = self.coat = None
        self.frame = (frame_along(normal, tangents) if buffers.has_across and tangents is not None
                      else mi.Frame3f(normal))
        self.cos_view = dr.maximum(dr.dot(normal, view), 1e-4)
        if buffers.has_relief:
            self.horizon = dr.select(self.rounded, self.level, side)
            self.leans = dr.squared_norm(normal - self.level) > 1e-10
        self._read_lobes(uv, tile)
        if buffers.has_relief:
            self._light_slopes()
        self._weigh_lobes()

    def _bands(self, table):
        return read_row(table, self.surface, self.buffers.bands, self.active)

    def _read_lobes(self, uv, tile):
        buffers = self.buffers
        self.reflectance = self._bands(buffers.reflectance)
        body = read_four(buffers.body, self.surface, self.active)
        self.mean_reflectance = body[0]
        if buffers.has_texture:
            self._read_texture(uv)
        self.mean_transmission = mi.Float(0)
        if buffers.has_transmission:
            self.transmission = self._bands(buffers.transmission)
            self.mean_transmission = body[1]
            if buffers.has_lobe:
                self.lobe = body[2]
                self.narrow = self.lobe > 0
                self.ahead = -self.frame.to_local(self.view)
        self.gloss, self.mean_specular, self.mirror = mi.Float(0), mi.Float(0), mi.Bool(False)
        if buffers.has_gloss:
            self.gloss, self.under, self.mean_specular, self.roughness = read_four(
                buffers.shine, self.surface, self.active)
            if buffers.has_coloured_gloss:
                self.specular = self._bands(buffers.specular)
            if buffers.has_mirror:
                self.mirror = self.roughness < 0
        factor = read_pattern(self, tile) if buffers.has_pattern and tile is not None else None
        if buffers.has_gloss and (buffers.has_across or buffers.has_fuzz or buffers.has_varied):
            self.coat = Coat(buffers, self.surface, self.roughness, factor, self.active)
            self.roughness = self.coat.along
            if buffers.has_varied:
                self.under = self.coat.under(self.gloss, self.mean_specular, self.under)

    def _light_slopes(self):
        """Add to the diffuse lobes what slopes of the relief throw on each other."""
        buffers = self.buffers
        hidden = dr.select(self.leans, 0.5 * (1 - dr.dot(self.normal, self.horizon)), 0)
        if buffers.has_lobe:
            # What goes straight through is not spread over slopes.
            hidden = dr.select(self.narrow, 0, hidden)
        if buffers.has_gloss:
            # It lets less out along the surface, which is what would fall on slopes.
            held = mi.Float(HELD_BACK)
            if self.coat is not None:
                held = dr.select(self.coat.of_fibres, HELD_BY_FIBRES * self.mean_specular, held)
            hidden *= 1 - self.gloss * held
        through = self.transmission if buffers.has_transmission else [0] * buffers.bands
        more = hidden / (1 - hidden)
        gains = [1 + (r + t) * more for r, t in zip(self.reflectance, through, strict=True)]
        self.reflectance = [r * gain for r, gain in zip(self.reflectance, gains, strict=True)]
        gain = 1 + (self.mean_reflectance + self.mean_transmission) * more
        self.mean_reflectance *= gain
        if buffers.has_transmission:
            self.transmission = [t * gain for t, gain in zip(through, gains, strict=True)]
            self.mean_transmission *= gain

    def _read_texture(self, uv):
        buffers = self.buffers
        at = self.surface * 3
        offset, rows, columns = (dr.gather(mi.Int, buffers.texture, at + k, self.active)
                                 for k in range(3))
        textured = self.active & (offset >= 0)
        # A masked lane reads 0, and dividing a whole number by it would end the process.
        rows, columns = dr.maximum(rows, 1), dr.maximum(columns, 1)
        # What is no number makes no place in the table either.
        uv = dr.select(dr.isfinite(uv), uv, 0)
        if buffers.has_texture_size:
            scale = read_four(buffers.per_texture, self.surface, self.active)
            uv = mi.Point2f(uv.x * scale[0], uv.y * scale[1])
        x = (uv.x - dr.floor(uv.x)) * columns - 0.5
        y = (1 - (uv.y - dr.floor(uv.y))) * rows - 0.5
        left, top = dr.floor(x), dr.floor(y)
        fx, fy = x - left, y - top
        colour = mi.Color3f(0)
        for i, j, weight in ((0, 0, (1 - fx) * (1 - fy)), (1, 0, fx * (1 - fy)),
                             (0, 1, (1 - fx) * fy), (1, 1, fx * fy)):
            column = (mi.Int(left) + i + columns) % columns
            row = dr.clip(mi.Int(top) + j, 0, rows - 1)
            texel = mi.UInt(offset + row * columns + column)
            colour += weight * first_three(read_four(buffers.texels, texel, textured), mi.Color3f)
        total = mi.Float(0)
        for b in range(buffers.bands):
            banded = sum(colour[c] * buffers.basis[c][b] for c in range(3))
            self.reflectance[b] = dr.select(textured, banded, self.reflectance[b])
            total += self.reflectance[b]
        self.mean_reflectance = dr.select(textured, total / buffers.bands, self.mean_reflectance)

    def _gloss_tables(self, cosine, direction):
        """Return A and B of the gloss's directional albedo at a cosine, of a direction."""
        x = dr.clip(cosine, 0, 1) * (ANGLES - 1)
        low = dr.minimum(mi.UInt(x), ANGLES - 2)
        part = x - mi.Float(low)
        row, after, between = self.surface, None, None
        if self.coat is not None and self.coat.has_rows:
            row, after, between = self.coat.rows(self.frame.to_local(direction))
        four = read_four(self.buffers.gloss_albedo, row * ANGLES + low, self.active)
        if after is not None:
            four = dr.lerp(four, read_four(self.buffers.gloss_albedo, after * ANGLES + low, self.active),
                           between)
        a, b, next_a, next_b = four
        return dr.lerp(a, next_a, part), dr.lerp(b, next_b, part)

    def _facet_loss(self, a, b):
        """Return what a gloss that mirrors all light would lose between its facets, relatively."""
        loss = 1 / dr.maximum(a + b, 1e-3) - 1
        return loss if self.coat is None else self.coat.facet_loss(loss)

    def _gloss_albedo(self, a, b):
        """Return the gloss's directional albedo, with what its facets lost put back."""
        gain = 1 + self.mean_specular * self._facet_loss(a, b)
        return self.gloss * (self.mean_specular * a + b) * gain

    def _weigh_lobes(self):
        """Set the probability of each lobe, by the share of light that it sends on."""
        if not self.buffers.has_gloss:
            gloss = mi.Float(0)
            self.left_in = mi.Float(1)
        else:
            a, b = self._gloss_tables(self.cos_view, self.view)
            gloss = self._gloss_albedo(a, b)
            self.left_in = 1 - gloss
            self.facet_loss = self._facet_loss(a, b)
        reflect = self.left_in * self.mean_reflectance
        transmit = self.left_in * self.mean_transmission
        total = gloss + reflect + transmit
        self.albedo, self.black = total, total < 1e-5
        scale = dr.select(self.black, 0, 1 / dr.maximum(total, 1e-5))
        self.p_mirror = dr.select(self.mirror, gloss * scale, 0)
        rest = 1 / dr.maximum(1 - self.p_mirror, 1e-5)
        self.p_gloss = dr.select(self.mirror, 0, gloss * scale)
        self.p_reflect = reflect * scale * rest
        self.p_transmit = transmit * scale * rest
        # A pure mirror has nothing else to sample.
        self.only_mirror = self.mirror & (reflect + transmit < 1e-6)

    def _facet(self, light):
        """Return (D G / (4 cos view), Schlick's fifth power, pdf of its sampling) of the gloss."""
        half = dr.normalize(light + self.view)
        cos_half = dr.dot(half, self.normal)
        cos_light = dr.maximum(dr.dot(self.normal, light), 1e-4)
        if self.coat is not None:
            return self.coat.facet(self, half, light, cos_light)
        a2 = dr.square(self.roughness)
        d = a2 / (dr.pi * dr.square(dr.square(cos_half) * (a2 - 1) + 1))

        def lam(c):
            return 0.5 * (dr.sqrt(1 + a2 * (1 / dr.square(c) - 1)) - 1)

        lam_view, lam_light = lam(self.cos_view), lam(cos_light)
        value = d / (1 + lam_view + lam_light) / (4 * self.cos_view)
        pdf = dr.select(cos_half > 0, d / (1 + lam_view) / (4 * self.cos_view), 0)
        fifth = (1 - dr.clip(dr.dot(half, light), 0, 1)) ** 5
        return value, fifth, pdf

    def _facet_bands(self, fifth):
        """Return the gloss's Fresnel factor, with what its facets lost put back."""
        return self.of_gloss(lambda f0: (f0 * (1 - fifth) + fifth) * (1 + f0 * self.facet_loss))

    def of_gloss(self, factor):
        """Return a function of the gloss's reflectance straight on, a list over bands."""
        if self.buffers.has_coloured_gloss:
            return [factor(f0) for f0 in self.specular]
        return [factor(self.mean_specular)] * self.buffers.bands

    def evaluate(self, light):
        """Return (lobes times cosine, a list over bands; pdf of `sample` per solid angle).

        Neither counts the perfect mirror, which no other ray can hit.
        """
        cos_light, cos_side = dr.dot(self.normal, light), dr.dot(self.side, light)
        above = self._is_above(self, light)
        below = (cos_light < 0) & (cos_side < 0)
        size = dr.abs(cos_light) * dr.inv_pi
        diffuse = self._diffuse(dr.abs(cos_light), light)
        pdf = dr.select(above, self.p_reflect * size, 0)
        up = dr.select(above, diffuse, 0)
        values = [r * up for r in self.reflectance]
        if self.buffers.has_transmission:
            shape = self._lobe_over_even(light) if self.buffers.has_lobe else mi.Float(1)
            down = dr.select(below, diffuse * shape, 0)
            values = [v + t * down for v, t in zip(values, self.transmission, strict=True)]
            pdf += dr.select(below, self.p_transmit * size * shape, 0)
        if self.buffers.has_rough:
            for facet, fifth, facet_pdf in self._facets(light, cos_light, above):
                values = [v + facet * f
                          for v, f in zip(values, self._facet_bands(fifth), strict=True)]
                pdf += facet_pdf
        return values, pdf

    def _is_above(self, place, light):
        """Return whether light gets to a place, the vertex or one near it, from over the surface."""
        over = dr.dot(place.side, light) > 0
        if self.buffers.has_relief:
            over = dr.select(place.rounded, dr.dot(place.level, light) > 0, over)
        else:
            over |= place.rounded
        return (dr.dot(place.normal, light) > 0) & over

    def _facets(self, light, cos_light, above):
        """Return what the gloss sends in a direction: (share, Schlick's fifth power, pdf), once or twice."""
        rough = ~self.mirror & (self.gloss > 0)
        facet, fifth, pdf = self._facet(light)
        # Facets also throw samples below the surface, where a transmitting one has light.
        drawn = rough
        if self.buffers.has_relief:
            drawn = rough & ~(self.leans & (cos_light > 0) & (dr.dot(self.horizon, light) <= 0))
        found = [(dr.select(above & rough, self.gloss * facet, 0), fifth,
                  dr.select(drawn, self.p_gloss * pdf, 0))]
        if self.buffers.has_relief:
            sunk = light - 2 * dr.dot(self.horizon, light) * self.horizon
            also = above & rough & self.leans & (dr.dot(self.normal, sunk) > 0)
            facet, fifth, pdf = self._facet(sunk)
            found.append((dr.select(also, self.gloss * facet, 0), fifth,
                          dr.select(also, self.p_gloss * pdf, 0)))
        return found

    def _diffuse(self, cosine, light):
        """Return what the gloss lets in and out again of the diffuse lobe, times cosine over pi."""
        if not self.buffers.has_gloss:
            return cosine * dr.inv_pi
        left_out = 1 - self._gloss_albedo(*self._gloss_tables(cosine, light))
        return cosine * dr.inv_pi * self.left_in * left_out / self.under

    def seeped(self, light):
        """Return (here, there, a list over bands) of light that came in at an `Entry`.

        What the diffuse reflection of a band loses of the light that arrives here and gains of
        that which arrives there, from one direction; times cosine.
        """
        def up(place):
            above = self._is_above(place, light) & self.entry.active
            return dr.select(above, self._diffuse(dr.dot(place.normal, light), light), 0)

        return (up(self), up(self.entry.place),
                [r * p for r, p in zip(self.reflectance, self.entry.parts, strict=True)])

    def sample(self, u, point):
        """Return a direction drawn from the lobes other than the perfect mirror.

        `u` chooses the lobe, and `point`, a Point2f, the direction.
        """
        cosine = mi.warp.square_to_cosine_hemisphere(point)
        local = mi.Vector3f(cosine)
        if self.buffers.has_transmission:
            through = u < self.p_transmit
            local.z = dr.select(through, -local.z, local.z)
            if self.buffers.has_lobe:
                local = dr.select(through & self.narrow, self._sample_lobe(point), local)
        if self.buffers.has_rough:
            by_gloss = u > 1 - self.p_gloss
            local = dr.select(by_gloss, self._sample_facet(point), local)
        direction = self.frame.to_world(local)
        if self.buffers.has_rough and self.buffers.has_relief:
            direction = dr.select(by_gloss & (dr.dot(self.normal, direction) > 0),
                                  self._thrown_on(direction), direction)
        return direction

    def _thrown_on(self, direction):
        """Return where what the gloss sends on in a direction goes, past neighbouring slopes."""
        depth = dr.minimum(dr.dot(self.horizon, direction), 0)
        return dr.select(self.leans, direction - 2 * depth * self.horizon, direction)

    def _lobe_over_even(self, light):
        """Return a narrow transmission over an even one of as much light, in a direction."""
        local = self.frame.to_local(light)
        offset = dr.square(local.x - self.ahead.x) + dr.square(local.y - self.ahead.y)
        inverse = 1 / dr.square(dr.select(self.narrow, self.lobe, 1))
        return dr.select(self.narrow, dr.exp(-offset * inverse) * inverse, 1)

    def _sample_lobe(self, point):
        """Draw a direction from the transmission's lobe; no direction (0) for what is lost."""
        reach = self.lobe * dr.sqrt(-dr.log(dr.maximum(1 - point.x, 1e-7)))
        sine, cosine = dr.sincos(dr.two_pi * point.y)
        x, y = self.ahead.x + reach * cosine, self.ahead.y + reach * sine
        left = 1 - dr.square(x) - dr.square(y)
        return dr.select(left > 1e-6, mi.Vector3f(x, y, -dr.safe_sqrt(left)), mi.Vector3f(0))

    def _sample_facet(self, point):
        """Draw a direction from the visible normals of the gloss (see `gloss`)."""
        view = self.frame.to_local(self.view)
        view.z = dr.maximum(view.z, 1e-4)
        alpha = across = self.roughness
        if self.coat is not None:
            across = self.coat.across
        stretched = dr.normalize(mi.Vector3f(alpha * view.x, across * view.y, view.z))
        length = dr.square(stretched.x) + dr.square(stretched.y)
        inverse = dr.rsqrt(dr.maximum(length, 1e-12))
        first = dr.select(length > 1e-7,
                          mi.Vector3f(-stretched.y * inverse, stretched.x * inverse, 0),
                          mi.Vector3f(1, 0, 0))
        second = dr.cross(stretched, first)
        radius, phi = dr.sqrt(point.x), dr.two_pi * point.y
        sine, cosine = dr.sincos(phi)
        t1, t2 = radius * cosine, radius * sine
        blend = 0.5 * (1 + stretched.z)
        t2 = dr.lerp(dr.safe_sqrt(1 - dr.square(t1)), t2, blend)
        t3 = dr.safe_sqrt(1 - dr.square(t1) - dr.square(t2))
        half = t1 * first + t2 * second + t3 * stretched
        half = dr.normalize(mi.Vector3f(alpha * half.x, across * half.y,
                                        dr.maximum(half.z, 1e-6)))
        direction = 2 * dr.dot(view, half) * half - view
        if self.buffers.has_fuzz:
            even = mi.warp.square_to_uniform_hemisphere(point)
            direction = dr.select(self.coat.of_fibres, mi.Vector3f(even), direction)
        return direction

    def mirror_direction(self):
        """Return the mirrored view direction; at the boundary of glass, the one that it takes."""
        mirrored = 2 * dr.dot(self.view, self.normal) * self.normal - self.view
        if self.buffers.has_relief:
            mirrored = self._thrown_on(mirrored)
        if self.boundary is None:
            return mirrored
        return dr.select(self.boundary.active, self.boundary.direction, mirrored)

    def mirror_weight(self):
        """Return the mirror's throughput over its probability, a list over bands."""
        fifth = (1 - self.cos_view) ** 5
        scale = self.gloss / dr.maximum(self.p_mirror, 1e-5)
        weights = self.of_gloss(lambda f0: (f0 * (1 - fifth) + fifth) * scale)
        if self.boundary is None:
            return weights
        return [dr.select(self.boundary.active, 1, each) for each in weights]
