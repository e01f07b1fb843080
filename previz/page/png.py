"""A picture as PNG bytes, for a page that cannot mix for itself."""

from __future__ import annotations

import struct
import zlib

import numpy as np

_QUICK = 3


def png_bytes(picture: np.ndarray) -> bytes:
    """Return an 8-bit sRGB picture as a PNG file.

    Parameters
    ----------
    picture : uint8 array, shape (row, column, 3)
        sRGB.

    Source
    ------
    ISO/IEC 15948:2004 (PNG): signature, IHDR, sRGB, IDAT, IEND; filter 0 on every row.
    """
    rows, columns, _ = picture.shape
    lines = np.zeros((rows, 1 + 3 * columns), np.uint8)
    lines[:, 1:] = picture.reshape(rows, -1)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)
    return b"".join((
        b"\x89PNG\r\n\x1a\n", _chunk(b"IHDR", head), _chunk(b"sRGB", b"\x00"),
        _chunk(b"IDAT", zlib.compress(lines.tobytes(), _QUICK)), _chunk(b"IEND", b"")))


def _chunk(name: bytes, body: bytes) -> bytes:
    check = struct.pack(">I", zlib.crc32(name + body))
    return struct.pack(">I", len(body)) + name + body + check
