"""The engine, started once, and the builders of `tiny.py`."""

import importlib.util
from pathlib import Path

import pytest

from previz.engine import backend


@pytest.fixture(scope="session")
def engine():
    """The renderer's two libraries, started; without a backend every test that asks for it fails."""
    return backend.start()


@pytest.fixture(scope="session")
def tiny(engine):
    """The builders of small stages, as a module."""
    path = Path(__file__).parents[1] / "engine" / "tiny.py"
    spec = importlib.util.spec_from_file_location("engine_tiny", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
