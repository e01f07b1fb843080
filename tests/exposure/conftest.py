import importlib.util
from pathlib import Path

import pytest

from previz.physics.exposure import CameraSettings


def module_here(name):
    """Return a module of this folder that is no test."""
    path = Path(__file__).with_name(f"{name}.py")
    spec = importlib.util.spec_from_file_location(f"exposure_{name}", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def synthetic():
    """The picture made by arithmetic, as a module."""
    return module_here("synthetic")


@pytest.fixture(scope="session")
def derivation():
    """How the map's colours are worked out, as a module."""
    return module_here("palette_derivation")


@pytest.fixture
def settings():
    """ISO 800 at T2.8, 1/48 s: 18 % grey at 120 lx (check value 3.5)."""
    return CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=5600)
