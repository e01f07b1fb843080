"""One request for what wants hang on: their meters, the same a step off the mark, and arithmetic."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from previz.deliver.what_if_words import HangLine
from previz.errors import RequestError
from previz.frames.records import Frames, Short
from previz.levels.answers import Reading, answer_of
from previz.levels.dependence import DARK_STOPS, Other, dependences
from previz.levels.moves import CameraMove
from previz.levels.problem import Problem
from previz.levels.response import Response
from previz.levels.wants import COLOUR
from previz.rendering.ahead import look_ahead
from previz.rendering.job import StageJob
from previz.rendering.needs import EACH_STILL
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.scene.wants import Want
from previz.stage.build import build_stage
from previz.stage.records import Stage
from previz.studies.balance.gathering import Meters
from previz.studies.balance.phrases import EXAMPLES, with_wants
from previz.studies.balance.subjects import Needed, Subject, subjects_of, with_meters
from previz.studies.selection import label_of
from previz.studies.what_if.lighting import at_stops, lights_of, weather_of
from previz.studies.what_if.result import WhatIf
from previz.studies.what_if.steps import Off, changes_off, off_marks, stand_of

STEP = 0.3
"""How far off a mark somebody stands now and then. [m]  Common practice, no source: half a pace."""

HELD_WITHIN = 0.33
"""Where nothing is wanted, what is there is to stay within so much. [stops]
Common practice, no source: a third, the finest step of a lens's marks."""


def what_if(scene: Scene, request: Request, *, wants: Iterable[str | Want] = (), as_it_is: bool = False,
            step: float = STEP, title: str = "", progress: Progress | None = None) -> WhatIf:
    """Return what each want of one option hangs on: lamps, the weather, a step off the mark.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    request : Request
        Of the meters.
    wants : iterable of str or Want
        Lines as of `balance.phrases.want_of`, in place of what the scene wants. Where nothing is wanted, both
        sides of each face and their ratio are to stay as they are.
    as_it_is : bool
        What each want is of is to stay as it is, within what the want allows, whatever it says is wanted.
    step : float
        How far off the mark; 0 leaves it out. [m]
    title : str
        In place of the scene's own.
    progress : Progress, optional

    Raises
    ------
    RequestError
        There is nothing that could be wanted, a line is not understood, or wants exclude each other.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    said = tuple(wants)
    unsaid = not said and not scene.wants
    held = as_it_is or unsaid
    stage = build_stage(scene)
    subjects, needed = subjects_of(scene, stage, _faces(scene) if unsaid else with_wants(scene, said))
    offs = _offs(stage, subjects, step) if step else {}
    behind = [each for each in stage.cameras if each.name in {camera for camera, _ in needed.views}]
    job = StageJob(with_meters(stage, needed), request.meter_order())
    look_ahead([(job, camera) for camera in behind], request, progress, held=EACH_STILL)
    short: list[Short] = []
    with progress.running(len(behind) + bool(needed.incident) + bool(needed.spots) + len(offs)):
        try:
            frames: dict[str, Frames] = {
                each.name: job.like(request.order(each.aspect)).frames(
                    each, progress, label_of(scene.option, f"camera {each.name}")) for each in behind}
            meters = Meters(job, request, progress)
            response = meters.response(needed, frames)
            short += meters.short
        finally:
            job.close()
        there = {figure: _metered(off.stage, off.needed, request, progress, short)
                 for figure, off in offs.items()}
    cameras = [CameraMove(each.name) for each in scene.cameras]
    problem = Problem(response, [each.want for each in subjects], lights_of(scene, stage), cameras)
    readings = answer_of(problem, problem.now).readings
    if held:
        subjects, readings = _held(subjects, readings)
        if not subjects:
            raise RequestError("There is no light to be kept as it is", "Switch a lamp on.")
        problem = Problem(response, [each.want for each in subjects], problem.lamps, cameras)
    steps: dict[int, tuple[Other, ...]] = {}
    for figure, off in offs.items():
        steps |= changes_off(problem, subjects, off, there[figure], step)
    found = dependences(problem, problem.now, readings, weather_of(stage.lamps), at=at_stops)
    lines = tuple(HangLine(subject.want.name, subject.words, subject.want.camera,
                           replace(each, steps=steps.get(number, ())))
                  for number, (subject, each) in enumerate(zip(subjects, found, strict=True)))
    return WhatIf(title or scene.title, scene.option, held, step, subjects, lines,
                  tuple(line for off in offs.values() for line in off.blocked), tuple(short),
                  stage.reminders)


def _faces(scene: Scene) -> tuple[Want, ...]:
    """Return wants for every face, of which only the kind counts: what is there is what is wanted.

    Raises
    ------
    RequestError
        The scene has no figure.
    """
    if not scene.figures:
        raise RequestError("Nothing is wanted, and there is no figure whose light could be kept as it is",
                           "Write 'wants:' in the scene, or say with --want what is wanted, such as "
                           f"'{EXAMPLES[-3]}'.")
    made: list[Want] = []
    for figure in (each.name for each in scene.figures):
        if scene.cameras:
            made += [Want(name=f"lit side of {figure}", lit_side=figure, stops=0.0, within=HELD_WITHIN),
                     Want(name=f"shadow side of {figure}", shadow_side=figure, stops=0.0,
                          within=HELD_WITHIN)]
        made.append(Want(name=f"ratio of {figure}", ratio=figure, stops=0.0, within=HELD_WITHIN))
    return tuple(made)


def _held(subjects: Sequence[Subject], readings: Sequence[Reading],
          ) -> tuple[tuple[Subject, ...], tuple[Reading, ...]]:
    """Return wants at what they read, those that there is light for; a range's two ends are one."""
    made: list[Subject] = []
    read: list[Reading] = []
    for subject, reading in zip(subjects, readings, strict=True):
        lit = reading.value.value > 0 if subject.want.kind == COLOUR else (
            abs(reading.value.value) < DARK_STOPS)
        if lit and not any((each.written, each.mark) == (subject.written, subject.mark) for each in made):
            name = subject.want.name
            for end in (", at most", ", at least"):
                name = name.removesuffix(end) if subject.written.at_most is not None else name
            want = replace(subject.want, name=name, target=reading.value.value, at_most=False, at_least=False)
            made.append(replace(subject, want=want))
            read.append(Reading(want, reading.value, 0.0))
    return tuple(made), tuple(read)


def _offs(stage: Stage, subjects: Iterable[Subject], step: float) -> dict[str, Off]:
    """Return the meters off the mark, figure by figure."""
    stands = [stand for stand in map(stand_of, subjects) if stand is not None]
    return {figure: off_marks(stage, figure, [each for each in stands if each.figure == figure], step)
            for figure in dict.fromkeys(each.figure for each in stands)}


def _metered(stage: Stage, needed: Needed, request: Request, progress: Progress,
             short: list[Short]) -> Response:
    """Return what lamps give at the meters of a stage; adds those that fell short."""
    job = StageJob(stage, request.meter_order())
    try:
        meters = Meters(job, request, progress)
        found = meters.response(needed, {})
        short += meters.short
    finally:
        job.close()
    return found
