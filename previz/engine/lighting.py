"""Where light comes from, inside the kernel: evaluate and sample emitters, sun, sky and guides."""

from __future__ import annotations

from previz.engine.device import Rectangle, first_three, number, read_four, vector
from previz.engine.jit import dr, mi
from previz.engine.seen import SeenBall, SeenRectangle
from previz.engine.tables import NONE, TABLE_THETA
from previz.stage.records import EDGE

OPENING_SHARE = 0.9
"""Share of the sky's samples that are aimed at openings, where there are any."""


def read_emitter(buffers, name, emitter, active=True, kind=None):
    """Return four numbers of emitters; see `Buffers` for what lies together."""
    return read_four(getattr(buffers, f"emitter_{name}"), emitter, active, kind)


class Emitter:
    """What the tables say of an emitter in each lane; each four is read once for all that needs it."""

    def __init__(self, buffers, index, active):
        self.buffers = buffers
        self.lamp, self.first, self.triangles, self.kind = read_emitter(
            buffers, "owner", index, active, mi.Vector4u)
        self._table, self._around, self._of_lamp, _ = read_emitter(
            buffers, "table_at", index, active, mi.Vector4u)
        middle, self._ahead, self._right, self._up = (
            read_emitter(buffers, name, index, active) for name in ("middle", "ahead", "right", "up"))
        self.middle, self._radiance = first_three(middle, mi.Point3f), middle.w
        self.symmetric = self._right.w

    def _table_value(self, local, active):
        """Return intensity per lumen [cd/lm] in a direction given in the lamp's own frame."""
        buffers, widest, around = self.buffers, self._up.w, self._around
        theta = dr.acos(dr.clip(local.z, -1, 1))
        x = theta / widest * (TABLE_THETA - 1)
        low = dr.minimum(mi.UInt(x), TABLE_THETA - 2)
        part = x - mi.Float(low)
        inside = active & (theta < widest)

        def entry(index):
            return dr.gather(mi.Float, buffers.emitter_table, self._table + index, inside)

        if not buffers.has_phi:
            return dr.select(inside, dr.lerp(entry(low), entry(low + 1), part), 0)
        turn = dr.atan2(local.y, local.x) * dr.inv_two_pi
        y = (turn - dr.floor(turn)) * mi.Float(around)
        first = dr.minimum(mi.UInt(y), around - 1)
        second = dr.select(first + 1 >= around, 0, first + 1)
        across = y - mi.Float(first)
        ring, next_ring = low * around, (low + 1) * around
        near = dr.lerp(entry(ring + first), entry(ring + second), across)
        far = dr.lerp(entry(next_ring + first), entry(next_ring + second), across)
        return dr.select(inside, dr.lerp(near, far, part), 0)

    def radiance(self, point, towards, cosine, active):
        """Return the radiance per lumen that leaves a point in a direction. [1/(m² sr)]

        `cosine` is that to the face's normal; light leaves only where it is above 0.
        """
        buffers, value = self.buffers, self._radiance
        if buffers.has_thin:
            value = dr.select(self.kind == 3, value * dr.lerp(EDGE, 1, cosine), value)
        if buffers.has_tables:
            tabled = active & (self.kind > 0)
            if buffers.has_thin:
                tabled &= self.kind < 3
            axis, near = first_three(self._ahead), self._ahead.w
            along = dr.dot(towards, axis)
            aimed = mi.Vector3f(towards)
            stretch = mi.Float(1)
            if buffers.has_focus:
                # A focused lens throws the table's picture onto one plane: what counts is where the
                # ray meets that plane, and the map between the two directions keeps the flux.
                focused = (near > 0) & (along > 1e-3)
                offset = (point - self.middle) * near
                moved = dr.normalize(offset + towards / dr.maximum(along, 1e-3))
                aimed = dr.select(focused, moved, aimed)
                ratio = dr.dot(moved, axis) / dr.maximum(along, 1e-3)
                stretch = dr.select(focused, ratio * ratio * ratio, 1)
            local = mi.Vector3f(dr.dot(aimed, first_three(self._right)),
                                dr.dot(aimed, first_three(self._up)), dr.dot(aimed, axis))
            shown = dr.maximum(cosine, 1e-3)
            if buffers.has_round_tables:
                shown = dr.select(self.kind == 2, 1, shown)
            tabled_value = value * stretch * self._table_value(local, tabled) / shown
            value = dr.select(tabled, tabled_value, value)
        return dr.select(active & (cosine > 0), value, 0)

    def pdf(self, area, distance_squared, cosine):
        """Return the pdf per solid angle of `sample_light` for a point of the lamp, on a face so large."""
        pieces = mi.Float(self._of_lamp * self.triangles) * area
        return (1 + self.symmetric) * distance_squared / dr.maximum(pieces * cosine, 1e-12)


def pictured(buffers, values, emitter, point, active):
    """Return band values times the colour that an emitter's picture has at a point of it."""
    if not buffers.has_pictures:
        return values
    start, rows, columns = (dr.gather(mi.UInt, buffers.emitter_picture, emitter * 3 + k, active)
                            for k in range(3))
    shown = active & (start != NONE)
    offset = point - first_three(read_emitter(buffers, "middle", emitter, shown), mi.Point3f)
    span = dr.gather(mi.Point2f, buffers.emitter_span, emitter, shown)

    def along(axis, length, count):
        share = dr.dot(offset, first_three(read_emitter(buffers, axis, emitter, shown))) / length
        place = dr.clip((share + 0.5) * mi.Float(count) - 0.5, 0, mi.Float(count - 1))
        low = dr.minimum(mi.UInt(place), count - 1)
        return low, dr.minimum(low + 1, count - 1), place - mi.Float(low)

    rows, columns = dr.maximum(rows, 1), dr.maximum(columns, 1)
    left, right, across = along("right", span.x, columns)
    low, high, up = along("up", span.y, rows)

    def texel(row, column):
        at = start + (rows - 1 - row) * columns + column
        return first_three(read_four(buffers.emitter_texels, at, shown), mi.Color3f)

    colour = dr.lerp(dr.lerp(texel(low, left), texel(low, right), across),
                     dr.lerp(texel(high, left), texel(high, right), across), up)
    return [dr.select(shown, v * sum(colour[c] * buffers.basis[c][b] for c in range(3)), v)
            for b, v in enumerate(values)]


def sampled_picture(buffers, values, lamp, point, active):
    """Return band values times the colour of a lamp's picture at a point that was drawn on it."""
    if not buffers.has_pictures:
        return values
    emitter, count = emitters_of(buffers, lamp, active)
    return pictured(buffers, values, emitter, point, active & (count == 1))


def emitters_of(buffers, lamp, active=True):
    """Return (first, number) of the emitters of lamps, UInt; none of the sun's and the sky's."""
    return dr.gather(mi.Vector2u, buffers.emitter_of_lamp, lamp, active)


def _sky_place(buffers, direction):
    """Return (row, column, share of the next row, share of the next column) of the sky's table."""
    rows, columns = buffers.sky_shape
    y = dr.clip(dr.acos(dr.clip(direction.z, -1, 1)) * dr.two_pi * dr.inv_pi * dr.inv_pi * rows
                - 0.5, 0, rows - 1)
    turn = dr.atan2(direction.y, direction.x) * dr.inv_two_pi
    x = (turn - dr.floor(turn)) * columns - 0.5
    x = dr.select(x < 0, x + columns, x)
    row, column = dr.minimum(mi.UInt(y), rows - 2), dr.minimum(mi.UInt(x), columns - 1)
    return row, column, y - mi.Float(row), x - mi.Float(column)


def sky_radiance(buffers, direction, active):
    """Return the sky's radiance per lux in a direction; 0 below the horizon. [1/sr]"""
    above = active & (direction.z > 0)
    row, column, fy, fx = _sky_place(buffers, direction)
    corners = read_four(buffers.sky, row * buffers.sky_shape[1] + column, above)
    near, far = dr.lerp(corners[0], corners[1], fx), dr.lerp(corners[2], corners[3], fx)
    return dr.select(above, dr.lerp(near, far, fy), 0)


def sky_coloured(buffers, values, direction, active):
    """Return band values times the colour that the sky has in a direction."""
    if not buffers.has_sky_colour:
        return values
    active = active & (direction.z > 0)
    columns = buffers.sky_shape[1]
    row, column, fy, fx = _sky_place(buffers, direction)
    after = dr.select(column + 1 >= columns, 0, column + 1)

    def texel(down, across):
        return first_three(read_four(buffers.sky_colour, (row + down) * columns + across, active), mi.Color3f)

    colour = dr.lerp(dr.lerp(texel(0, column), texel(0, after), fx),
                     dr.lerp(texel(1, column), texel(1, after), fx), fy)
    return [dr.select(active, v * sum(colour[c] * buffers.basis[c][b] for c in range(3)), v)
            for b, v in enumerate(values)]


def star_radiance(buffers, direction, dome, active):
    """Return the sky's radiance per lux with its stars as points; `dome` has them spread out. [1/sr]"""
    rows, columns = buffers.star_grid
    above = active & (direction.z > 0)
    row = dr.minimum(mi.UInt((1 - dr.clip(direction.z, 0, 1)) * rows), rows - 1)
    turn = dr.atan2(direction.y, direction.x) * dr.inv_two_pi
    column = dr.minimum(mi.UInt((turn - dr.floor(turn)) * columns), columns - 1)
    star = read_four(buffers.stars, row * columns + column, above)
    offset = dr.squared_norm(dr.cross(direction, first_three(star)))
    shown = above & (offset < number(buffers.star_data, 0))
    point = dr.select(shown, star.w * number(buffers.star_data, 1), 0)
    return dome * number(buffers.star_data, 2) + point


def sun_radiance(buffers, direction, active):
    """Return (radiance per lux [1/sr], pdf of its sampling per solid angle) towards a direction."""
    towards = vector(buffers.sun, 0)
    offset = dr.squared_norm(dr.cross(direction, towards))
    inside = active & (offset < number(buffers.sun, 3)) & (dr.dot(direction, towards) > 0)
    value = number(buffers.sun, 4)
    if buffers.has_sun_face:
        value *= _sun_face(buffers, direction, inside)
    return dr.select(inside, value, 0), number(buffers.sun, 5)


def _sun_face(buffers, direction, active):
    """Return the radiance of a place of the disc over the mean of the disc."""
    rows, columns = buffers.sun_face_shape
    radius = dr.sqrt(number(buffers.sun, 3))

    def place(share, count):
        at = dr.clip((share * 0.5 + 0.5) * count - 0.5, 0, count - 1)
        low = dr.minimum(mi.UInt(at), count - 2)
        return low, at - mi.Float(low)

    column, fx = place(dr.dot(direction, vector(buffers.sun_axes, 0)) / radius, columns)
    row, fy = place(-dr.dot(direction, vector(buffers.sun_axes, 3)) / radius, rows)

    def texel(down, across):
        return dr.gather(mi.Float, buffers.sun_face, (row + down) * columns + column + across, active)

    return dr.lerp(dr.lerp(texel(0, 0), texel(0, 1), fx), dr.lerp(texel(1, 0), texel(1, 1), fx), fy)


SHARES = (0.2, 0.8)
"""Least and most of the continuation rays that are aimed at guides, where there are any."""


class Guides:
    """The guides as seen from one point: how much each deserves, and how to aim at them."""

    def __init__(self, buffers, point):
        self.buffers = buffers
        shapes = [Rectangle(buffers.guide_data, i) for i in range(buffers.guides)]
        self.seen = [(SeenBall if is_round else SeenRectangle)(shape, point)
                     for shape, is_round in zip(shapes, buffers.guide_round, strict=True)]
        # About the solid angle of a guide, by its brightness.
        self.weights = [each.about() * each.shape.extra2 for each in self.seen]
        self.total = sum(self.weights, mi.Float(0))
        openings = [w for w, o in zip(self.weights, buffers.guide_opening, strict=True) if o]
        self.opening_total = sum(openings, mi.Float(0))
        self.has_openings = bool(openings)
        # As much as the guides probably send of all that comes to the point.
        self.share = dr.clip(self.total / (self.total + dr.pi), *SHARES)

    def sample(self, u, point, openings_only=False):
        """Return a direction aimed at one guide, chosen by weight."""
        total = self.opening_total if openings_only else self.total
        left = u * total
        direction = mi.Vector3f(0, 0, 1)
        found = mi.Bool(False)
        for index, seen in enumerate(self.seen):
            if openings_only and not self.buffers.guide_opening[index]:
                continue
            take = ~found & (left < self.weights[index])
            found |= take
            left -= self.weights[index]
            direction = dr.select(take, seen.aim(point), direction)
        return dr.normalize(direction)

    def pdfs(self, direction):
        """Return (pdf per solid angle of a direction, that of openings alone, about how bright it is there).

        The brightness is relative to what lies beside the guides.
        """
        every, openings, brightness = mi.Float(0), mi.Float(0), mi.Float(1)
        for index, seen in enumerate(self.seen):
            part = self.weights[index] * seen.pdf(direction)
            every += part
            brightness += part * seen.shape.extra3
            if self.buffers.guide_opening[index]:
                openings += part
        return (every / dr.maximum(self.total, 1e-12),
                openings / dr.maximum(self.opening_total, 1e-12), brightness)

    def sky_pdf(self, direction, openings):
        """Return the pdf per solid angle of `sample_light` for a direction of the sky."""
        dome = dr.select(direction.z > 0, dr.inv_two_pi, 0)
        if self.has_openings:
            dome = OPENING_SHARE * openings + (1 - OPENING_SHARE) * dome
        return dome


def sample_light(buffers, guides, origin, lamp, u, point, active):
    """Draw a point of one lamp, by `u` and a Point2f, to light the origin; guides may be None.

    Returns
    -------
    direction, distance, value, pdf : Vector3f, Float, Float, Float
        Unit vector to the light; how far it must be clear [m]; radiance per unit lamp; pdf per
        solid angle, once this lamp is chosen. Value is 0 where nothing is gained.
    """
    direction, distance = mi.Vector3f(0, 0, 1), mi.Float(1)
    value, pdf = mi.Float(0), mi.Float(1)
    if buffers.emitters:
        direction, distance, value, pdf = _sample_emitter(
            buffers, origin, lamp, u, point, active)
    if buffers.sun_lamp >= 0:
        here = active & (lamp == buffers.sun_lamp)
        aim = _sample_sun(buffers, point)
        radiance, sun_pdf = sun_radiance(buffers, aim, here)
        direction, distance = dr.select(here, aim, direction), dr.select(here, 1e4, distance)
        value, pdf = dr.select(here, radiance, value), dr.select(here, sun_pdf, pdf)
    if buffers.sky_lamp >= 0:
        here = active & (lamp == buffers.sky_lamp)
        aim = mi.warp.square_to_uniform_hemisphere(point)
        openings = mi.Float(0)
        if guides is not None and guides.has_openings:
            through = u < OPENING_SHARE
            aim = dr.select(through, guides.sample(u / OPENING_SHARE, point, True), aim)
            openings = guides.pdfs(aim)[1]
        sky_pdf = (guides.sky_pdf(aim, openings) if guides is not None
                   else dr.select(aim.z > 0, dr.inv_two_pi, 0))
        direction, distance = dr.select(here, aim, direction), dr.select(here, 1e4, distance)
        value = dr.select(here, sky_radiance(buffers, aim, here), value)
        pdf = dr.select(here, sky_pdf, pdf)
    return direction, distance, value, pdf


def _sample_sun(buffers, point):
    frame = mi.Frame3f(vector(buffers.sun, 0))
    sine2 = number(buffers.sun, 3) * point.x
    radius, phi = dr.sqrt(sine2), dr.two_pi * point.y
    sine, cosine = dr.sincos(phi)
    return frame.to_world(mi.Vector3f(radius * cosine, radius * sine, dr.sqrt(1 - sine2)))


def _sample_emitter(buffers, origin, lamp, u, point, active):
    first, count = emitters_of(buffers, lamp, active)
    active = active & (count > 0)
    scaled = u * mi.Float(count)
    which = dr.minimum(mi.UInt(scaled), dr.maximum(count, 1) - 1)
    emitter = Emitter(buffers, first + which, active)
    again = (scaled - mi.Float(which)) * mi.Float(emitter.triangles)
    piece = dr.minimum(mi.UInt(again), dr.maximum(emitter.triangles, 1) - 1)
    face = emitter.first + piece
    corners = read_four(buffers.corners, face, active, mi.Vector4u)
    p0, p1, p2 = (first_three(read_four(buffers.vertices, corners[i], active), mi.Point3f)
                  for i in range(3))
    root = dr.sqrt(point.x)
    on = p0 * (1 - root) + p1 * (root * (1 - point.y)) + p2 * (root * point.y)
    double = dr.cross(p1 - p0, p2 - p0)
    area = 0.5 * dr.norm(double)
    normal = double / dr.maximum(2 * area, 1e-12)
    # Of a shape that mirrors itself through its centre, take the half that faces the point.
    turn = (emitter.symmetric > 0.5) & (dr.dot(normal, origin - on) < 0)
    on = dr.select(turn, mi.Point3f(2 * emitter.middle - on), on)
    normal = dr.select(turn, -normal, normal)
    offset = on - origin
    squared = dr.maximum(dr.squared_norm(offset), 1e-12)
    distance = dr.sqrt(squared)
    direction = offset / distance
    cosine = -dr.dot(direction, normal)
    lit = active & (cosine > 1e-6)
    value = emitter.radiance(on, -direction, cosine, lit)
    pdf = emitter.pdf(area, squared, cosine)
    return direction, distance, dr.select(lit, value, 0), dr.select(lit, pdf, 1)
