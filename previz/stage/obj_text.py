"""OBJ files as their readers expect them: tidied, faces counted from the first point, and faults told.

Programs indent what is in a group, put tabs, comments and folded lines between numbers, and count corners
back from the last point; the mesh library takes none of these everywhere, and calls such files empty or puts
corners elsewhere. Only what is written otherwise is changed.

Source: Wavefront's OBJ format, version 3.0 (from memory).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from previz.stage.mesh_faults import AGAIN, Fault, few, refuse

FACES = re.compile(rb"(?m)^f ([^\n]*)")

SHORT = re.compile(rb"(?m)^f(?: +[^ \n]+){0,2} *\n")
"""Faces of fewer than three corners."""


def plain(data: bytes) -> bytes:
    """Return the same lines with one kind of blank and line end, none folded, no comments of their own."""
    text = data.removeprefix(b"\xef\xbb\xbf").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    text = re.sub(rb"\\[ \t]*\n", b" ", text).replace(b"\t", b" ")
    text = re.sub(rb"(?m)^ +", b"", text)
    text = re.sub(rb"(?m)^#.*\n?", b"", text)
    # A name may have a '#', a number cannot.
    text = re.sub(rb"(?m)^((?:f|v|vt|vn) [^#\n]*)#.*$", rb"\1", text)
    return text if text.endswith(b"\n") else text + b"\n"


def tidied(text: bytes) -> tuple[bytes, list[str]]:
    """Return plain text whose faces count from the first point, and a clause for what is left out of it.

    Raises
    ------
    MeshError
        Faces name points that are not there, or no numbers.
    """
    text, short = SHORT.subn(b"", text)
    clauses = [f"has {few(short, 'face')} with fewer than three corners, which "
               f"{'is' if short == 1 else 'are'} left out"] if short else []
    if re.search(rb"(?m)^f [^\n]*-", text):
        text = _counted_on(text)
    refuse(_face_faults(text))
    return text, clauses


def _counted_on(text: bytes) -> bytes:
    """Return the text with corners that are counted back from the last point counted from the first."""
    counts = {b"v": 0, b"vt": 0, b"vn": 0}
    lists = (b"v", b"vt", b"vn")
    lines = text.split(b"\n")
    for i, line in enumerate(lines):
        key, _, rest = line.partition(b" ")
        if key in counts:
            counts[key] += 1
        elif key == b"f" and b"-" in rest:
            lines[i] = b"f " + b" ".join(
                b"/".join(_absolute(each, counts[of])
                          for each, of in zip(corner.split(b"/"), lists, strict=False))
                for corner in rest.split())
    return b"\n".join(lines)


def _absolute(index: bytes, count: int) -> bytes:
    if not index.startswith(b"-"):
        return index
    try:
        back = int(index)
    except ValueError:
        return index
    # One that reaches before the first is 0, which no point has.
    return b"%d" % max(count + 1 + back, 0)


def _face_faults(text: bytes) -> Iterator[Fault]:
    """Yield what is wrong with the corners of faces."""
    corners = re.sub(rb"/[^ \n]*", b"", b" ".join(FACES.findall(text)))
    odd = re.search(rb"[^0-9 ]", corners)
    if odd:
        yield "has faces whose corners are no whole numbers", AGAIN
        return
    count = text.count(b"\nv ") + text.startswith(b"v ")
    named = np.array([], np.int64)
    if corners.strip():
        named = np.fromstring(corners, np.int64, sep=" ")
    wrong = int(np.count_nonzero((named < 1) | (named > count)))
    if wrong:
        yield f"has {few(wrong, 'corner')} of faces at points that it does not have; it has {count}", AGAIN
