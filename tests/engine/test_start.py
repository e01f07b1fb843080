"""The engine starts itself, whichever of its modules is imported first, and says so where it cannot."""

import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import previz.engine
from previz.cli.doctor import command
from previz.engine import backend
from previz.errors import EngineError

FOLDER = Path(previz.engine.__file__).parent
MODULES = sorted(path.stem for path in FOLDER.glob("*.py") if path.stem != "__init__")


def run(script: str) -> subprocess.CompletedProcess:
    """Run a script in a process of its own, which an unfit LLVM would end."""
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)


# Forgets the engine, so that the next of its modules is the first again.
FORGET = """
import importlib, os, sys
os.environ["CUDA_VISIBLE_DEVICES"] = ""  # The choice is then that of an LLVM, on any machine.
def first(name):
    for known in [each for each in sys.modules if each.startswith("previz.engine")]:
        del sys.modules[known]
    os.environ.pop("DRJIT_LIBLLVM_PATH", None)
    importlib.import_module("previz.engine." + name)
"""


@pytest.mark.engine
def test_any_module_of_the_engine_may_be_imported_first():
    """Each is imported before all others, which meets the library started; then it computes."""
    done = run(FORGET + f"""
for name in {MODULES!r}:
    first(name)
from previz.engine.jit import dr, mi
print(mi.variant() is not None, dr.sum(dr.arange(mi.Float, 5))[0])
""")
    assert done.stdout.split() == ["True", "10.0"], done.stderr


@pytest.mark.engine
def test_no_module_loads_the_library_before_an_llvm_is_picked():
    """Where the import of the library begins, the choice has been made, whichever module is first."""
    done = run(FORGET + f"""
class Gate:
    def find_spec(self, name, path=None, target=None):
        if name in ("drjit", "mitsuba"):
            begun.append("DRJIT_LIBLLVM_PATH" in os.environ)
            raise ImportError("the library may not be loaded here")
sys.meta_path.insert(0, Gate())
from previz.errors import EngineError
for name in {MODULES!r}:
    begun = []
    try:
        first(name)
        print(name, "free")
    except EngineError:
        print(name, begun)
""")
    made = dict(line.split(" ", 1) for line in done.stdout.splitlines())
    assert set(made) == set(MODULES), done.stderr
    # What must not load the library, as requests and commands import it, and what must.
    assert {made[name] for name in ("backend", "render", "gather", "probe", "sights", "tables")} == {"free"}
    assert {made[name] for name in ("jit", "kernel", "planes", "starts", "upload")} == {"[True]"}
    assert set(made.values()) == {"free", "[True]"}


@pytest.mark.engine
def test_what_runs_may_be_chosen_after_modules_are_imported():
    """An import settles nothing: the choice made before a stage is on the device counts."""
    script = ("import previz.engine.kernel\n"
              "from previz.engine import backend\n"
              "mi, dr = backend.start('processor')\n"
              "print(mi.variant(), backend.start() == (mi, dr))")
    assert run(script).stdout.split() == ["llvm_ad_rgb", "True"]


@pytest.mark.engine
def test_one_process_renders_on_one_backend(engine, monkeypatch):
    """A stage lies where it was put, so the other backend is refused in words."""
    monkeypatch.setattr(backend, "choose", lambda backend: "gpu")
    monkeypatch.setattr(backend, "_engine", backend._Engine("llvm_ad_rgb", True))
    with pytest.raises(EngineError, match="renders on the processor already"):
        backend.start("gpu")


def test_without_a_usable_library_the_engine_says_what_to_install(monkeypatch):
    """No LLVM that can serve: an error in words, when any module of the engine is imported too."""
    monkeypatch.setattr(backend, "libraries", list)
    with pytest.raises(EngineError) as refused:
        backend.choose("processor")
    assert "LLVM" in refused.value.message and "pip install" in refused.value.advice
    script = ("from previz.engine import backend\n"
              "from previz.errors import EngineError\n"
              "backend.libraries, backend.has_cuda = list, bool\n"
              "try:\n"
              "    import previz.engine.kernel\n"
              "except EngineError as error:\n"
              "    print('in words:', error.message)")
    assert run(script).stdout.startswith("in words: Rendering needs the LLVM library")


@pytest.mark.parametrize(("word", "now"), [("llvm", "processor"), ("cuda", "gpu")])
def test_an_earlier_word_is_refused_with_the_one_that_is_written_now(word, now):
    """From the command line as a wrong option, and from a script as an error."""
    done = CliRunner().invoke(command, ["--backend", word])
    assert done.exit_code == 2
    assert f"'{word}' is called '{now}' now; write '{now}'." in done.output
    with pytest.raises(EngineError) as refused:
        backend.choose(word)
    assert refused.value.advice == f"Write '{now}'."


def test_a_word_that_never_was_is_refused_with_those_there_are():
    """The same for a slip."""
    done = CliRunner().invoke(command, ["--backend", "gpus"])
    assert done.exit_code == 2 and "'auto', 'processor', 'gpu'" in done.output
    with pytest.raises(EngineError) as refused:
        backend.choose("gpus")
    assert refused.value.advice == "Write 'auto', 'processor' or 'gpu'."
