"""What the snapshots share: stages that are built once."""

from pathlib import Path

import pytest

from previz.scene.read import load
from previz.stage.build import build_stage

SCENES = {"signal-cabin": Path(__file__).parents[2] / "scenes" / "signal-cabin.yaml",
          "everything": Path(__file__).parent / "everything.yaml"}


@pytest.fixture(scope="session")
def built():
    """The stage of each scene, built when it is first asked for."""
    stages = {}

    def of(name):
        if name not in stages:
            stages[name] = build_stage(load(SCENES[name]).scene(None))
        return stages[name]

    return of
