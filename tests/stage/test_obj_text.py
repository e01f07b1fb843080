"""OBJ files as programs write them: groups, indents, folded lines, corners counted back.

Source: Wavefront's OBJ format, version 3.0 (from memory).
"""

import numpy as np
import pytest

from previz.stage.mesh_files import read_parts

POINTS = "v 0 0 0\nv 1 0 0\nv 0 2 0\nv 0 0 3\n"
PLAIN = POINTS + "f 1 2 3\nf 1 2 4\n"


def triangles(path, text):
    """Return the corners of all faces of a file, in an order of their own, and what is said of it."""
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    notes = []
    corners = np.concatenate([part.vertices[part.faces] for part in read_parts(str(path), [], notes)])
    return corners[np.lexsort(corners.reshape(len(corners), -1).T)], notes


@pytest.mark.parametrize("text", [
    POINTS + "g top\nf 1 2 3\ng side\nf 1 2 4\n",
    POINTS + "g top\n  f 1 2 3\ng side\n\tf 1 2 4\n",
    "\n".join("    " + line for line in PLAIN.splitlines()),
    PLAIN.replace(" ", "\t"),
    PLAIN.replace(" ", "   ") + "  \n",
    PLAIN.replace("\n", "\r\n"),
    PLAIN.replace("\n", "\r"),
    b"\xef\xbb\xbf" + PLAIN.encode(),
    PLAIN.removesuffix("\n"),
    POINTS + "f 1 2 \\\n3\nf 1\\\n2 4\n",
    POINTS + "f 1 2 3 # the top\n# f 1 3 4\n  #usemtl none\nf 1 2 4\n",
    POINTS + "s 1\nf 1/ 2/ 3/\ns off\nf 1// 2// 4//\n",
    POINTS + "g\nusemtl a\nf 1 2 3\nusemtl b\nf 1 2 4\n",
    POINTS + "g An f Three Other Things\nf 1 2 3\nf 1 2 4\n",
    "g first\n" + POINTS + "g second\nusemtl paint\nf 1 2 3\nf 1 2 4\n",
    POINTS + "l 1 2 3\np 4\nf 1 2 3\nf 1 2 4\n",
    POINTS + "f -4 -3 -2\nf -4 -3 -1\n",
    "v 0 0 0\nv 1 0 0\nv 0 2 0\ng a\nf -3 -2 -1\nv 0 0 3\ng b\nf -4 -3 -1\n",
    "vt 0 0\nvn 0 0 1\n" + POINTS + "f 1/-1/-1 2/-1/-1 3/-1/-1\nf 1/1/1 2/1/1 4/1/1\n",
], ids=range(19))
def test_all_are_the_same_triangles(tmp_path, text):
    expected, _ = triangles(tmp_path / "plain.obj", PLAIN)
    made, notes = triangles(tmp_path / "other.obj", text)
    np.testing.assert_array_equal(made, expected)
    assert notes == []


def test_polygons_and_what_is_none(tmp_path):
    """A face of four corners is two triangles; one of two is left out, with a clause."""
    made, notes = triangles(tmp_path / "a.obj", POINTS + "f 1 2 4 3\nf 1 2\nf 3\n")
    assert made.shape == (2, 3, 3)
    assert notes == ["has 2 faces with fewer than three corners, which are left out"]
