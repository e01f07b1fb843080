"""Pictures: PNG and JPEG alone, their size before their pixels, every way of writing colours.

Chunks and segments are written here by hand: PNG, W3C Recommendation, 5; JPEG, ITU-T T.81, annex B.
"""

import struct
import zlib

import numpy as np
import pytest
from crafted import SEEN, png, saved
from PIL import Image

from previz.stage import picture_files, picture_heads
from previz.stage.plain_files import FileError


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"", "it is empty"), (b"\0" * 100, "of another kind"), (b"%PDF-1.7\n", "it is PDF"),
     (b"RIFF\0\0\0\0WEBPVP8 ", "it is WebP"), (b"GIF89a", "it is GIF"), (b"\n <svg>", "it is SVG"),
     (b"\x76\x2f\x31\x01\x02", "it is OpenEXR"),
     (b"II*\0", "it is TIFF"), (b"P6\n9 9\n255\n", "another kind"),
     (png(0, 5), "it is 0 x 5 pixels large"), (png(5, 0), "it is 5 x 0 pixels large"),
     (png(30_000, 3_000), "30000 x 3000 pixels large, and 67 million are the most"),
     (png(2**31 - 1, 2**31 - 1), "are the most"), (png(9, 9, b"x" * 50)[:60], "cut off"),
     (png(9, 9, b"x" * 50), "its pixels are damaged"), (png(9, 9, b"", depth=3), "its pixels are damaged"),
     (png(9, 9, zlib.compress(b"\0" * 50)), "its pixels are damaged"),
     (png(8000, 8000, b"x" * 100_000), "it is cut off"),
     (saved(SEEN, "JPEG").replace(b"\0\2\0\3\3", b"\x1f\0\x1f\0\3"), "it is cut off"),
     (b"\x89PNG\r\n\x1a\n" + b"\0\0\0\0IEND\0\0\0\0", "its first part is not its size"),
     (saved(SEEN, "JPEG")[:90], "cut off"), (b"\xff\xd8\xff\xe0\0\x01", "damaged before its pixels"),
     (b"\xff\xd8\xff\xda\0\x04\0\0\xff\xd9", "does not say how large"),
     (b"\xff\xd8\xff\xc0\0\x0b\x08\0\0\0\x05\x01\x01\x11\0\xff\xda\0\x04\0\0", "5 x 0 pixels"),
     (saved(SEEN, "JPEG").replace(b"\xff\xc0", b"\xff\xc3"), "rare kind of JPEG"),
     (saved(SEEN, "JPEG") + b"\xff\xda" * 70, "more than 64 scans"),
     (saved(Image.new("CMYK", (4, 4)), "JPEG"), "four inks of print")],
)
def test_pictures_that_are_refused(data, words):
    """Each in our own words, before a pixel is decoded where its head says enough."""
    with pytest.raises(FileError, match=words) as caught:
        picture_files.decode(data)
    assert caught.value.advice


def test_what_pixels_do_not_need_is_left_out():
    """Comments and profiles that unpack to twenty megabytes, animation, pictures within the picture."""
    bomb = zlib.compress(b"\0" * 20_000_000)
    rows = b"".join(b"\0" + row.tobytes() for row in SEEN)
    chunks = [(b"zTXt", b"Comment\0\0" + bomb), (b"iTXt", b"a\0\1\0\0\0" + bomb), (b"iCCP", b"p\0\0" + bomb),
              (b"acTL", struct.pack(">II", 2**31 - 1, 0)), (b"eXIf", b"MM\0*" + b"\xff" * 20)]
    made = picture_files.decode(png(3, 2, zlib.compress(rows), *chunks), upright=True)
    np.testing.assert_array_equal(np.asarray(made), SEEN)
    assert made.info == {} and made.mode == "RGB"
    plain = saved(SEEN, "JPEG", quality=95)
    more = b"".join(b"\xff" + mark + struct.pack(">H", 2 + len(body)) + body for mark, body in (
        (b"\xe1", b"Exif\0\0MM\0*\0\0\0\x08\xff\xff"), (b"\xe2", b"MPF\0MM\0*\0\0\0\x08"),
        (b"\xe2", b"ICC_PROFILE\0\1\xff" + b"x" * 90), (b"\xed", b"Photoshop 3.0\0" + b"x" * 90),
        (b"\xfe", b"a comment")))
    made = picture_files.decode(plain[:2] + more + plain[2:], upright=True)
    np.testing.assert_array_equal(np.asarray(made), np.asarray(picture_files.decode(plain)))


def test_a_picture_of_many_parts_and_more_than_its_pixels(monkeypatch):
    """Rows beyond the last are not unpacked; more chunks than any encoder writes are refused."""
    rows = b"".join(b"\0" + row.tobytes() for row in SEEN)
    made = picture_files.decode(png(3, 2, zlib.compress(rows + b"\0" * 10_000_000)))
    np.testing.assert_array_equal(np.asarray(made), SEEN)
    monkeypatch.setattr(picture_heads, "MOST_CHUNKS", 50)
    with pytest.raises(FileError, match="more than 50 parts"):
        picture_heads.head(png(3, 2, b"", *[(b"IDAT", b"")] * 60))


GREY16 = np.uint16([[0, 256, 0x8000], [0xFFFF, 0x7FFF, 0x1234]])


@pytest.mark.parametrize(
    ("image", "seen", "through"),
    [(Image.fromarray(GREY16), np.repeat((GREY16 >> 8)[..., None], 3, axis=2), False),
     (Image.fromarray(SEEN).quantize(8), None, False),
     (Image.fromarray(SEEN[..., 0]), np.repeat(SEEN[..., :1], 3, axis=2), False),
     (Image.fromarray(SEEN[..., 0] > 40), np.repeat(np.where(SEEN[..., :1] > 40, 255, 0), 3, axis=2), False),
     (Image.merge("LA", [Image.fromarray(SEEN[..., k].copy()) for k in (0, 1)]),
      np.repeat(SEEN[..., :1], 3, axis=2), True),
     (Image.merge("RGBA", [Image.fromarray(SEEN[..., k].copy()) for k in (0, 1, 2, 0)]), SEEN, True)],
    ids=["16 bits", "palette", "grey", "black and white", "grey and alpha", "alpha"],
)
def test_every_way_of_writing_colours(image, seen, through):
    """Greys of 16 bits keep their upper 8, as colours do; alpha stays beside the colours."""
    made = picture_files.decode(saved(image))
    assert made.mode == ("RGBA" if through else "RGB")
    expected = np.asarray(image.convert("RGB")) if seen is None else seen
    np.testing.assert_array_equal(np.asarray(made)[..., :3], expected)
    if through:
        np.testing.assert_array_equal(np.asarray(made)[..., 3], np.asarray(image)[..., -1])


def test_colours_of_16_bits():
    """A PNG of 2 x 1 pixels of three times 16 bits, written by hand."""
    row = b"\0" + struct.pack(">6H", 0xFFFF, 0x8000, 0x00FF, 0x1234, 0, 0x7FFF)
    made = picture_files.decode(png(2, 1, zlib.compress(row), depth=16))
    np.testing.assert_array_equal(np.asarray(made), [[[255, 128, 0], [0x12, 0, 0x7F]]])


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize(("turn", "made_upright"), [
    (1, lambda p: p), (2, lambda p: p[:, ::-1]), (3, lambda p: p[::-1, ::-1]), (4, lambda p: p[::-1]),
    (5, lambda p: p.transpose(1, 0, 2)), (6, lambda p: np.rot90(p, -1)),
    (7, lambda p: p[::-1, ::-1].transpose(1, 0, 2)), (8, lambda p: np.rot90(p)), (9, lambda p: p)])
def test_a_photograph_stands_upright(turn, order, made_upright):
    """Exif 2.3, 4.6.4 A, orientation (from memory): 6 is row 0 at the right, so turned clockwise."""
    plain = saved(SEEN, "JPEG", quality=95)
    mark = b"II" if order == "<" else b"MM"
    tiff = mark + struct.pack(f"{order}HIHHHIHH", 42, 8, 1, 0x0112, 3, 1, turn, 0)
    segment = b"\xff\xe1" + struct.pack(">H", 8 + len(tiff)) + b"Exif\0\0" + tiff
    data = plain[:2] + segment + plain[2:]
    shown = np.asarray(picture_files.decode(data, upright=True))
    as_stored = np.asarray(picture_files.decode(plain))
    np.testing.assert_array_equal(shown, made_upright(as_stored))
    np.testing.assert_array_equal(np.asarray(picture_files.decode(data)), as_stored)


def test_the_first_picture_of_an_animation():
    """An animated PNG shows what a program that knows no animation shows."""
    first, second = (Image.new("RGB", (2, 2), (level, 0, 0)) for level in (200, 40))
    made = picture_files.decode(saved(first, save_all=True, append_images=[second]))
    assert np.asarray(made)[..., 0].tolist() == [[200, 200], [200, 200]]


def test_linear_light_of_a_picture():
    """IEC 61966-2-1: 0.5 is 0.21404 (from memory), and 188 of 255 about half; cut at the most."""
    made = picture_files.linear_picture(np.uint8([[[0, 188, 255], [10, 128, 255]]]), (1, 1, 0.5), 0.4)
    np.testing.assert_allclose(made[0], [[0, 0.4, 0.4], [10 / 255 / 12.92, 0.21586, 0.4]], rtol=1e-4)


@pytest.mark.parametrize(("width", "height"), [(1500, 1000), (1, 60_000), (60_000, 1)])
def test_even_pictures_are_large_enough(width, height):
    """What packs best, one colour all over, is never taken for cut off."""
    for mode, colour in (("1", 0), ("L", 7), ("RGB", (1, 2, 3)), ("RGBA", (1, 2, 3, 4))):
        image = Image.new(mode, (width, height), colour)
        for kind, more in (("PNG", {"compress_level": 9}), ("JPEG", {"quality": 1, "optimize": True}),
                           ("JPEG", {"quality": 1, "progressive": True})):
            if kind == "PNG" or mode in ("L", "RGB"):
                found = picture_heads.head(saved(image, kind, **more))
                assert (found.width, found.height) == (width, height)
