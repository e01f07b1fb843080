"""Renders that are killed at random moments, one or two at once: the end is bit for bit as of one left alone.

And a cache of which one file is damaged before each render: what is delivered is the same again.
"""

from __future__ import annotations

import contextlib
import json
import math
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from .damage import broken_bytes

SCENE = """\
previz: 1
title: Office of the engine shed
room:
  size: [4 m, 4 m, 2.6 m]
  surfaces: {walls: {reflectance: 0.5}}
  openings: [{name: yard window, wall: west, along: 2 m, sill: 1 m, size: [1 m, 1 m], glass: clear}]
pieces: [{name: stand, shape: box, at: [2 m, 2.6 m], size: [0.4 m, 0.4 m, 1.1 m], surface: grey card}]
daylight: {sky: overcast, illuminance: 2 klx}
lights:
  - {name: key, kind: fresnel, at: [0.4 m, 0.4 m, 2.4 m], aim: stand.top, output: 3000 lm}
  - {name: fill, kind: panel, at: [3.6 m, 0.4 m, 1.8 m], aim: stand.top, size: [0.5 m, 0.5 m], output: 2 klm}
  - {name: bulb, kind: bulb, at: [2 m, 0.5 m, 2.2 m], output: 400 lm}
cameras:
  - {name: A, at: [2 m, 0.6 m, 1.3 m], aim: stand.top, lens: 25 mm, stop: T2.8, iso: 800}
  - {name: B, at: [0.6 m, 1 m, 1.3 m], aim: stand.top, lens: 35 mm, stop: T2.8, iso: 800}
meters: [{name: desk, at: [2 m, 1.4 m, 0.9 m]}]
options:
  low: {}
  turned: {lights: {fill: {at: [3.4 m, 0.6 m, 1.7 m]}}}
"""
RENDER = (
    "render",
    "office.yaml",
    "--size",
    "48",
    "--samples",
    "16",
    "--backend",
    "processor",
    "--out",
    "out",
)
METER = (
    "meter",
    "office.yaml",
    "--backend",
    "processor",
    "--no-spots",
    "--minutes",
    "600",
    "--out",
    "out/meters.json",
)
WORDS = (sys.executable, "-P", "-c", "from previz.cli.main import main; main()")

TWO_AT_ONCE = 0.2
"""Share of the runs in which two renders run at once."""


def _started(folder: Path, words: tuple[str, ...]) -> subprocess.Popen:
    with open(folder / "said.txt", "ab") as said:
        return subprocess.Popen(
            [*WORDS, *words], cwd=folder, stdout=said, stderr=said, start_new_session=True
        )


def _killed(process: subprocess.Popen, seconds: float) -> bool:
    """Kill a process after so long; False where it had ended before, as it should."""
    with contextlib.suppress(subprocess.TimeoutExpired):
        if process.wait(seconds) != 0:
            raise AssertionError(f"ended with {process.returncode}")
        return False
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    return True


def delivered(folder: Path) -> dict[str, bytes]:
    """Return what was delivered, the cache and what is not whole yet left out."""
    return {
        path.name: path.read_bytes()
        for path in sorted((folder / "out").iterdir())
        if path.is_file() and not path.name.startswith(".")
    }


def _fresh(name: str) -> Path:
    folder = Path(tempfile.mkdtemp(prefix=f"soak-{name}-"))
    (folder / "office.yaml").write_text(SCENE, encoding="utf-8")
    return folder


TO_THE_END = (RENDER, METER, RENDER)
"""All that there is to do: readings of the second render are as precise as the meters were run to."""


def kills(count: int, seed: int) -> Iterator[str]:
    """Kill renders and meters so often, and yield what came of it, a line each.

    Raises
    ------
    AssertionError
        What came in the end is not what a run that was left alone has delivered; or one ended in another way.
    """
    chance, folders = random.Random(seed), [_fresh("alone"), _fresh("killed")]
    alone, folder = folders
    try:
        began = time.monotonic()
        _to_the_end(alone)
        span = time.monotonic() - began
        right, done, ends = delivered(alone), 0, 0
        yield f"alone: {len(right)} files in {span:.0f} s"
        while done < count:
            for words in TO_THE_END:
                struck = 1
                while struck and done < count:
                    twice = chance.random() < TWO_AT_ONCE
                    both = [_started(folder, words) for _ in range(2 if twice else 1)]
                    # Half of a run alone is spent before there is anything to be lost.
                    moments = [chance.uniform(0.1, span * chance.choice((0.1, 0.3, 0.8))) for _ in both]
                    killed = [_killed(process, each) for process, each in zip(both, moments, strict=True)]
                    struck = all(killed)
                    done += sum(killed)
                    yield f"{words[0]}{' twice at once' * twice}: {sum(killed)} killed, {done} so far"
            _compared(right, folder)
            ends += 1
            left = list((folder / "out").rglob(".*.part"))
            yield f"the end, bit for bit as alone; {len(left)} torn files left behind"
            shutil.rmtree(folder / "out")
            # Meters have a cache of their own there.
            shutil.rmtree(folder / "renders", ignore_errors=True)
        yield f"{done} kills, {ends} ends, each bit for bit as alone"
    finally:
        for each in folders:
            shutil.rmtree(each, ignore_errors=True)


def _to_the_end(folder: Path) -> None:
    for words in TO_THE_END:
        assert _started(folder, words).wait() == 0, (folder / "said.txt").read_text()[-3000:]


def _compared(right: dict[str, bytes], folder: Path) -> None:
    """Render and meter to the end, and hold what is there against what is right."""
    _to_the_end(folder)
    found = delivered(folder)
    differ = [name for name in right.keys() | found.keys() if right.get(name) != found.get(name)]
    if differ:
        kept = Path(tempfile.mkdtemp(prefix="soak-differs-"))
        shutil.copytree(folder / "out", kept / "out")
        raise AssertionError(f"{', '.join(sorted(differ))} differ from those of a run alone; see {kept}")


def _metered_again(right: dict[str, bytes], folder: Path) -> None:
    """Render and meter to the end, hold pictures against what is right, and readings within their errors."""
    _to_the_end(folder)
    found = delivered(folder)
    for name, data in right.items():
        if not name.endswith(".json"):
            assert name.startswith("sheet") or found[name] == data, f"{name} differs"
            continue
        was, now = (dict(_numbers(json.loads(text))) for text in (data, found[name]))
        assert was.keys() == now.keys(), f"{name} has other entries"
        for key, error in ((key, (*key[:-1], "error")) for key in was if key[-1] == "lux"):
            if error in was:
                off = abs(was[key] - now[key]) / max(math.hypot(was[error], now[error]), 1e-12)
                assert off < MOST_ERRORS, f"{name}: {key} is off by {off:.1f} errors"


def _numbers(value, at: tuple = ()) -> Iterator[tuple[tuple, float]]:
    """Yield (where, number) for every number in plain values."""
    if isinstance(value, dict | list):
        for key, each in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _numbers(each, (*at, key))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield at, value


# Damage

MOST_ERRORS = 5.0
"""Readings of the same light differ by less, with other random numbers. [standard errors]"""

DAMAGES = {
    "flipped": lambda data, chance: broken_bytes(data, chance, 1) if data else b"x",
    "cut": lambda data, chance: data[: chance.randrange(len(data))] if data else b"",
    "empty": lambda data, chance: b"",
}


def damages(seed: int, rounds: int = 1) -> Iterator[str]:
    """Damage one file of every kind in a whole cache in every way, and render; yield a line each.

    A meter that is lost is run alone, with other random numbers: its reading is the same within its error.

    Raises
    ------
    AssertionError
        What is delivered then is not what was before.
    """
    chance, whole, folder = random.Random(seed), _fresh("whole"), _fresh("damaged")
    try:
        _to_the_end(whole)
        right, cache = delivered(whole), folder / "out" / "frames"
        shutil.copytree(whole, folder, dirs_exist_ok=True)
        for _ in range(rounds):
            for kind in sorted(_kinds(cache)):
                for how in (*DAMAGES, "swapped", "gone"):
                    files = _kinds(cache)[kind]
                    _damage(chance.choice(files), how, files, chance)
                    if kind.startswith("meters"):
                        _metered_again(right, folder)
                        yield f"{kind}, {how}: pictures as before, readings within {MOST_ERRORS:g} errors"
                    else:
                        _compared(right, folder)
                        yield f"{kind}, {how}: as before"
                    shutil.rmtree(folder)
                    shutil.copytree(whole, folder)
    finally:
        for each in (whole, folder):
            shutil.rmtree(each, ignore_errors=True)


def _kinds(cache: Path) -> dict[str, list[Path]]:
    """Return the files of a cache by what they are; of arrays by what is in them."""
    found: dict[str, list[Path]] = {}
    for path in sorted(cache.rglob("*")):
        if path.is_file() and path.name != ".lock" and "near" not in path.parts:
            place = path.relative_to(cache).parts
            part = path.name.partition(".")[0] if path.suffix == ".npy" else path.suffix
            if path.name.endswith("-rig.json"):
                part = "rig"
            where = place[0] if place[0] in ("lamps", "planes", "meters", "bodies", "verdicts") else "picture"
            found.setdefault(f"{where} {part}", []).append(path)
    return found


def _damage(path: Path, how: str, files: list[Path], chance: random.Random) -> None:
    """Damage one file, so that links of it elsewhere keep what they hold."""
    data, others = path.read_bytes(), [each for each in files if each != path]
    other = chance.choice(others).read_bytes() if others else b"{}"
    path.unlink()
    if how == "swapped":
        path.write_bytes(other)
    elif how != "gone":
        path.write_bytes(DAMAGES[how](data, chance))
