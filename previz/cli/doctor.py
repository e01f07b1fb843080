"""`previz doctor`: what this machine has, tried out for real, and what to install."""

from __future__ import annotations

import json
from dataclasses import asdict

import click

from previz.checks.doctor import Finding, examine, works
from previz.cli.options import BACKEND


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
@BACKEND
def command(as_json: bool, backend: str) -> None:
    """Look at this machine: Python, packages, LLVM, GPU, GL, denoiser, fonts, and a test render.

    Says what to install for whatever is missing. Ends with 0 if rendering works, else with 1.
    """
    findings = examine(backend)
    rendering = works(findings)
    if as_json:
        answer = {"rendering": rendering, "findings": [asdict(each) for each in findings]}
        click.echo(json.dumps(answer, indent=1, ensure_ascii=False))
    else:
        click.echo(as_text(findings, rendering))
    if not rendering:
        raise click.exceptions.Exit(1)


def as_text(findings: list[Finding], rendering: bool) -> str:
    """Return findings as aligned lines, and what to do below them."""
    width = max(len(each.topic) for each in findings)
    marks = {"good": "good   ", "missing": "MISSING", "note": "       "}
    lines = [f"{each.topic:{width}}  {marks[each.state]}  {each.text}" for each in findings]
    advice = list(dict.fromkeys(each.advice for each in findings if each.advice))
    if advice:
        lines += ["", "What to do:", *(f"  - {each}" for each in advice)]
    lines += ["", "Rendering works." if rendering else
              "Rendering does not work here. Checking scenes does."]
    return "\n".join(lines)
