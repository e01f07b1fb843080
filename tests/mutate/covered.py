"""A plugin for pytest: which functions of the package each test runs, and how long it takes.

    python -m pytest -n 2 -p tests.mutate.covered

What a fixture runs counts for every test that asks for it. Parts are written to the folder named by
MUTATE_MAP, one for each process, and put together by `read`.
"""

from __future__ import annotations

import json
import os
import sys
import threading
from pathlib import Path

import pytest

PACKAGE = f"{os.sep}previz{os.sep}"

if worker := os.environ.get("PYTEST_XDIST_WORKER", "").removeprefix("gw"):
    # A core for each process, before anything counts the cores there are.
    cores = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, {cores[int(worker) % len(cores)]})


class Recorder:
    """Notes the functions that run, and gives them to the test or fixture that ran them."""

    def __init__(self) -> None:
        self.codes: dict[int, object] = {}
        self.current: set[int] = set()
        self.by_fixture: dict[int, set[int]] = {}
        self.tests: dict[str, dict] = {}

    def trace(self, frame, event, arg):
        code = frame.f_code
        if id(code) not in self.codes:
            self.codes[id(code)] = code
        self.current.add(id(code))

    def start(self) -> None:
        threading.settrace(self.trace)
        sys.settrace(self.trace)

    def names(self, ids: set[int]) -> list[str]:
        """Return functions as `previz/…/file.py:place`, without lambdas' and comprehensions' own names."""
        found = set()
        for each in ids:
            path = self.codes[each].co_filename
            if PACKAGE in path and os.sep + "site-packages" not in path:
                place = self.codes[each].co_qualname.replace(".<locals>", "").split(".<")[0]
                if not place.startswith("<"):
                    found.add(f"previz/{path.rsplit(PACKAGE, 1)[1]}:{place}")
        return sorted(found)


recorder = Recorder()


@pytest.hookimpl(wrapper=True)
def pytest_fixture_setup(fixturedef, request):
    before, recorder.current = recorder.current, set()
    recorder.start()
    try:
        return (yield)
    finally:
        recorder.by_fixture.setdefault(id(fixturedef), set()).update(recorder.current)
        recorder.current |= before


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item, nextitem):
    recorder.current = set()
    recorder.start()
    try:
        return (yield)
    finally:
        sys.settrace(None)
        ran = set(recorder.current)
        for fixtures in item._fixtureinfo.name2fixturedefs.values():
            for fixture in fixtures:
                ran |= recorder.by_fixture.get(id(fixture), set())
        recorder.tests.setdefault(item.nodeid, {})["ran"] = recorder.names(ran)


def pytest_runtest_logreport(report):
    test = recorder.tests.setdefault(report.nodeid, {})
    test["s"] = test.get("s", 0.0) + report.duration
    test["passed"] = test.get("passed", True) and report.passed


def pytest_sessionfinish(session):
    sys.settrace(None)
    # Several processes report to a first one, which has run nothing itself.
    ran = {test: found for test, found in recorder.tests.items() if "ran" in found}
    if ran:
        names = sorted({name for found in ran.values() for name in found["ran"]})
        number = {name: k for k, name in enumerate(names)}
        for found in ran.values():
            found["ran"] = [number[name] for name in found["ran"]]
        part = Path(os.environ["MUTATE_MAP"]) / f"{os.environ.get('PYTEST_XDIST_WORKER', 'all')}.json"
        part.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(json.dumps({"names": names, "tests": ran}))


def read(folder: Path) -> dict[str, dict]:
    """Return {test: {s, passed, ran}} of every part; `ran` a set of functions."""
    found = {}
    for path in sorted(folder.glob("*.json")):
        part = json.loads(path.read_text())
        for test, entry in part["tests"].items():
            found[test] = entry | {"ran": {part["names"][k] for k in entry["ran"]}}
    return found
