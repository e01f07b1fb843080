"""Put small faults into copies of the package, one at a time, and see which of them the tests notice.

`--measure` comes first, once: it runs all tests and notes which of them runs what. Then faults are drawn
(`--seed`, `--count`), those of `by_hand.txt` taken (`--by-hand`), or those that an earlier run did not notice
(`--again REPORT`); `--list` only shows them.
"""

from __future__ import annotations

import argparse
import json
import os
import queue
import subprocess
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import asdict
from pathlib import Path

from tests.mutate import covered, faults, trial

HERE = Path(__file__).parent
ROOT = HERE.parent.parent


def main() -> int:
    asked = _arguments()
    if asked.measure:
        return _measured(asked)
    found = _wanted(asked)
    if asked.list:
        for fault in found:
            print(f"{fault.line:5d}  {fault.key}")  # noqa: T201
        return 0
    tests = {name: t for name, t in covered.read(asked.map).items() if t["passed"]}
    if not tests:
        print(f"{asked.map} holds no tests; run --measure first.", file=sys.stderr)  # noqa: T201
        return 2
    return _tried(found, tests, asked)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutate", description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=180)
    parser.add_argument("--only", choices=list(faults.STRATA))
    parser.add_argument("--jobs", type=int, default=1, help="copies tried at once, each on a core of its own")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--by-hand", action="store_true")
    parser.add_argument("--again", type=Path, metavar="REPORT")
    parser.add_argument("--report", type=Path, metavar="FILE", help="a line of JSON for each fault")
    parser.add_argument("--most", type=float, default=300.0, help="seconds of tests for one fault")
    parser.add_argument("--until", type=float, default=None, help="seconds after which no fault is begun")
    parser.add_argument("--measure", action="store_true")
    parser.add_argument("--map", type=Path, default=ROOT / ".venv" / "mutate", help="what --measure wrote")
    return parser.parse_args()


def _measured(asked: argparse.Namespace) -> int:
    for old in asked.map.glob("*.json"):
        old.unlink()
    several = ["-n", str(asked.jobs), "--dist", "loadfile"] if asked.jobs > 1 else ["-n", "0"]
    return subprocess.run(
        [sys.executable, "-m", "pytest", *several, "-p", "tests.mutate.covered"], cwd=ROOT, check=False,
        env=dict(os.environ, MUTATE_MAP=str(asked.map.resolve()), PYTHONPATH=str(ROOT))).returncode


def _wanted(asked: argparse.Namespace) -> list[faults.Fault]:
    if asked.again:
        rows = [json.loads(line) for line in asked.again.read_text().splitlines()]
        rows = [r for r in rows if r["outcome"] == "not noticed"]
        return [_placed(row["fault"]) for row in rows]
    if asked.by_hand:
        return by_hand((HERE / "by_hand.txt").read_text())
    return faults.drawn(ROOT, seed=asked.seed, count=asked.count, only=asked.only)


def _placed(row: dict) -> faults.Fault:
    """Return an earlier run's fault, where it now is in its file."""
    fault = faults.Fault(**row)
    same = [f for f in faults.found_in(ROOT / fault.path, ROOT) if f.key == fault.key]
    return min(same, key=lambda f: abs(f.line - fault.line)) if same else fault


def by_hand(text: str) -> list[faults.Fault]:
    """Return faults that are written down: a line with the path, lines `- old`, lines `+ new`."""
    found = []
    told = "\n".join(line for line in text.splitlines() if not line.startswith("#"))
    for block in filter(None, (b.strip("\n") for b in told.split("\n\n"))):
        path, *rest = block.splitlines()
        old, new = ("\n".join(line[2:] for line in rest if line[:1] == mark) for mark in "-+")
        source = (ROOT / path).read_text()
        if source.count(old) != 1:
            raise SystemExit(f"{path} holds this {source.count(old)} times, not once:\n{old}")
        at = source.index(old)
        start = len(source[:at].encode())
        line = source[:at].count("\n") + 1
        found.append(faults.Fault(path, line, faults.place_of(source, line), "by hand", start,
                                  start + len(old.encode()), old, new))
    return found


def _tried(found: list[faults.Fault], tests: dict, asked: argparse.Namespace) -> int:
    argued = {line.split(" | ")[0] for line in (HERE / "argued.txt").read_text().splitlines()}
    cores: queue.Queue = queue.Queue()
    for core in sorted(os.sched_getaffinity(0))[:asked.jobs]:
        cores.put(core)
    began, rows = time.monotonic(), []

    def one(fault):
        if asked.until and time.monotonic() - began > asked.until:
            return None
        core = cores.get()
        try:
            return trial.tried(fault, ROOT, tests, most_s=asked.most, core=core if asked.jobs > 1 else None)
        finally:
            cores.put(core)

    with ThreadPoolExecutor(asked.jobs) as pool:
        running = {pool.submit(one, fault): fault for fault in found}
        for done in as_completed(running):
            fault, outcome = running[done], done.result()
            if outcome is None:
                continue
            word = "same" if outcome.outcome == "not noticed" and fault.key in argued else outcome.outcome
            rows.append({"fault": asdict(fault), **asdict(outcome), "outcome": word})
            if word != "noticed":
                print(f"{word}: {fault.key} (line {fault.line}; {outcome.tests} tests, "  # noqa: T201
                      f"{outcome.seconds:.0f} s, {outcome.left_out_s:.0f} s left out)", flush=True)
            if asked.report:
                with asked.report.open("a") as file:
                    file.write(json.dumps(rows[-1]) + "\n")
    return _told(rows)


def _told(rows: list[dict]) -> int:
    stratum = {package: name for name, packages in faults.STRATA.items() for package in packages}
    table: dict[str, Counter] = {}
    for row in rows:
        package = Path(row["fault"]["path"]).parts[1].removesuffix(".py")
        for name in (stratum.get(package, package), "all"):
            table.setdefault(name, Counter())[row["outcome"]] += 1
    for name in sorted(table, key=lambda n: (n == "all", n)):
        counts = table[name]
        judged = sum(counts.values()) - counts["same"]
        seen = counts["noticed"] + counts["hung"]
        print(f"{name:10s} {seen:4d} of {judged:4d} noticed ({counts['hung']} hung); "  # noqa: T201
              f"{counts['same']} argued")
    return 0


if __name__ == "__main__":
    sys.exit(main())
