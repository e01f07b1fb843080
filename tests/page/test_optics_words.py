"""The page says what its own picture leaves out of a camera's optics."""

from previz.page.views import view_key, view_words
from previz.scene.read import load

SCENE = """\
previz: 1
room: {size: [3 m, 3 m, 2.5 m]}
lights: [{name: lamp, kind: bulb, at: [1.5 m, 2.4 m, 1.4 m], output: 400 lm}]
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: lamp, lens: 25 mm, stop: T2.8, iso: 800%s}
"""


def test_the_picture_line_says_so(tmp_path):
    """Its light is mixed in the browser, pixel by pixel; cameras that differ in optics alone share a view."""
    from previz.stage.build import build_stage

    found = []
    for optics in ("", ", optics: {blades: 7, bloom: 5 %, grain: 0.1}"):
        (tmp_path / "room.yaml").write_text(SCENE % optics)
        scene = load(tmp_path / "room.yaml").scene()
        stage = build_stage(scene)
        found.append((view_words(stage, scene.cameras[0]), view_key(stage, scene.cameras[0])))
    assert found[0][0] == ""
    assert found[1][0] == "shown without bloom 5 %, grain 0.1 stops, which stills have"
    assert found[0][1] == found[1][1]
