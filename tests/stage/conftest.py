"""What the tests of the stage share: scenes from their text, and a goniometer for lamps."""

import importlib.util
from pathlib import Path

import pytest

from previz.engine import backend
from previz.scene.read import load
from previz.stage.build import build_stage

HERE = Path(__file__).parent


def helper(path):
    """Return a module of helpers; tests are no packages."""
    spec = importlib.util.spec_from_file_location(f"stage_{path.stem}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def plain():
    """The builder of stages; nothing is rendered."""
    return helper(HERE / "bench.py")


@pytest.fixture(scope="session")
def bench(plain):
    """The goniometer, its engine started."""
    backend.start()
    return plain


@pytest.fixture(scope="session")
def tiny():
    """The builders of small stages, the engine started."""
    backend.start()
    return helper(HERE.parent / "engine" / "tiny.py")


@pytest.fixture(scope="session")
def glb():
    """The writer of glTF files."""
    return helper(HERE / "glb.py")


@pytest.fixture
def stage_of(tmp_path, monkeypatch):
    """Build the stage of a scene's text, in a folder of its own."""
    monkeypatch.chdir(tmp_path)

    def build(text):
        (tmp_path / "scene.yaml").write_text("previz: 1\n" + text, encoding="utf-8")
        return build_stage(load("scene.yaml").scene())

    return build
