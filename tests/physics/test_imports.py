"""The physics needs numpy and nothing else."""

import subprocess
import sys
from pathlib import Path

import previz.physics

HEAVY = ("colour", "scipy", "mitsuba", "drjit", "matplotlib", "yaml")


def test_importing_all_of_physics_loads_only_numpy():
    """No module of the package pulls in the colour library or anything heavier at import."""
    names = sorted(path.stem for path in Path(previz.physics.__file__).parent.glob("*.py"))
    modules = ", ".join(f"previz.physics.{name}" for name in names if name != "__init__")
    script = f"import sys, {modules}; print([n for n in {HEAVY!r} if n in sys.modules])"
    found = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert found.stdout.strip() == "[]"
