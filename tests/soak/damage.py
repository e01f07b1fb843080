"""Bytes and text put out of order, each way by a random number generator alone."""

from __future__ import annotations

import struct
from random import Random

ODD = (
    0,
    1,
    2,
    3,
    4,
    5,
    7,
    8,
    15,
    16,
    31,
    32,
    127,
    128,
    255,
    256,
    32767,
    32768,
    65535,
    65536,
    2**31 - 1,
    2**31,
    2**32 - 1,
    2**32 - 2,
)
"""Whole numbers at the ends of something."""

ODD_FLOATS = (
    0.0,
    -0.0,
    1.0,
    -1.0,
    1e-45,
    1e-38,
    1e38,
    3.4e38,
    float("inf"),
    -float("inf"),
    float("nan"),
    1e-7,
    1e7,
)

ODD_NUMBERS = (
    "0",
    "-0",
    "-1",
    "1",
    "2",
    "1e-300",
    "1e300",
    "1e400",
    "1e-400",
    "nan",
    "inf",
    "-inf",
    "1e6",
    "1e-7",
    "99999999999999999999",
    "0x10",
    "1_000",
    "1,5",
    "",
    ".",
    "+",
    "00",
    "1.",
    "٣",
    "0" * 4000,
    "9" * 400,
)

TEXTS = (
    "none", "yes", "no", "[]", "{}", "[[", "}", "- ", ": ", "\t", "\n", "\n\n  ", "'", '"', "#", "&a ", "*a",
    "!x ", "<<: ", "|\n", ">-\n", "%", "@", "m", "mm", " deg", "K", "%%", ".", "..", "/", "\\", "../x",
    "00:00",
    "1/0 s", "1/48 s", "T2.8", "\u00e9", "\u2028", "\x07", "\x85", "\ufeff", "\U0001f4a1", "x" * 300, "? ",
    "---\n", "...\n", "~", "null", '"\\ud800"', '"\\0"', "\x00", "\r", "\r\n", "1" * 5000, "(" * 200,
    "[" * 200, "{a: " * 70, "\u202e", "A" * 70000,
)  # fmt: skip


def broken_bytes(data: bytes, chance: Random, most: int = 5) -> bytes:
    """Return bytes with a few random changes."""
    made = bytearray(data)
    for _ in range(chance.randint(1, most)):
        size = len(made)
        at = chance.randrange(size) if size else 0
        match chance.randrange(11):
            case 0 if size:
                made[at] ^= 1 << chance.randrange(8)
            case 1 if size:
                made[at] = chance.randrange(256)
            case 2:
                del made[at : at + chance.choice((1, 2, 4, 16, 256))]
            case 3:
                made[at:at] = chance.randbytes(chance.choice((1, 2, 4, 16, 256)))
            case 4:
                del made[at:]
            case 5:
                made[at : at + 4] = struct.pack(chance.choice("<>") + "I", chance.choice(ODD))
            case 6:
                made[at : at + 2] = struct.pack(chance.choice("<>") + "H", chance.choice(ODD) & 0xFFFF)
            case 7:
                made[at : at + 4] = struct.pack(chance.choice("<>") + "f", chance.choice(ODD_FLOATS))
            case 8 if size:
                start = chance.randrange(size)
                made[at:at] = made[start : start + chance.choice((1, 4, 16, 256, 4096))]
            case 9:
                made[at : at + chance.choice((4, 64))] = bytes(chance.choice((4, 64)))
            case 10:
                made += chance.randbytes(chance.choice((1, 8, 1000)))
    return bytes(made)


def broken_text(text: str, chance: Random, pieces=TEXTS, most: int = 6) -> str:
    """Return a text with a few random changes, by letters, words and lines."""
    for _ in range(chance.randint(1, most)):
        lines = text.split("\n")
        where, row = chance.randrange(len(text) + 1), chance.randrange(len(lines))
        match chance.randrange(10):
            case 0:
                text = text[:where] + chance.choice(pieces) + text[where:]
            case 1:
                text = text[:where] + text[where + chance.randint(1, 12) :]
            case 2:
                text = "\n".join(lines[:row] + lines[row + 1 :])
            case 3:
                other = chance.randrange(len(lines))
                text = "\n".join([*lines[:other], lines[row], *lines[other:]])
            case 4:
                name = lines[row].partition(":")[0]
                lines[row] = f"{name}: {chance.choice(pieces)}"
                text = "\n".join(lines)
            case 5:
                words = text[where:].split(" ", 2)
                text = text[:where] + " ".join([chance.choice(pieces), *words[1:]])
            case 6:
                lines[row] = " " * chance.randrange(8) + lines[row].lstrip()
                text = "\n".join(lines)
            case 7:
                text = text[:where]
            case 8:
                text = _other_number(text, chance)
            case 9 if text:
                text = (
                    text[:where]
                    + chr(chance.choice((chance.randrange(32, 127), chance.randrange(1, 0xD7FF))))
                    + (text[where + 1 :])
                )
    return text


def _other_number(text: str, chance: Random) -> str:
    """Return a text with one of its numbers replaced."""
    digits = [at for at, letter in enumerate(text) if letter.isdigit() and letter.isascii()]
    if not digits:
        return text
    start = end = chance.choice(digits)
    while start and text[start - 1] in "0123456789.":
        start -= 1
    while end < len(text) and text[end] in "0123456789.":
        end += 1
    return text[:start] + chance.choice(ODD_NUMBERS) + text[end:]
