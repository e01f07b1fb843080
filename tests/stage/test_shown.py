"""Signs and screens: words are drawn as large as fit, and a face is as bright as its picture."""

import numpy as np
import pytest

from previz.errors import SceneError
from previz.scene.read import load
from previz.stage.build import build_stage
from previz.stage.lights.shown import CASING, lettered

SIGN = """previz: 1
lights:
  - {{name: sign, kind: sign, at: [0 m, 0 m, 2 m], aim: [0 m, 3 m, 2 m], size: [1.2 m, 0.3 m], {more}
     output: 300 cd/m2}}
cameras: [{{name: A, at: [0 m, 3 m, 2 m], aim: sign, lens: 35 mm, stop: T4, iso: 800}}]
"""


def _stage(tmp_path, more):
    path = tmp_path / "scene.yaml"
    path.write_text(SIGN.format(more=more))
    return build_stage(load(path).scene(None))


@pytest.mark.parametrize(("words", "size"), [
    ("CANTEEN", (1.2, 0.3)), ("WAY OUT / NO ENTRY", (0.6, 0.4)), ("a", (0.2, 2.0)),
    ("A LONG LINE OF WORDS THAT RUNS ON", (1.0, 0.1))])
def test_words_are_within_the_face_and_in_its_middle(words, size):
    """They leave a margin all round, fill what they may in one of the two directions, and are centred."""
    picture = lettered(words, size, (1.0, 0.2, 0.1), (0.0, 0.0, 0.5))
    rows, columns = picture.shape[:2]
    assert columns / rows == pytest.approx(size[0] / size[1], rel=0.05)
    inked = picture[:, :, 0] > 0.5
    up, across = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
    wide, high = (np.ptp(each) + 1 for each in (across, up))
    assert wide < 0.95 * columns and high < 0.85 * rows
    assert wide > 0.75 * columns or high > 0.4 * rows
    assert (across[0] + across[-1]) / 2 == pytest.approx(columns / 2, abs=0.03 * columns + 2)
    # What is no letter is ground, exactly.
    assert np.allclose(picture[0, 0], (0.0, 0.0, 0.5)) and picture.max() == pytest.approx(1.0)


def test_a_sign_has_a_face_in_its_box(tmp_path):
    """The face has the written size, its picture upright; the box is as deep as written, behind it."""
    stage = _stage(tmp_path, "words: DEPOT, letters: navy, depth: 0.2 m,")
    face, = stage.emitters
    assert np.ptp(face.vertices, axis=0) == pytest.approx([1.2, 0, 0.3], abs=1e-6)
    box = next(mesh for mesh in stage.meshes if mesh.name == "sign")
    assert np.ptp(box.vertices, axis=0) == pytest.approx([1.2 + 2 * CASING, 0.2, 0.3 + 2 * CASING], abs=5e-3)
    assert box.vertices[:, 1].max() <= face.vertices[:, 1].max() + 1e-6
    # M = pi L of a white front (check value 1.21); letters take their share at each place.
    assert stage.lamps[0].output == pytest.approx(np.pi * 300 * 1.2 * 0.3)
    assert face.picture is not None and 0.3 < face.picture.mean() < 1


def test_a_sign_without_words_is_even(tmp_path):
    """Its ground alone."""
    face, = _stage(tmp_path, "ground: [0.5, 0.5, 0.5],").emitters
    assert np.allclose(face.picture, 0.5)


@pytest.mark.parametrize(("more", "said"), [
    (f"words: {'x' * 81},", "says 81 letters"),
    ("words: DEPOT, picture: a.png,", "has words and a picture"),
])
def test_what_a_sign_cannot_show(tmp_path, more, said):
    """Each with what to write."""
    with pytest.raises(SceneError, match=said):
        _stage(tmp_path, more)
