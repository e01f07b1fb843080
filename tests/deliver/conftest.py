import importlib.util
import sys
from pathlib import Path

import pytest

from previz.physics.exposure import CameraSettings

# What tests of sheets share.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def synthetic():
    """The picture made by arithmetic, as a module."""
    path = Path(__file__).parents[1] / "exposure" / "synthetic.py"
    spec = importlib.util.spec_from_file_location("deliver_synthetic", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def settings():
    """ISO 800 at T2.8, 1/48 s: 18 % grey at 120 lx (check value 3.5)."""
    return CameraSettings(stop=2.8, iso=800, shutter_s=1 / 48, white_balance=5600)
