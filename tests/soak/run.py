"""Trying inputs by kinds, each kind in a process of its own that is watched and bounded."""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import sys
import tempfile
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from random import Random

from .drawn import batch
from .guard import WALL_SECONDS, Guard, bound_memory
from .kinds import KINDS, SHARES
from .record import Finding, Tally, tried
from .shrink import shrunk

KEPT = Path(__file__).resolve().parents[2] / ".soak"
"""Where failing inputs are kept; git does not look there."""

MOST_KEPT = 3
"""Inputs that are kept of one fault."""


@dataclass(frozen=True)
class Plan:
    """How much of one kind is tried.

    Parameters
    ----------
    kind : str
    seed : int
    inputs : int or None
        At most so many.
    seconds : float or None
        At most so long, once ready. [s]
    first : int
        Number of the first input, or batch.
    """

    kind: str
    seed: int
    inputs: int | None = None
    seconds: float | None = None
    first: int = 0


def plans(kinds: list[str], seed: int, inputs: int | None, seconds: float | None) -> list[Plan]:
    """Return a plan a kind.

    Inputs are those of all kinds together, shared out by `SHARES`; seconds are shared out evenly.
    """
    total = sum(SHARES[name] for name in kinds)
    return [
        Plan(
            name,
            seed,
            None if inputs is None else round(inputs * SHARES[name] / total),
            None if seconds is None else seconds / len(kinds),
        )
        for name in kinds
    ]


def run(plan: Plan) -> Tally:
    """Try the inputs of a plan in a process of its own, and say what came of them."""
    fork = multiprocessing.get_context("fork")
    ours, theirs = fork.Pipe(duplex=False)
    folder = Path(tempfile.mkdtemp(prefix=f"soak-{plan.kind}-"))
    process = fork.Process(target=_work, args=(plan, folder, theirs))
    process.start()
    theirs.close()
    tally, number = Tally(plan.kind), None
    try:
        while True:
            if not ours.poll(WALL_SECONDS):
                tally.findings[f"waited for more than {WALL_SECONDS:g} s, {number}"] = 1
                process.kill()
                break
            try:
                said = ours.recv()
            except EOFError:
                break
            number = said.pop("number", number)
            tally = Tally(**said)
    finally:
        process.join()
        shutil.rmtree(folder, ignore_errors=True)
        errors = folder.with_suffix(".errors")
        said = errors.read_text(errors="replace") if errors.exists() else ""
        errors.unlink(missing_ok=True)
    if process.exitcode:
        how = f"signal {-process.exitcode}" if process.exitcode < 0 else f"status {process.exitcode}"
        tally.findings.setdefault(f"the process ended with {how}, at or after {number}: {said[-2000:]}", 1)
    return tally


def _work(plan: Plan, folder: Path, pipe) -> None:
    """Try inputs in this process; what came of them is told from time to time."""
    os.chdir(folder)
    # What is written is there for this process at once.
    os.fsync = lambda handle: None
    os.environ["TMPDIR"] = tempfile.tempdir = str(folder)
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    errors = os.open(folder.with_suffix(".errors"), os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(errors, 2)
    worker = Worker(plan, folder, pipe)
    try:
        worker.run()
    finally:
        worker.tell(0)
    # What libraries would still do at the end is nobody's concern here.
    os._exit(0)


class Worker:
    """One kind's inputs."""

    def __init__(self, plan: Plan, folder: Path, pipe):
        self.plan, self.pipe, self.kind = plan, pipe, KINDS[plan.kind]()
        self.tally, self.told, self.began = Tally(plan.kind), 0.0, 0.0
        self.folder = folder
        self.guard: Guard

    def run(self) -> None:
        """Try inputs until there are enough, or the time is up."""
        self.kind.begin(self.folder)
        bound_memory()
        self.guard = Guard(self.folder)
        self.began = time.monotonic()
        step = self._batch if hasattr(self.kind, "strategy") else self._one
        number = self.plan.first
        while not self._over():
            step(number)
            number += 1

    def _over(self) -> bool:
        self.tally.seconds = time.monotonic() - self.began
        enough = self.plan.inputs is not None and self.tally.tried >= self.plan.inputs
        return enough or (self.plan.seconds is not None and self.tally.seconds >= self.plan.seconds)

    def tell(self, number: int, every: float = 0.0) -> None:
        """Say how far it is, and at which input."""
        if time.monotonic() - self.told >= every:
            self.told = time.monotonic()
            self.pipe.send({**asdict(self.tally), "number": f"input {number} of seed {self.plan.seed}"})

    def _one(self, number: int) -> None:
        """Try the input of a number: it depends on kind, seed and number alone."""
        self.tell(number, 0.5)
        given = self.kind.make(Random(f"{self.kind.name} {self.plan.seed} {number}"))
        word, finding = tried(self.kind, given, self.guard)
        self._count(word)
        if finding is not None:
            self._found(given, finding, f"{self.plan.seed}:{number}")

    def _batch(self, number: int) -> None:
        """Try a batch of inputs that are drawn one by the other."""
        self.tell(number)

        def one(given: object) -> Finding | None:
            word, finding = tried(self.kind, given, self.guard)
            self._count(word)
            self.tell(number, 0.5)
            return finding

        found = batch(self.kind.strategy, one, self.plan.seed, number, self._over)
        if found is not None:
            self._keep(*found, f"{self.plan.seed}:{number}")

    def _count(self, word: str) -> None:
        self.tally.tried += 1
        self.tally.outcomes[word] = self.tally.outcomes.get(word, 0) + 1

    def _found(self, given: object, finding: Finding, which: str) -> None:
        """Keep a failing input, made smaller where it is the first of its fault."""
        if finding.mark not in self.tally.findings:
            self.tell(int(which.rpartition(":")[2]))

            def fails(other: object) -> bool:
                again = tried(self.kind, other, self.guard)[1]
                return again is not None and again.mark == finding.mark

            began = time.monotonic()
            given = shrunk(given, self.kind.smaller, fails)
            finding = tried(self.kind, given, self.guard)[1] or finding
            # Not a part of the time of the inputs.
            self.began += time.monotonic() - began
        self._keep(given, finding, which)

    def _keep(self, given: object, finding: Finding, which: str) -> None:
        count = self.tally.findings[finding.mark] = self.tally.findings.get(finding.mark, 0) + 1
        if count > MOST_KEPT:
            return
        folder = KEPT / self.kind.name / which.replace(":", "-")
        folder.mkdir(parents=True, exist_ok=True)
        self.kind.keep(given, folder)
        (folder / "found.txt").write_text(
            f"{finding.mark}\n\npython -m tests.soak --again {self.kind.name}:{which}\n\n{finding.text}",
            encoding="utf-8",
            errors="backslashreplace",
        )
        self.tell(0)


def report(tallies: list[Tally], out=sys.stdout) -> bool:
    """Print what came of it; return whether nothing was found."""
    for tally in tallies:
        print(tally.line(), file=out)
    total = sum(tally.tried for tally in tallies)
    found = [(tally, mark, count) for tally in tallies for mark, count in tally.findings.items()]
    for tally, mark, count in found:
        print(f"FOUND {tally.name}, {count} times: {mark}", file=out)
    print(f"{total} inputs, {len(found)} faults" + (f"; what failed is in {KEPT}" if found else ""), file=out)
    return not found


def as_json(tallies: list[Tally]) -> str:
    """Return what came of it for programs."""
    return json.dumps([asdict(tally) for tally in tallies])
