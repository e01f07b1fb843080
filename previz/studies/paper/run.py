"""Put scenes on paper: drawings, lists, power, pictures and meter sheet, gathered into one pack."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from previz.deliver.pack import Layout, Pack, PackScene, set_out_pack
from previz.deliver.stems import unique_stems
from previz.errors import PrevizError, RequestError, SceneError
from previz.physics.safety import together
from previz.plans.lengths import METRIC, SYSTEMS
from previz.plans.lines import SetUp
from previz.plans.records import PAGES
from previz.plans.tags import tags_of
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.scene.read import SceneFile, load
from previz.scene.scene import Scene
from previz.stage.build import build_stage
from previz.stage.records import Stage
from previz.studies.paper.drawings import Plans, drawings_of
from previz.studies.paper.pictures import picture_of, shots_of
from previz.studies.paper.result import Drawn, Paper
from previz.studies.render import Shot
from previz.studies.selection import no_camera, select

EACH, DIFFERENCES = "each", "differences"
"""A plan for each option, or one for all with what differs marked."""

MOST_PAGES = 6
"""Of a scene with its options; where a plan for each is more, there is one for all."""


def load_all(paths: Sequence[Path]) -> list[SceneFile]:
    """Return scene files; what is wrong with any of them is told all at once.

    Raises
    ------
    SceneError
        With every problem of every file.
    """
    files, problems, others = list[SceneFile](), [], list[PrevizError]()
    for path in dict.fromkeys(paths):
        try:
            files.append(load(path))
        except SceneError as error:
            problems += error.problems
        except PrevizError as error:
            others.append(error)
    if problems:
        raise SceneError(problems)
    if others:
        raise others[0]
    return files
