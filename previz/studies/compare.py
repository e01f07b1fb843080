"""Options side by side: every option by every camera, rendered only where something changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.compare_sheet import Comparison, Shown, write_comparison
from previz.deliver.map import exposure_map
from previz.deliver.scopes import write_scopes
from previz.deliver.stems import stems_of, unique_stems
from previz.exposure.comparing.difference import SAME, difference_index
from previz.exposure.comparing.faces import LampOnFace
from previz.physics.safety import Caution, together
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.read import SceneFile
from previz.scene.scene import Scene
from previz.sight.face_view import faces_of
from previz.sight.rig_bodies import bodies_of
from previz.stage.build import build_stage
from previz.stage.records import Stage
from previz.studies.option_run import METER_SHARE, Cell, MeasureRequest, OptionRun
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows, coverage_rows, lamp_rows, shot_rows
from previz.studies.selection import label_of, no_camera, select, select_one, select_options


@dataclass(frozen=True, eq=False)
class Compared(Result):
    """Options side by side, in pictures and numbers.

    Parameters
    ----------
    options, cameras : tuple of str
        In the order to show them; the base is the first option.
    cells : dict of (option, camera) to Cell
        Every picture with its numbers.
    effects : dict of option to dict of figure to tuple of LampOnFace
        What each lamp does to each face.
    rendered, reused : int
        Pictures.
    stems : dict
        See `stems.stems_of`; where it is empty, files are named by what is compared alone.
    """

    study: ClassVar[str] = "compare"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "figure", "meter", "lamp", "thing")

    title: str
    options: tuple[str, ...]
    cameras: tuple[str, ...]
    cells: dict[tuple[str, str], Cell]
    effects: dict[str, dict[str, tuple[LampOnFace, ...]]]
    cautions: tuple[Caution, ...]
    rendered: int
    reused: int
    stems: dict[tuple[str | None, str], str] = field(default_factory=dict)

    def _rows(self) -> list[Row]:
        rows = []
        for (option, camera), cell in self.cells.items():
            of = {"option": option, "camera": camera}
            rows += shot_rows(cell.measures, **of)
            if cell.difference is not None:
                rows += [row("difference_median", np.median(cell.difference), **of),
                         row("changed_share", np.mean(np.abs(cell.difference) >= SAME), **of)]
            rows += coverage_rows(cell.coverage, **of)
        for option, faces in self.effects.items():
            for effects in faces.values():
                rows += lamp_rows(effects, option=option)
        return rows + caution_rows(self.cautions)

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        shown = {}
        for key, cell in self.cells.items():
            index = None if cell.difference is None else difference_index(cell.difference)
            shown[key] = Shown(cell.measures, cell.picture.still,
                               exposure_map(cell.picture.signal, cell.frames.names_index, made=cell.map,
                                            settings=cell.measures.settings, still=cell.picture.still),
                               index, cell.coverage)
        return write_comparison(Path(path), Comparison(self.title, self.options, self.cameras, shown,
                                                       self.effects, self.cautions),
                                self._words("Options side by side."))

    def scopes(self, folder: Path | str) -> list[Path]:
        """Write each still with its waveforms, chromaticities and histograms; return the files."""
        stems = self.stems or dict(zip(self.cells, unique_stems(self.cells), strict=True))
        written = []
        for (option, camera), cell in self.cells.items():
            written.append(Path(folder) / f"{stems[option, camera]}-scopes.png")
            write_scopes(written[-1], cell.picture, cell.measures.settings, title=self.title,
                         subject=label_of(option, f"camera {camera}"),
                         words=self._words("Options side by side."))
        return written


def compare(scenes: SceneFile | Mapping[str, Scene], request: Request, *, options: Sequence[str] = (),
            cameras: Sequence[str] = (), base: str | None = None,
            subjects: Mapping[str, str] | None = None, spill: str = "",
            key_lamps: Sequence[str] = (), volts: float | None = None,
            progress: Progress | None = None) -> Compared:
    """Render and measure options by cameras; only what an option changes is rendered again.

    Parameters
    ----------
    scenes : SceneFile or dict of str to Scene
        A scene file, or scenes by the names of the options that they are.
    request : Request
        Of the pictures and meters.
    options, cameras : sequence of str
        Those to compare; all where none is named.
    base : str, optional
        Option that the others are held against; the first without it.
    subjects : dict of str to str, optional
        Camera to the figure it is on, where that is not left to the program.
    spill : str
        Surface that spill is given for; '' for what is behind the subject.
    key_lamps : sequence of str
        Lamps that make the key; the strongest at the lit cheek if none is named.
    volts : float, optional
        Of the mains, instead of the scene's own. [V]
    progress : Progress, optional
        Counts the pictures, and says of each why it was rendered or not.

    Raises
    ------
    RequestError
        The scene has no such option, camera, lamp, thing or figure.
    """
    measure = MeasureRequest(dict(subjects or {}), spill, tuple(key_lamps))
    chosen, stages = _scenes(scenes, options, base), dict[str, Stage]()
    if volts is not None:
        chosen = {name: replace(scene, mains=replace(scene.mains, voltage=volts))
                  for name, scene in chosen.items()}
    cells: dict[tuple[str, str], Cell] = {}
    effects: dict[str, dict[str, tuple[LampOnFace, ...]]] = {}
    run = OptionRun(request, measure, progress or Progress())
    run.progress.show(SETTING_UP)
    try:
        # Every option is built before anything is rendered, so that a bad mesh costs no time.
        for name, scene in chosen.items():
            stages[name] = build_stage(scene)
            run.develop_early(name, stages[name], cameras)
        names = _checked(stages, cameras, measure)
        run.look_ahead(names)
        run.progress.start(len(stages) * (len(names) + METER_SHARE))
        first = next(iter(chosen))
        for option, scene in chosen.items():
            meters, pictures = run.option(option, scene, stages[option], names)
            bodies = bodies_of(scene, stages[option])
            for picture in pictures:
                key = picture.camera.name
                cells[option, key] = run.cell(meters, option, picture, bodies, cells.get((first, key)))
            figures = dict.fromkeys(cells[option, each.camera.name].coverage.subject for each in pictures)
            effects[option] = {name: meters.lamps_on(name) for name in figures if name}
    finally:
        run.close()
    return Compared(stages[first].title, tuple(stages), tuple(names), cells, effects,
                    together(each for stage in stages.values() for each in stage.reminders),
                    run.rendered, run.reused,
                    stems_of(scenes, request.quality) if isinstance(scenes, SceneFile) else {})


def _scenes(scenes: SceneFile | Mapping[str, Scene], options: Sequence[str],
            base: str | None) -> dict[str, Scene]:
    """Return the scenes to compare, by option, the base first."""
    if isinstance(scenes, SceneFile):
        known, names = list(scenes.option_names), select_options(scenes, options)
        found = {name: scenes.scene(name or None) for name in (*names, *known)}
    else:
        known, names, found = list(scenes), select(options, scenes, "option"), dict(scenes)
    first = names[0] if base is None else select_one(base, known, "option")
    return {name: found[name] for name in dict.fromkeys((first, *names))}


def _checked(stages: Mapping[str, Stage], cameras: Sequence[str], measure: MeasureRequest) -> list[str]:
    """Return the cameras; refuse names that the scene does not have before anything is rendered."""
    known = list(dict.fromkeys(c.name for s in stages.values() for c in s.cameras))
    if not known:
        raise no_camera()
    lamps = dict.fromkeys(lamp.name for s in stages.values() for lamp in s.lamps)
    select(measure.key_lamps, lamps, "lamp")
    things = dict.fromkeys(m.name for s in stages.values() for m in s.meshes)
    select((measure.spill,) if measure.spill else (), things, "thing")
    select(measure.subjects, known, "camera")
    figures = dict.fromkeys(name for stage in stages.values() for name in faces_of(stage))
    select(measure.subjects.values(), figures, "figure")
    return select(cameras, known, "camera")
