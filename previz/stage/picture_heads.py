"""What a picture is, by its first bytes: PNG or JPEG and nothing else, and how large, before it is decoded.

An imaging library guesses what a file is from its content, whatever its name, and for some kinds starts
another program: PostScript called .png would run in an interpreter. So the kind is decided here, the
library is told it, and it gets no more of the file than what pixels need: comments, profiles, further
pictures and animations are left out before, and with them what they could unpack to.

Sources: PNG, W3C Recommendation, 5 (chunks) and 11.2; JPEG, ITU-T T.81, annex B; Exif 2.3, 4.6.4
(orientation; from memory).
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

from previz.stage.plain_files import FileError

MOST_PIXELS = 1 << 26
"""Most pixels of one picture, 8192 x 8192: 1.3 GB while it is made linear. [1]"""

MOST_TOGETHER = 1 << 27
"""Most pixels of all pictures of one mesh file: 1.6 GB as linear light. [1]"""

MOST_CHUNKS = 1 << 16
"""Most parts of a PNG; encoders write 8 KB and more in each. [1]"""

MOST_SCANS = 64
"""Most scans of a JPEG; each goes over all of its pixels, and a progressive one has about ten. [1]"""

OTHERS = {
    b"%!PS": "PostScript", b"\xc5\xd0\xd3\xc6": "PostScript", b"%PDF": "PDF", b"GIF8": "GIF",
    b"II*\0": "TIFF", b"MM\0*": "TIFF", b"BM": "BMP", b"\x76\x2f\x31\x01": "OpenEXR",
    b"#?RADIANCE": "Radiance HDR", b"8BPS": "a layered picture", b"<svg": "SVG", b"<?xml": "XML",
    b"\xabKTX": "KTX", b"DDS ": "DDS", b"PK\x03\x04": "an archive", b"\x1f\x8b": "an archive",
    b"\0\0\0\x0cjP": "JPEG 2000", b"<html": "a web page", b"<!DOC": "a web page",
}
"""First bytes -> what is not read."""

_PNG_COLOURS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Colour type -> numbers a pixel."""

_DEFLATE = 1032
"""Most that deflate packs into one, RFC 1951 (its longest match, 258, takes two bits at least). [1]"""

_PNG, _JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"
AGAIN = "Export it again, as PNG or JPEG."
_KINDS = "Save it as PNG or JPEG."


@dataclass(frozen=True)
class Head:
    """What a picture says before its pixels.

    Parameters
    ----------
    kind : str
        'PNG' or 'JPEG', as the library calls it.
    width, height : int
        [px]
    turn : int
        Exif orientation, 1 to 8; 1 is upright.
    parts : tuple of (int, int)
        Start and end of what pixels need, in its bytes.
    least : int
        Bytes that so many pixels cannot do without, however plain they are.
    """

    kind: str
    width: int
    height: int
    turn: int
    parts: tuple[tuple[int, int], ...]
    least: int


def head(data: bytes | memoryview) -> Head:
    """Return what a picture is, without decoding it.

    Raises
    ------
    FileError
        It is neither PNG nor JPEG, has no pixels or too many, or is damaged.
    """
    start = bytes(data[:64])
    if start.startswith(_PNG):
        found = _png_head(memoryview(data))
    elif start.startswith(_JPEG):
        found = _jpeg_head(bytes(data))
    else:
        raise FileError(f"it is {_called(start)}, and only PNG and JPEG are read", _KINDS)
    if found.width < 1 or found.height < 1:
        raise FileError(f"it is {found.width} x {found.height} pixels large", AGAIN)
    if found.width * found.height > MOST_PIXELS:
        raise FileError(f"it is {found.width} x {found.height} pixels large, and "
                        f"{MOST_PIXELS // 10**6} million are the most",
                        "Make it smaller; twice as wide as the still is enough.")
    if sum(end - start for start, end in found.parts) < found.least:
        raise FileError("it is cut off", AGAIN)
    return found


def _called(start: bytes) -> str:
    if start[:4] == b"RIFF" and start[8:12] == b"WEBP":
        return "WebP"
    if start[4:8] == b"ftyp":
        return "a film or HEIF"
    text = start.lstrip(b"\xef\xbb\xbf \t\r\n")
    return next((name for mark, name in OTHERS.items() if text.startswith(mark)),
                "of another kind" if start else "empty")


def _png_head(data: memoryview) -> Head:
    """Walk over the chunks; keep those that pixels need, in their order."""
    at, parts, size, bits, ended = len(_PNG), [(0, len(_PNG))], None, 0, False
    pixels, count = False, 0
    while not ended and at + 12 <= len(data):
        length, name = struct.unpack_from(">I4s", data, at)
        end, count = at + 12 + length, count + 1
        if end > len(data):
            break
        if count > MOST_CHUNKS:
            raise FileError(f"it has more than {MOST_CHUNKS} parts", AGAIN)
        if name == b"IHDR" and size is None and length == 13:
            *size, depth, colour = struct.unpack_from(">IIBB", data, at + 8)
            bits = depth * _PNG_COLOURS.get(colour, 0)
        elif name == b"IHDR" or size is None:
            raise FileError("its first part is not its size", AGAIN)
        if name in (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"):
            # What lies side by side is one part.
            parts[-1:] = ([(parts[-1][0], end)] if parts[-1][1] == at else [parts[-1], (at, end)])
        pixels, ended, at = pixels or name == b"IDAT", name == b"IEND", end
    if size is None or not (pixels and ended):
        raise FileError("it is cut off", AGAIN)
    return Head("PNG", *size, 1, tuple(parts), size[0] * size[1] * bits // 8 // _DEFLATE)


def _jpeg_head(data: bytes) -> Head:
    """Walk over the segments before the pixels; keep those that decoding needs."""
    at, parts, size, turn = 2, [(0, 2)], None, 1
    while True:
        while data[at:at + 2] == b"\xff\xff":
            at += 1
        if at + 4 > len(data):
            raise FileError("it is cut off", AGAIN)
        mark, length = data[at + 1], int.from_bytes(data[at + 2:at + 4], "big")
        if data[at] != 0xFF or length < 2 or mark in range(0xD0, 0xDA):
            raise FileError("it is damaged before its pixels", AGAIN)
        if mark == 0xDA:
            break
        body, end = data[at + 4:at + 2 + length], at + 2 + length
        if 0xC0 <= mark <= 0xCF and mark not in (0xC4, 0xC8, 0xCC):
            size = _jpeg_size(mark, body, size)
        if mark == 0xE1 and body[:6] == b"Exif\0\0":
            turn = _orientation(body[6:])
        # JFIF and Adobe say how colours are written; the other applications' parts and comments say nothing.
        if not (0xE1 <= mark <= 0xEF and mark != 0xEE) and mark != 0xFE:
            parts[-1:] = [(parts[-1][0], end)] if parts[-1][1] == at else [parts[-1], (at, end)]
        at = end
    if size is None:
        raise FileError("it does not say how large it is", AGAIN)
    if data.count(b"\xff\xda", at) > MOST_SCANS:
        raise FileError(f"it has more than {MOST_SCANS} scans", AGAIN)
    parts[-1:] = ([(parts[-1][0], len(data))] if parts[-1][1] == at else [parts[-1], (at, len(data))])
    # A block of 8 x 8 pixels takes a bit at least.
    return Head("JPEG", *size, turn, tuple(parts), size[0] * size[1] // 64 // 8)


def _jpeg_size(mark: int, body: bytes, before: tuple[int, int] | None) -> tuple[int, int]:
    if before is not None or len(body) < 6:
        raise FileError("it says twice how large it is" if before else "it is damaged", AGAIN)
    depth, height, width, colours = struct.unpack_from(">BHHB", body)
    if colours == 4:
        raise FileError("it is in the four inks of print, whose colours hang on the press",
                        "Save it as RGB.")
    if depth != 8 or mark not in (0xC0, 0xC1, 0xC2) or colours not in (1, 3):
        raise FileError("it is a rare kind of JPEG", _KINDS)
    return width, height


def _orientation(tiff: bytes) -> int:
    """Return the orientation in an Exif segment; 1 where it has none that makes sense."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(tiff[:4])
    try:
        at, = struct.unpack_from(f"{order}I", tiff, 4)
        count, = struct.unpack_from(f"{order}H", tiff, at)
        for number in range(count):
            tag, kind, _, value = struct.unpack_from(f"{order}HHIH", tiff, at + 2 + 12 * number)
            if (tag, kind) == (0x0112, 3):
                return value if 1 <= value <= 8 else 1
    except struct.error:
        pass
    return 1
