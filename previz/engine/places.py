"""What of a surface changes from place to place, inside the kernel: tiles read by the mesh's uv."""

from __future__ import annotations

from previz.engine.device import read_four, read_row
from previz.engine.jit import dr, mi
from previz.engine.tables import NONE

HELD = 0.25
"""Share of the level surface's cosine to the viewer that one which leans away keeps: what leans farther is
hidden behind what does not. [1]"""

LEAST_AREA = 1e-12
"""Square of the share of a square that two edges of a face span in uv, from which uv has directions. [1]"""


class Tile:
    """The four texels round a place of a repeated tile: their columns and rows, and weights.

    `table` is one of those of `tiles.Tiles`, and a texel has a `stride` of fours in its data.
    """

    def __init__(self, table, stride, surface, uv, active):
        start, shape, across, down = read_four(table, surface, active, mi.Vector4u)
        self.start, self.stride, self.there = start, stride, active & (start != NONE)
        # A masked lane reads 0, and a tile has one texel at least.
        self.rows, self.columns = dr.maximum(shape >> 16, 1), dr.maximum(shape & 0xFFFF, 1)
        u, v = (dr.select(dr.isfinite(place), place * dr.reinterpret_array(mi.Float, scale), 0)
                for place, scale in ((uv.x, across), (uv.y, down)))
        x = (u - dr.floor(u)) * mi.Float(self.columns) - 0.5
        y = (1 - (v - dr.floor(v))) * mi.Float(self.rows) - 0.5
        left, top = dr.floor(x), dr.floor(y)
        self.across, self.down = x - left, y - top
        self.left, self.right = self._wrapped(left, self.columns)
        self.top, self.bottom = self._wrapped(top, self.rows)

    @staticmethod
    def _wrapped(first, count):
        """Return (number, number of the next) from -1 to the count, wrapped."""
        number = mi.Int(first)
        last = mi.Int(count) - 1
        number = dr.select(number < 0, last, dr.minimum(number, last))
        return mi.UInt(number), mi.UInt(dr.select(number >= last, 0, number + 1))

    def _four(self, data, row, column, which=0):
        """Return one of the fours of a texel."""
        at = self.start + row * self.columns + column
        return read_four(data, at if self.stride == 1 else at * self.stride + which, self.there)

    def read(self, data):
        """Return the four numbers at the place, between those of the texels round it."""
        upper = dr.lerp(self._four(data, self.top, self.left), self._four(data, self.top, self.right),
                        self.across)
        lower = dr.lerp(self._four(data, self.bottom, self.left), self._four(data, self.bottom, self.right),
                        self.across)
        return dr.lerp(upper, lower, self.down)

    def read_pairs(self, data):
        """Return the two numbers at the place, of last fours that hold those of the next to the right too."""
        last = self.stride - 1
        pairs = dr.lerp(self._four(data, self.top, self.left, last),
                        self._four(data, self.bottom, self.left, last), self.down)
        return (dr.lerp(pairs[0], pairs[2], self.across), dr.lerp(pairs[1], pairs[3], self.across))


def along_uv(edges, spans):
    """Return (unit tangents towards greater u and v of a face, whether its uv has such directions).

    `edges` are two of its edges [m] and `spans` how far u and v change along them.
    """
    (first, second), (d1, d2) = edges, spans
    area = d1.x * d2.y - d1.y * d2.x
    size = dr.squared_norm(d1) * dr.squared_norm(d2)
    good = (dr.square(area) > LEAST_AREA * size) & dr.isfinite(area) & (size > 0)
    turn = dr.select(area < 0, mi.Float(-1), 1)
    u = (first * d2.y - second * d1.y) * turn
    v = (second * d1.x - first * d2.x) * turn
    length_u, length_v = dr.squared_norm(u), dr.squared_norm(v)
    good &= (length_u > 0) & (length_v > 0)
    return (u * dr.rsqrt(dr.select(good, length_u, 1)), v * dr.rsqrt(dr.select(good, length_v, 1)), good)


def leaning(buffers, tile, surface, uv, tangents, level, view, turned, active):
    """Return the normal of a relief at a place.

    Parameters
    ----------
    tile : Tile
        Where the surface's pattern is read.
    level : Vector3f
        Normal without it, on the viewer's side.
    turned : Bool
        True where that is the inside, of which the relief is seen from behind.
    """
    along, upwards, good = tangents
    data = buffers.texels_of_tiles
    if buffers.reliefs_apart:
        tile, data = Tile(buffers.relief_at, 1, surface, uv, active), buffers.slopes
    rise_u, rise_v = tile.read_pairs(data)
    lean = along * rise_u + upwards * rise_v
    # Of a rounded surface the face's tangents stick out of it a little.
    lean -= level * dr.dot(level, lean)
    lean = dr.select(turned, -lean, lean)
    # What would face away from the viewer is bent back, just enough.
    away, facing = dr.dot(lean, view), dr.dot(level, view)
    kept = dr.minimum(1, (1 - HELD) * facing / dr.maximum(away, 1e-9))
    kept = dr.select(away > 0, dr.maximum(kept, 0), 1)
    return dr.select(tile.there & good, dr.normalize(level - lean * kept), level)


def read_pattern(vertex, tile):
    """Put in what a vertex's pattern makes of its reflectance and gloss; return its factor on roughness."""
    buffers = vertex.buffers
    share, factor, gloss, roughness = tile.read(buffers.texels_of_tiles)
    # Elsewhere all of them read 0.
    factor, gloss, roughness = (dr.select(tile.there, each, 1) for each in (factor, gloss, roughness))
    second = read_row(buffers.second, vertex.surface, buffers.bands, tile.there)
    mixed = [dr.fma(share, two - one, one) * factor
             for one, two in zip(vertex.reflectance, second, strict=True)]
    if buffers.patterns_clip:
        most = [1 - t for t in vertex.transmission] if buffers.has_transmission else [1] * buffers.bands
        mixed = [dr.minimum(each, limit) for each, limit in zip(mixed, most, strict=True)]
    vertex.reflectance = mixed
    vertex.mean_reflectance = sum(mixed[1:], mixed[0]) / buffers.bands
    if buffers.has_gloss:
        before = vertex.gloss
        vertex.gloss = dr.minimum(before * gloss, 1)
        vertex.under = 1 - (1 - vertex.under) * vertex.gloss / dr.maximum(before, 1e-6)
    return roughness
