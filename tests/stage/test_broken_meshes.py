"""Broken mesh files: each is refused in our words, and costs no memory."""

import importlib.util
import resource
from pathlib import Path

import pytest

from previz.stage.mesh_faults import MeshError
from previz.stage.mesh_files import read_parts
from previz.stage.plain_files import FileError

_spec = importlib.util.spec_from_file_location("broken_meshes", Path(__file__).parent / "broken_meshes.py")
broken = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(broken)

CASES = [pytest.param("glb", data, words, id=f"glb {what}") for what, data, words in broken.gltf_cases()]
CASES += [pytest.param(ending, data, words, id=f"{ending} {what}")
          for what, ending, data, words in broken.other_cases()]

LIBRARY = ("Traceback", "numpy", "trimesh", "index ", "axis", "dtype", "array", "object", "None",
           "bufferView", "KeyError")
"""What only a library says."""


@pytest.mark.parametrize(("ending", "data", "words"), CASES)
def test_a_broken_file_is_refused_in_our_words(tmp_path, ending, data, words):
    path = tmp_path / f"mesh.{ending}"
    path.write_bytes(data)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises((MeshError, FileError)) as caught:
        read_parts(str(path))
    error = caught.value
    faults = error.faults if isinstance(error, MeshError) else [(error.message, error.advice)]
    told = " ".join(message for message, _ in faults)
    assert words in told
    assert all(advice.endswith(".") for _, advice in faults)
    assert not any(word in told for word in LIBRARY), told
    # The interpreter's own growth is a few MB; a count of 10^12 would be terabytes.
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000
