"""Wants on the page: what the browser works them out from, and levels that bring them about."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from previz.deliver.balance_words import sentences
from previz.errors import DataError, RequestError
from previz.levels.answers import Reading
from previz.levels.response import Response
from previz.levels.wants import COLOUR, RATIO, Want
from previz.page.desk import Desk
from previz.page.figures import figures
from previz.page.shots import Lit, lit
from previz.page.wanted import Wanted, lines_of, wanted_of
from previz.physics.light import LampLight
from previz.scene.gel import Gel
from previz.scene.scene import Scene
from previz.scene.wants import SEEN
from previz.stage.records import Stage
from previz.studies.balance.moving import lamps_of
from previz.studies.balance.phrases import EXAMPLES, with_moves
from previz.studies.balance.run import RULES
from previz.studies.balance.solving import Solution, solve
from previz.studies.balance.subjects import subjects_of
from previz.studies.changes import LampChange, staged_camera
from previz.studies.selection import select_one


def wants_values(desk: Desk, query: Mapping[str, str]) -> dict[str, Any]:
    """Return what is wanted, and what each lamp gives at its meters at full level in the colour of its level.

    `spread` is the covariance of the lamps' errors at a meter in Y, `pairs` that between the two meters of
    a ratio, `colours` that of X, Y, Z lamp by lamp where a colour is wanted [lx² or (cd/m²)²].
    """
    request = lit(desk, query)
    wanted = wanted_of(desk, request.option, lines_of(query.get("wants", "")), request.moves)
    head: dict[str, Any] = {
        "wants": [], "meters": [], "lamps": [], "xyz": [],
        "spread": [], "pairs": {}, "colours": {}}
    if wanted is None:
        return head
    response, waiting = wanted.read(desk)
    head["wants"] = [_want(wanted, number, waiting) for number in range(len(wanted.subjects))]
    if response is None:
        return head
    lights = [request.at_full(name, fading=True) for name in response.lamps]
    return head | light_values([each.want for each in wanted.subjects], response, lights)


def _want(wanted: Wanted, number: int, waiting: Mapping[str, str]) -> dict[str, Any]:
    subject = wanted.subjects[number]
    missing = [waiting[name] for name in subject.want.meters if name in waiting]
    return {**asdict(subject.want), "of": subject.words, "seen": subject.written.subject in SEEN,
            "line": wanted.line_of(subject.written), "metered": not missing,
            "fault": next(filter(None, missing), "")}


def light_values(wants: Sequence[Want], response: Response, lights: Sequence[LampLight]) -> dict[str, Any]:
    """Return what each lamp gives at the meters, and how its errors go together, as `wants_values` has it."""
    light = response.xyz(lights).sum(axis=3)
    mean, many = light.mean(axis=1), light.shape[1]
    off = (light - mean[:, None]) / np.sqrt(many * (many - 1))
    at = {name: number for number, name in enumerate(response.meters)}
    wants = [each for each in wants if all(name in at for name in each.meters)]
    pairs = {each.meters for each in wants if each.kind == RATIO}
    coloured = {name for each in wants if each.kind == COLOUR for name in each.meters}
    return {
        "meters": list(response.meters), "lamps": list(response.lamps),
        "xyz": [figures(each, 9) for each in mean],
        "spread": [figures(each[..., 1].T @ each[..., 1]) for each in off],
        "pairs": {"|".join(pair): figures(off[at[pair[0]], ..., 1].T @ off[at[pair[1]], ..., 1])
                  for pair in sorted(pairs)},
        "colours": {name: figures(whole.T @ whole) for name in sorted(coloured)
                    for whole in [off[at[name]].reshape(many, -1)]},
    }


def balance_values(desk: Desk, query: Mapping[str, str]) -> dict[str, Any]:
    """Return levels, colours and exposure that come nearest to what is wanted, from how lamps are set now.

    The query has `look` and `wants` as for every answer; `rule`, one of `RULES`; `few` for the fewest lamps;
    `hold`, a list of lamps that stay as they are.

    Returns
    -------
    dict
        'lamps' and 'cameras' by name: what to set, as the page keeps it; 'said' in sentences; 'met';
        'changes' in words; 'readings' of the wants then; 'edition' of the scene.

    Raises
    ------
    DataError, RequestError
        Nothing is wanted, nothing may move, meters are still missing, or the query makes no sense.
    """
    request = lit(desk, query)
    rule = select_one(query.get("rule") or RULES[0], RULES, "rule")
    wanted = wanted_of(desk, request.option, lines_of(query.get("wants", "")), request.moves)
    if wanted is None:
        raise RequestError("Nothing is wanted of this option.",
                           f"Add a want, such as '{EXAMPLES[0]}', or write 'wants:' in the scene.")
    response, waiting = wanted.read(desk)
    faults = [f"{name}: {text}" for name, text in waiting.items() if text]
    if faults:
        raise RequestError(f"Not all that is wanted can be metered: {'; '.join(faults)}.",
                           "Change these wants, or take them out.")
    if response is None or waiting:
        raise DataError("not all that is wanted is metered yet", "Wait for the meters, and try again.")
    scene = with_moves(request.changed, lock=_held(query))
    solution = _solved(scene, _staged(request), wanted, response, rule, few=bool(query.get("few")))
    # A lamp that goes out is brought down and not switched off: one that is off is off on purpose, and would
    # stay so in the next balance.
    changes = replace(solution.changes, lamps={
        name: replace(each, on=None, dimmer=0.0) if each.on is False else each
        for name, each in solution.changes.lamps.items()})
    return {
        "edition": desk.edition, "met": solution.met,
        "said": sentences(solution.after, solution.conflict, solution.remedies),
        "changes": changes.text().removeprefix("changed: "),
        "lamps": {name: _fields(change) for name, change in changes.lamps.items()},
        "cameras": {name: dict(values) for name, values in changes.cameras.items()},
        "readings": [_reading(each) for each in solution.after],
    }


def _held(query: Mapping[str, str]) -> list[str]:
    try:
        names = json.loads(query.get("hold") or "[]")
    except (ValueError, RecursionError):
        names = None
    if not isinstance(names, list) or not all(isinstance(each, str) for each in names):
        raise DataError("'hold' is a list of lamps", "Reload the page.")
    return names


def _staged(request: Lit) -> Stage:
    """Return the stage with lamps and cameras as changed."""
    return replace(request.stage, lamps=tuple(request.lamps()),
                   cameras=tuple(staged_camera(request.stage, each) for each in request.changed.cameras))


def _solved(scene: Scene, stage: Stage, wanted: Wanted, response: Response, rule: str, *,
            few: bool) -> Solution:
    lamps = lamps_of(scene, stage)
    if all(each.locked for each in lamps.values()) and all(each.may_move is None for each in scene.cameras):
        raise RequestError("Nothing may move.", "Let go of a lamp that is held, or switch one on.")
    subjects, _ = subjects_of(scene, stage, wanted.wants)
    return solve(response, [each.want for each in subjects], scene, stage, rule, few=few)


def _fields(change: LampChange) -> dict[str, Any]:
    """Return what is changed of a lamp as the page keeps it."""
    made: dict[str, Any] = {}
    if change.on is not None:
        made["on"] = change.on
    if change.dimmer is not None:
        made["level"] = change.dimmer
    if change.cct is not None:
        made["cct"] = change.cct
    if change.gel is not None:
        made["gel"] = [each.name if isinstance(each, Gel) else {"sheet": each} for each in change.gel]
    return made


def _reading(reading: Reading) -> dict[str, Any]:
    value = reading.value
    return {"name": reading.want.name, "met": reading.met,
            "value": value.value if np.isfinite(value.value) else None,
            "error": value.error if np.isfinite(value.error) else None}
