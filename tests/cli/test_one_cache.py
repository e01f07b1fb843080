"""What one command has rendered or metered, no other renders or meters again."""

import pytest
from click.testing import CliRunner

from previz.cli.main import previz
from previz.rendering.cache.picture import Tracer
from previz.rendering.meter_run import MeterRun

pytestmark = pytest.mark.engine

SCENE = """\
previz: 1
title: Weigh office
room: {size: [3 m, 3 m, 2.5 m], surfaces: {walls: {reflectance: 0.4}}}
pieces:
  - {name: crate, shape: box, at: [1.5 m, 2 m], size: [0.6 m, 0.6 m, 1 m]}
lights:
  - {name: bulb, kind: bulb, at: [0.6 m, 0.6 m, 2.2 m], output: 1500 lm}
meters:
  - {name: counter, at: [1.5 m, 1 m, 1 m], facing: bulb}
cameras:
  - {name: A, at: [2.5 m, 0.5 m, 1.3 m], aim: crate, lens: 25 mm, stop: T2.8, iso: 800}
options:
  day: {}
  dim: {lights: {bulb: {dimmer: 25 %}}}
"""


@pytest.fixture
def traced(monkeypatch):
    """What is traced: (camera, width) of each picture's lamps, and the names of meters."""
    found = []
    passes, whole = Tracer._passes, MeterRun._gather

    def picture(self, *words):
        found.append((self.camera.name, self.order.width))
        return passes(self, *words)

    def meters(self, job, write):
        found.append(tuple(job.batches.names))
        return whole(self, job, write)

    monkeypatch.setattr(Tracer, "_passes", picture)
    monkeypatch.setattr(MeterRun, "_gather", meters)
    return found


def test_a_picture_is_rendered_by_the_first_that_needs_it(tmp_path, monkeypatch, traced):
    """Of options that differ in levels alone one picture, whichever command asks; of meters each once."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "office.yaml").write_text(SCENE)
    for command in ("mood", "render", "compare", "match-cut"):
        scenes = ["office.yaml:day", ":dim"] if command == "match-cut" else ["office.yaml"]
        more = ["--no-exr"] if command == "render" else []
        done = CliRunner().invoke(previz, [
            command, *scenes, "--size", "64", "--quality", "draft", "--samples", "2", *more])
        assert done.exit_code == 0, done.output
    assert traced.count(("A", 32)) == 1
    metered = [name for each in traced if isinstance(each[-1], str) for name in each]
    assert len(metered) == len(set(metered))
