"""The table of checks as Markdown and as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence

import numpy as np

from previz.checks.validation.records import Check

HEAD = ("Quantity", "Source", "Expected", "Got", "Tolerance", "Verdict")

NOTE = (
    "Each row is worked out anew by this copy of the program, which reproduces these figures and "
    "claims no more. '(from memory)' marks a figure whose document was not at hand, 'common "
    "practice, no source' a habit of the trade. A number with ± was rendered by the engine; ± is "
    "one standard error, and 4 of them are allowed where that is more than the tolerance."
)


def number(value: float) -> str:
    """Return a number with six figures at most."""
    return f"{value:.6g}".replace("-", "\N{MINUS SIGN}")


def _numbers(parts: Iterable[float], unit: str) -> str:
    text = ", ".join(number(each) for each in parts)
    return f"{text} {unit}".strip()


def _got(check: Check) -> str:
    if check.error is None:
        return _numbers(check.got, check.unit)
    # As many decimals as show two figures of the error, but no more than mean anything.
    digits = int(np.clip(1 - np.floor(np.log10(max(check.error, 1e-4))), 0, 4))
    return f"{check.got[0]:.{digits}f} ± {check.error:.{digits}f} {check.unit}".strip()


def _tolerance(check: Check) -> str:
    if check.relative:
        return f"±{number(100 * check.tolerance)} %"
    return f"±{number(check.tolerance)} {check.unit}".strip()


def _row(cells: Iterable[str]) -> str:
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def markdown(checks: Sequence[Check], version: str, backend: str, seconds: float) -> str:
    """Return the table of checks made by a version of the program in so long. [s]"""
    failed = [check for check in checks if not check.passed]
    lines = [f"# previz {version} reproduces {len(checks) - len(failed)} of {len(checks)} values",
             "", f"Engine on: {backend}; {seconds:.0f} s.", "", NOTE, ""]
    if failed:
        lines += ["Failed: " + "; ".join(f"{c.group}, {c.quantity}" for c in failed) + ".", ""]
    lines += [_row(HEAD), _row(["---"] * len(HEAD))]
    group = None
    for check in checks:
        if check.group != group:
            group = check.group
            lines.append(_row([f"**{group}**", *[""] * (len(HEAD) - 1)]))
        lines.append(_row([check.quantity, check.source, _numbers(check.expected, check.unit),
                           _got(check), _tolerance(check), check.verdict]))
    return "\n".join(lines) + "\n"


def json_text(checks: Sequence[Check], version: str, backend: str, seconds: float) -> str:
    """Return the checks as JSON."""
    answer = {"previz_validate": 1, "version": version, "backend": backend,
            "seconds": round(seconds, 1), "passed": all(check.passed for check in checks),
            "checks": [check.as_dict() for check in checks]}
    return json.dumps(answer, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
