"""One fault tried: a copy of the tree with the fault in it, and the tests that run what it changes."""

from __future__ import annotations

import ast
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import pytest

LEFT_OUT = (".venv", ".git", ".previz", ".pytest_cache", ".ruff_cache", ".mypy_cache")
START_S = 45.0
"""What pytest, its imports and kernels that are compiled anew take at most. [s]"""


@dataclass(frozen=True)
class Outcome:
    """What became of a fault: noticed, not noticed, or hung (far longer than the tests' usual time)."""

    outcome: str
    by: str
    seconds: float
    tests: int
    left_out_s: float


def users(root: Path, name: str) -> set[str]:
    """Return the functions of the package that mention a name, as `path:place`."""
    found = set()
    for path in sorted((root / "previz").rglob("*.py")):
        text = path.read_text()
        if name not in text:
            continue
        stack = [(child, "") for child in ast.parse(text).body]
        while stack:
            node, place = stack.pop()
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                inner = f"{place}.{node.name}".lstrip(".")
                stack += [(child, inner) for child in node.body]
                if any(getattr(n, "id", getattr(n, "attr", None)) == name for n in ast.walk(node)):
                    found.add(f"{path.relative_to(root)}:{inner}")
    return found


def concerned(fault, root: Path, tests: dict[str, dict]) -> set[str]:
    """Return the functions whose tests could notice a fault."""
    known = set().union(*(entry["ran"] for entry in tests.values()))
    own = f"{fault.path}:{fault.place}"
    if own in known:
        return {own}
    # A constant or a record's field: whoever mentions it.
    tree = ast.parse((root / fault.path).read_text())
    names = {fault.place.split(".")[-1]} - {"<module>"}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.lineno <= fault.line <= node.end_lineno:
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                names |= {n.id for n in ast.walk(target) if isinstance(n, ast.Name)}
    found = set().union(*(users(root, name) for name in names)) & known if names else set()
    return found or {each for each in known if each.startswith(f"{fault.path}:")}


def chosen(fault, root: Path, tests: dict[str, dict], most_s: float) -> tuple[list[str], float]:
    """Return the tests to run, the likeliest and quickest files first, and the seconds of those left out."""
    functions = concerned(fault, root, tests)
    package, stem = Path(fault.path).parts[1], Path(fault.path).stem
    beside = (f"tests/{package}/", "tests/snapshots/",
              *(("tests/published/",) if package == "physics" else ()))
    sure, perhaps = defaultdict(list), defaultdict(list)
    for test, entry in tests.items():
        if entry["ran"] & functions:
            sure[test.split("::")[0]].append(test)
    for test, entry in tests.items():
        path = test.split("::")[0]
        # What one test worked out may serve others, which then do not run it themselves.
        if not entry["ran"] & functions and (path in sure or path.startswith(beside)):
            perhaps[path].append(test)

    def in_order(found: dict[str, list[str]]) -> list[str]:
        def rank(path: str) -> tuple:
            near = stem in Path(path).stem or path.startswith(beside)
            return not near, sum(tests[t]["s"] for t in found[path])

        return [test for path in sorted(found, key=rank) for test in found[path]]

    picked, used, left = [], 0.0, 0.0
    for test in in_order(sure) + in_order(perhaps):
        if used + tests[test]["s"] > most_s:
            left += tests[test]["s"]
        else:
            used += tests[test]["s"]
            picked.append(test)
    return picked, left


def copied(root: Path, folder: Path) -> None:
    """Copy a tree by links, which takes no time and no room."""
    def left_out(where: str, names: list[str]) -> set[str]:
        return {n for n in names if n in LEFT_OUT or n.startswith(".mutate")}

    shutil.copytree(root, folder, copy_function=os.link, ignore=left_out, symlinks=True)


def tried(fault, root: Path, tests: dict[str, dict], *, most_s: float, core: int | None = None) -> Outcome:
    """Return what became of a fault."""
    picked, left = chosen(fault, root, tests, most_s)
    if not picked:
        return Outcome("not noticed", "no test runs it", 0.0, 0, left)
    usual = sum(tests[t]["s"] for t in picked)
    # Beside the tree, where it can be linked to.
    with tempfile.TemporaryDirectory(prefix=".mutate-", dir=root.parent, ignore_cleanup_errors=True) as made:
        copy = Path(made) / "tree"
        copied(root, copy)
        changed = copy / fault.path
        source = changed.read_bytes()
        changed.unlink()
        changed.write_bytes(fault.put_into(source))
        (copy.parent / "order.json").write_text(json.dumps(picked))
        (copy.parent / "tmp").mkdir()
        return _run(copy, picked, usual, left, core)


def _run(copy: Path, picked: list[str], usual: float, left: float, core: int | None) -> Outcome:
    around = dict(os.environ, PYTHONPATH=str(copy), TMPDIR=str(copy.parent / "tmp"),
                  PYTHONDONTWRITEBYTECODE="1", MUTATE_ORDER=str(copy.parent / "order.json"), COLUMNS="300")
    # Arguments are limited in length, so the plugin picks the tests out of their files.
    paths = list(dict.fromkeys(test.split("::")[0] for test in picked))
    command = [sys.executable, "-m", "pytest", "-x", "-q", "--no-header", "--tb=line", "-p", "no:xdist",
               "-p", "no:cacheprovider", "-p", "tests.mutate.trial", *paths]
    began = time.monotonic()
    with (copy.parent / "said").open("w+") as said:
        process = subprocess.Popen(
            command, cwd=copy, env=around, stdout=said, stderr=subprocess.STDOUT, start_new_session=True,
            preexec_fn=None if core is None else lambda: os.sched_setaffinity(0, {core}))
        try:
            code = process.wait(START_S + 2 * usual)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            code = None
        said.seek(0)
        told = [line for line in said.read().splitlines() if line.startswith(("FAILED", "ERROR"))]
    seconds = time.monotonic() - began
    outcome = "hung" if code is None else "not noticed" if code == 0 else "noticed"
    if code == 5:
        outcome = "not noticed"
    by = told[0][:200] if told else "" if outcome == "not noticed" else f"pytest ended with {code}"
    return Outcome(outcome, by, seconds, len(picked), left)


@pytest.hookimpl(trylast=True, wrapper=True)
def pytest_collection_modifyitems(items):
    """Keep the tests that were picked, in the order of their files."""
    result = yield
    if "MUTATE_ORDER" in os.environ:
        place = {test: k for k, test in enumerate(json.loads(Path(os.environ["MUTATE_ORDER"]).read_text()))}
        items[:] = sorted((i for i in items if i.nodeid in place), key=lambda i: place[i.nodeid])
    return result
