"""`python -m tests.soak`: inputs of every kind, tried until there are enough or the time is up."""

from __future__ import annotations

import argparse
import os
import random
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from .kills import damages, kills  # noqa: E402
from .kinds import KINDS  # noqa: E402
from .run import Plan, as_json, plans, report, run  # noqa: E402


def main() -> int:
    """Run it; 1 where something was found."""
    words = argparse.ArgumentParser(prog="python -m tests.soak", description=__doc__)
    words.add_argument("--seconds", type=float, help="so long, all kinds together")
    words.add_argument("--inputs", type=int, help="so many, all kinds together")
    words.add_argument("--seed", type=int, default=None, help="same inputs again; another each time without")
    words.add_argument("--only", help=f"kinds, separated by commas; there are {', '.join(KINDS)}")
    words.add_argument("--jobs", type=int, default=1, help="kinds at a time")
    words.add_argument("--again", metavar="KIND:SEED:NUMBER", help="one input, or one batch, again")
    words.add_argument("--json", action="store_true", help="print what came of it as JSON")
    words.add_argument("--kills", type=int, help="kill renders so often instead")
    words.add_argument("--damages", action="store_true", help="damage every file of a rendered cache instead")
    given = words.parse_args()
    if given.kills or given.damages:
        return _renders(given)
    if given.again:
        kind, seed, number = given.again.split(":")
        asked = [Plan(kind, int(seed), 1, None, int(number))]
    else:
        seed = random.SystemRandom().randrange(1 << 31) if given.seed is None else given.seed
        names = given.only.split(",") if given.only else list(KINDS)
        unknown = [name for name in names if name not in KINDS]
        if unknown:
            words.error(f"there is no kind '{unknown[0]}'; there are {', '.join(KINDS)}")
        if given.seconds is None and given.inputs is None:
            words.error("give --seconds or --inputs")
        asked = plans(names, seed, given.inputs, given.seconds)
        print(f"seed {seed}", file=sys.stderr)
    with ThreadPoolExecutor(given.jobs) as pool:
        tallies = list(pool.map(run, asked))
    good = report(tallies, sys.stderr if given.json else sys.stdout)
    if given.json:
        print(as_json(tallies))
    return 0 if good else 1


def _renders(given: argparse.Namespace) -> int:
    seed = random.SystemRandom().randrange(1 << 31) if given.seed is None else given.seed
    print(f"seed {seed}", flush=True)
    try:
        for line in kills(given.kills, seed) if given.kills else damages(seed):
            print(line, flush=True)
    except AssertionError as error:
        print(f"FOUND {error}", flush=True)
        return 1
    return 0


if __name__ == "__main__":
    status = main()
    sys.stdout.flush()
    os._exit(status)
