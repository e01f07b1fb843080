"""All lists of one option of a scene, each from its own module."""

from __future__ import annotations

from collections.abc import Mapping

from previz.plans.lengths import FOOT, METRIC
from previz.plans.lines import SetUp
from previz.scene.scene import Scene
from previz.stage.records import Stage
from previz.studies.paper.cable import STOCK, cable_lines, cable_runs
from previz.studies.paper.flicker import flicker_lines
from previz.studies.paper.gels import sheet_lines
from previz.studies.paper.grip import grip_lines
from previz.studies.paper.lamps import lamp_lines
from previz.studies.paper.power import power_plan

FEET = tuple(feet * FOOT for feet in (25.0, 50.0, 100.0))
"""Lengths of cables where lengths are said in feet. [m]  Common practice, no source."""


def set_up_of(title: str, scene: Scene, stage: Stage, tags: Mapping[str, str], system: str,
              before: SetUp | None = None) -> SetUp:
    """Return the lists of one option; what a meter is to read is not in them.

    Parameters
    ----------
    title : str
        Of the scene, as the lists of a day have it.
    scene, stage : Scene, Stage
        With the option applied; built of it.
    tags : dict of str to str
        As `plans.tags.tags_of` gives them.
    system : str
        Of lengths in words: 'metric' or 'imperial'.
    before : SetUp or None
        Of an option whose distribution stays where it is.
    """
    lamps = lamp_lines(scene, stage, tags, system)
    source, name = (None, "") if scene.mains.at is not None else _box(before)
    runs = cable_runs(scene, stage, lamps, source=source, source_name=name,
                      stock=STOCK if system == METRIC else FEET)
    return SetUp(title, scene.option, lamps, grip_lines(scene, stage, tags, lamps, system),
                 sheet_lines(scene, stage, tags), runs, cable_lines(runs),
                 power_plan(scene, lamps, runs=runs), flicker_lines(scene, tags, lamps))


def _box(set_up: SetUp | None) -> tuple[tuple[float, float, float] | None, str]:
    """Return where the distribution of a set-up stands [m], and its name; None and '' if it has none."""
    for run in set_up.runs if set_up is not None else ():
        if run.path:
            return (*run.path[0], 0.0), run.source
    return None, ""
