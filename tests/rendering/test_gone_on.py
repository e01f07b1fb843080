"""Meters that are gone on with read what they would have read, wherever they had been left."""

import shutil

import numpy as np
import pytest
from soak.kills import SCENE

from previz.engine import backend
from previz.rendering import meter_run
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Request
from previz.scene.read import load
from previz.stage.build import build_stage

pytestmark = pytest.mark.engine

PRECISION = 0.005


class Killed(BaseException):
    """The process ends here."""


@pytest.fixture(scope="module")
def office(tmp_path_factory):
    """A folder in which one option is metered, the stage of another, and what that reads if left alone."""
    backend.start()
    folder = tmp_path_factory.mktemp("office")
    path = folder / "office.yaml"
    path.write_text(SCENE, encoding="utf-8")
    file = load(path)
    stages = {option: build_stage(file.scene(option)) for option in ("low", "turned")}
    metered(folder / "before", stages["low"])
    shutil.copytree(folder / "before", folder / "alone")
    return folder, stages["turned"], metered(folder / "alone", stages["turned"])


def metered(cache, stage, on_standing=None):
    """The sums of a stage's meters, and how often it was said how far they are."""
    said = []

    def standing(state):
        said.append(state)
        if on_standing is not None:
            on_standing(len(said))

    job = StageJob(stage, Request(cache, backend="processor").meter_order())
    found = StageMeters(job).incident(Effort(PRECISION, np.inf, standing))
    return found.sums, found.paths, len(said)


@pytest.mark.parametrize("after", [3, 4])
def test_a_kill_changes_no_reading(office, monkeypatch, tmp_path, after):
    """What a moved lamp leaves as it was is lent, by groups of lamps; killed after one, it ends the same."""
    folder, stage, (sums, paths, rounds) = office
    assert rounds >= 5, "too few rounds to be killed in"
    cache = tmp_path / "killed"
    shutil.copytree(folder / "before", cache)
    # All that is gathered is on the disk at once.
    monkeypatch.setattr(meter_run, "SAVE_EVERY", -1.0)

    def kill(said):
        if said > after:
            raise Killed

    with pytest.raises(Killed):
        metered(cache, stage, kill)
    again = metered(cache, stage)
    assert np.array_equal(again[0], sums) and np.array_equal(again[1], paths)
    assert not list((cache / "meters").glob("*-*.npz")), "what was gathered apart is put to the rest"
