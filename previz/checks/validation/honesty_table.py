"""The table of `previz validate --honesty`."""

from __future__ import annotations

import json
from collections.abc import Sequence

import numpy as np

from previz.checks.validation.honesty import Runs

HEAD = ("| Stage | Meter | Truth | Stated | Spread / stated | Worst run | Reached | Honest |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |")
SPOT = ", A"


def markdown(found: Sequence[Runs], precision: float, version: str, backend: str, seconds: float) -> str:
    """Return the runs as one table: by the precision of each [1] and the time it took. [s]"""
    honest = sum(each.honest for each in found)
    runs = max((len(each.value) for each in found), default=0)
    lines = ["# Do the errors own up?", "",
             f"previz {version}, {backend}, {seconds:.0f} s. {honest} of {len(found)} stages state "
             f"errors that hold. {runs} runs each, asked for {100 * precision:g} %.", "",
             "The truth is one long run. Spread / stated: how far the runs lie from it over the error "
             "that they state, of those that reached what was asked for; a stage's is of all its "
             "meters. Worst run: in stated errors, whether reached or not; +: it reads too much.", "",
             *HEAD]
    for each in found:
        for m, meter in enumerate(each.meters):
            lines.append(_row(each, m, meter))
    failed = [each.stage for each in found if not each.honest]
    if failed:
        lines += ["", f"Not honest: {', '.join(failed)}."]
    return "\n".join(lines) + "\n"


def _row(runs: Runs, m: int, meter: str) -> str:
    unit = "cd/m²" if meter.endswith(SPOT) else "lx"
    truth, error = runs.truth[m], runs.truth_error[m]
    digits = int(np.clip(2 - np.floor(np.log10(max(error, 1e-9))), 0, 6)) if error > 0 else 2
    said = np.count_nonzero(runs.reached[:, m])
    off = runs.off[:, m]
    first = m == 0
    low, high = runs.allowed
    spread = "–"
    if first and np.isfinite(runs.spread):
        spread = f"{runs.spread:.2f} ({low:.2f} to {high:.2f})"
    return (f"| {runs.stage if first else ''} | {meter} | {truth:.{digits}f} ± {error:.{digits}f} {unit} "
            f"| {100 * np.mean(runs.stated[:, m]) / truth if truth > 0 else 0:.2g} % | {spread} "
            f"| {off[np.argmax(np.abs(off))]:+.1f} | {said} of {len(off)} "
            f"| {('yes' if runs.honest else 'NO') if first else ''} |")


def json_text(found: Sequence[Runs], precision: float, version: str, backend: str, seconds: float) -> str:
    """Return the runs as JSON."""
    return json.dumps({"previz": version, "backend": backend, "seconds": round(seconds, 1),
                       "precision": precision, "honest": all(each.honest for each in found),
                       "stages": [each.as_dict() for each in found]}, indent=2,
                      ensure_ascii=False) + "\n"
