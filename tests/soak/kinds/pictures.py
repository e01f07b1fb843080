"""Pictures: PNG and JPEG by chunk, segment and byte, and other kinds of file under their names."""

from __future__ import annotations

import io
import struct
import zlib
from random import Random

import numpy as np
from PIL import Image

from previz.scene.fields import table
from previz.scene.surface import Surface

from ..damage import ODD, broken_bytes
from .files import FileKind, Sample

PANEL = (
    "pieces: [{name: sign, shape: panel, at: [1 m, 1 m], size: [1 m, 2 cm, 1 m], surface: {texture: FILE}}]\n"
)
MAPS = (
    "pieces: [{name: sign, shape: panel, at: [1 m, 1 m], size: [1 m, 2 cm, 1 m], "
    "surface: {reflectance: 30 %, normals: FILE, roughness_picture: FILE, picture_size: [40 cm, 20 cm]}}]\n"
)
BACKDROP = (
    "lights: [{name: yard, kind: backdrop, at: [0 m, 4 m, 1 m], aim: [0 m, 0 m, 1 m], size: [4 m, 2 m], "
    "picture: FILE, output: 300 cd/m2}]\n"
)

STARTING = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 8 8\n%%EndComments\nshowpage\n%%EOF\n"
"""A picture that can only be read by running it as a program."""

OTHERS = (
    "BMP",
    "GIF",
    "TIFF",
    "PPM",
    "TGA",
    "ICO",
    "WEBP",
    "PCX",
    "SGI",
    "DDS",
    "ICNS",
    "PDF",
    "EPS",
    "JPEG2000",
)


def _grain(mode: str = "RGB", size: tuple[int, int] = (9, 7)) -> Image.Image:
    noise = np.random.default_rng(1).integers(0, 256, (size[1], size[0], 3), np.uint8)
    return Image.fromarray(noise).convert(mode)


def _saved(kind: str, image: Image.Image, **more) -> bytes:
    made = io.BytesIO()
    image.save(made, kind, **more)
    return made.getvalue()


def pngs() -> list[bytes]:
    """Return PNG files of several sorts."""
    deep = np.random.default_rng(2).integers(0, 65536, (5, 6), np.uint16)
    return [
        _saved("PNG", _grain("RGB")),
        _saved("PNG", _grain("RGBA")),
        _saved("PNG", _grain("P")),
        _saved("PNG", _grain("L"), dpi=(72, 72)),
        _saved("PNG", _grain("1")),
        _saved("PNG", Image.fromarray(deep)),
    ]


def jpegs() -> list[bytes]:
    """Return JPEG files of several sorts."""
    return [
        _saved("JPEG", _grain("RGB", (17, 11))),
        _saved("JPEG", _grain("L")),
        _saved("JPEG", _grain("CMYK")),
        _saved("JPEG", _grain("RGB"), progressive=True),
    ]


class Pictures(FileKind):
    """The files of textures, of surfaces' normals and roughness, and of backdrops."""

    name = "pictures"

    def samples(self) -> list[Sample]:
        """Return one of each sort and use."""
        files = [(f"p{k}.png", data) for k, data in enumerate(pngs())]
        files += [(f"j{k}.jpg", data) for k, data in enumerate(jpegs())]
        if ".exr" in table(Surface)["texture"].suffixes:
            files += [("e.exr", _exr())]
        self.others = [STARTING]
        for kind in OTHERS:
            try:
                self.others.append(_saved(kind, _grain()))
            except (KeyError, OSError):
                continue
        return [
            Sample(name, data, scene.replace("FILE", name))
            for k, (name, data) in enumerate(files)
            for scene in ((PANEL, BACKDROP, MAPS)[k % 3],)
        ]

    def damaged(self, sample: Sample, chance: Random) -> bytes:
        """Return it with chunks or bytes changed, or another kind of file."""
        if chance.random() < 0.1:
            data = chance.choice(self.others)
            return broken_bytes(data, chance, 2) if chance.random() < 0.5 else data
        return damaged_picture(sample.data, chance)


def damaged_picture(data: bytes, chance: Random) -> bytes:
    """Return a picture with some of its parts changed; their checksums are mostly right."""
    if data.startswith(b"\x89PNG") and chance.random() < 0.7:
        data = _png(_png_changed(_chunks(data), chance), chance)
    elif data.startswith(b"\xff\xd8") and chance.random() < 0.5:
        data = _jpeg_changed(data, chance)
    return broken_bytes(data, chance, 3) if chance.random() < 0.4 else data


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """Return the chunks of a PNG. Source: PNG specification, third edition, 5.3."""
    found, at = [], 8
    while at + 8 <= len(data):
        size = struct.unpack(">I", data[at : at + 4])[0]
        found.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + size]))
        at += 12 + size
    return found


def _png_changed(chunks: list[tuple[bytes, bytes]], chance: Random) -> list[tuple[bytes, bytes]]:
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(chunks)) if chunks else 0
        match chance.randrange(8):
            case 0 if chunks:
                name, body = chunks[0]
                if len(body) >= 13:
                    sizes = [
                        chance.choice((0, 1, 7, 9, 65, 3000, 30000, chance.choice(ODD))) for _ in range(2)
                    ]
                    keep = chance.randrange(3)
                    width, height = (
                        (body[:4] if keep == 1 else struct.pack(">I", sizes[0])),
                        (body[4:8] if keep == 2 else struct.pack(">I", sizes[1])),
                    )
                    chunks[0] = name, width + height + body[8:]
            case 1 if chunks and len(chunks[0][1]) >= 13:
                name, body = chunks[0]
                fields = [chance.choice((0, 1, 2, 3, 4, 6, 8, 16, 255)) for _ in range(5)]
                spot = chance.randrange(8, 13)
                chunks[0] = name, body[:spot] + bytes(fields[:1]) + body[spot + 1 :]
            case 2 if chunks:
                del chunks[at]
            case 3 if chunks:
                chunks.insert(chance.randrange(len(chunks)), chunks[at])
            case 4 if chunks:
                name, body = chunks[at]
                chunks[at] = name, broken_bytes(body, chance, 2)
            case 5 if chunks:
                chunks[at] = (
                    chance.choice(
                        (
                            b"PLTE",
                            b"tRNS",
                            b"gAMA",
                            b"iCCP",
                            b"zTXt",
                            b"iTXt",
                            b"IEND",
                            b"acTL",
                            b"fdAT",
                            b"eXIf",
                            b"abcd",
                        )
                    ),
                    chunks[at][1],
                )
            case 6:
                bomb = zlib.compress(bytes(1 << chance.choice((10, 16, 20, 25))), 9)
                chunks.insert(
                    min(1, len(chunks)),
                    chance.choice(((b"zTXt", b"a\0\0" + bomb), (b"iCCP", b"a\0\0" + bomb), (b"IDAT", bomb))),
                )
            case 7 if chunks:
                text = chance.choice((b"IDAT", b"tEXt"))
                chunks.append((text, chance.randbytes(20)))
    return chunks


def _png(chunks: list[tuple[bytes, bytes]], chance: Random) -> bytes:
    made = b"\x89PNG\r\n\x1a\n"
    for name, body in chunks:
        total = zlib.crc32(name + body) ^ (1 if chance.random() < 0.02 else 0)
        made += struct.pack(">I", len(body)) + name + body + struct.pack(">I", total)
    return made


def _jpeg_changed(data: bytes, chance: Random) -> bytes:
    """Change a segment. Source: ITU-T T.81, B.1.1."""
    marks = [at for at in range(len(data) - 4) if data[at] == 0xFF and data[at + 1] not in (0, 0xFF)]
    made = bytearray(data)
    for _ in range(chance.randint(1, 3)):
        at = chance.choice(marks)
        match chance.randrange(4):
            case 0:
                made[at + 1] = chance.choice((0xC0, 0xC2, 0xC4, 0xC9, 0xDA, 0xDB, 0xD9, 0xE1, 0xEE, 0xFE))
            case 1:
                made[at + 2 : at + 4] = struct.pack(">H", chance.choice(ODD) & 0xFFFF)
            case 2:
                frame = bytes(made).find(b"\xff\xc0")
                if frame >= 0:
                    made[frame + 5 : frame + 9] = struct.pack(
                        ">HH", *(chance.choice((0, 1, 65535, 30000, 3000)) for _ in range(2))
                    )
            case 3:
                made[at : at + 2] = b""
    return bytes(made)


def _exr() -> bytes:
    """An OpenEXR file of 4 by 3."""
    import OpenEXR

    values = np.random.default_rng(3).random((3, 4, 3)).astype(np.float32)
    OpenEXR.File(
        {"compression": OpenEXR.ZIP_COMPRESSION, "type": OpenEXR.scanlineimage}, {"RGB": values}
    ).write("s.exr")
    with open("s.exr", "rb") as file:
        return file.read()
