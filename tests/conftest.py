"""Which files go first: where several processes share the tests, the long ones must not come last.

And what no test can show: that files outlast a power cut.
"""

import gc
import os
import sys
from pathlib import Path

import pytest

# Read by numpy when it is imported. Our products are small: two threads take twice the processor time of
# one for them, and four times as long where another process needs the cores too.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Helpers that tests of several packages share.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session", autouse=True)
def _files_are_written_quickly():
    """What is written is there for every process at once, so no disk is waited for; pictures are larger."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda handle: None)
        patch.setattr("previz.deliver.atomic.COMPRESSION", 1)
        yield


@pytest.fixture(scope="session")
def browser():
    """A real Chromium that draws in software."""
    from chromium import FLAGS, chromium_path

    playwright = pytest.importorskip("playwright.sync_api")
    if chromium_path() is None:
        pytest.skip("Chromium is not installed")
    with playwright.sync_playwright() as running:
        chromium = running.chromium.launch(executable_path=chromium_path(), args=FLAGS)
        yield chromium
        chromium.close()


def pytest_configure(config):
    # xdist would put files with few tests last, which are those that render for longest.
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


@pytest.hookimpl(wrapper=True)
def pytest_collection():
    """Read the tests without looking for garbage: nearly all that they are made of stays."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items):
    """Put files with slow tests first, then those that render, then the quick ones, which are
    left to even out the end.
    """
    rank = {}
    for item in items:
        marks = {mark.name for mark in item.iter_markers()}
        own = 0 if "slow" in marks else 1 if "engine" in marks else 2
        rank[item.path] = min(own, rank.get(item.path, 2))
    items.sort(key=lambda item: rank[item.path])


def pytest_terminal_summary(terminalreporter):
    """Say how many inputs the soak tried."""
    for report in terminalreporter.getreports("passed"):
        for name, value in report.user_properties:
            if name == "soak" and report.when == "call":
                terminalreporter.write_line(f"soak: {value}")
