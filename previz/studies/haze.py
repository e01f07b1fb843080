"""One scene at several densities of its haze: from one render where it serves, others rendered anew."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, ClassVar

import numpy as np

from previz import __version__
from previz.deliver.haze_sheet import Ladder, Step, write_ladder
from previz.engine.densities import MOST_NOISE, MOST_TIMES, DensityJob, HazePicture, from_one_render
from previz.engine.render import open_stage
from previz.errors import RequestError
from previz.exposure.camera import expose, settings_of
from previz.exposure.comparing.haze import Regions, darkest, face_regions, measured
from previz.exposure.comparing.measures import most_of
from previz.exposure.denoise import denoise
from previz.exposure.viewing import seen_8bit
from previz.frames import Frames
from previz.frames.archives import read_archive, write_archive
from previz.physics.haze import RANGE_CONTRAST, beam_transmission, droplet_mass, visibility
from previz.physics.safety import Caution
from previz.rendering.cache.owned import mark
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.scene import Scene
from previz.sight.subjects import projected, subject_of
from previz.stage.build import build_stage
from previz.stage.fingerprint import frame_hash, light_path_hash
from previz.stage.heads import FACE_RADIUS
from previz.stage.records import Camera, Haze, Stage
from previz.studies.measures import foreground_of
from previz.studies.result import Result, Row, row
from previz.studies.rows import camera_rows, caution_rows, level_row, note_of
from previz.studies.selection import no_camera, select, select_one

LEAST_PASSES = 4
"""A picture is taken in so many passes at least: their spread is its noise."""


@dataclass(frozen=True, eq=False)
class HazeLadder(Result):
    """A scene at several densities of its haze.

    Rows are of a density ('½ ×'). Levels are of the picture as rendered, with their standard errors;
    that of the veil is not gathered.
    """

    study: ClassVar[str] = "haze"
    axes: ClassVar[tuple[str, ...]] = ("option", "camera", "figure", "haze", "background")

    ladder: Ladder

    @property
    def title(self) -> str:
        """Title of the scene."""
        return self.ladder.title

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Of the scene, at its own density."""
        return self.ladder.cautions

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF."""
        return write_ladder(Path(path), self.ladder,
                            self._words(f"Haze ladder, camera {self.ladder.camera}."))

    def _rows(self) -> list[Row]:
        of = {"option": self.ladder.option, "camera": self.ladder.camera}
        rows = camera_rows(self.ladder.settings, **of)
        for step in self.ladder.steps:
            rows += self._of_step(step, {**of, "haze": step.name})
        return rows + caution_rows(self.ladder.cautions, **of)

    def _of_step(self, step: Step, of: dict[str, str]) -> Iterator[Row]:
        rung, whose = step.rung, {"figure": self.ladder.face}
        yield row("haze_factor", step.factor, **of)
        yield row("haze_density", step.density, **of)
        if step.density:
            yield row("haze_visibility", visibility(step.density, RANGE_CONTRAST), **of)
        yield row("lost_in_10_m", np.log2(beam_transmission(step.density, 10.0)), **of)
        if rung.face is not None:
            yield row("face_level", rung.face, rung.face_error, note=note_of(rung.face), **whose, **of)
        if rung.behind is not None:
            yield row("behind_face_level", rung.behind, rung.behind_error, note=note_of(rung.behind),
                      background=self.ladder.background, **whose, **of)
        if rung.contrast is not None:
            yield row("face_contrast", rung.contrast, rung.contrast_error,
                      background=self.ladder.background, **whose, **of)
        yield row("blacks_level", rung.blacks, rung.blacks_error, note=note_of(rung.blacks), **of)
        yield level_row("veil_over_blacks", rung.veil, **of)
        least, most = droplet_mass(step.density)
        yield row("droplets_least", least, **of)
        yield row("droplets_most", most, **of)
        yield row("picture_from", "own render" if step.anew else "one render", **of)


def haze(scene: Scene, request: Request, *, factors: Sequence[float] = (0.0, 0.5, 1.0, 2.0),
         camera: str = "", figure: str = "", progress: Progress | None = None) -> HazeLadder:
    """Render a scene at several densities of its haze and measure each.

    Parameters
    ----------
    scene : Scene
        One option of a scene.
    factors : sequence of float
        Times the scene's own density, thinnest first. [1]
    camera : str
        '' for the first.
    figure : str
        The face that contrast is read on; '' for the one that the camera is on.

    Raises
    ------
    RequestError
        The scene has no haze, no camera, or not what is named.
    """
    progress = progress or Progress()
    progress.show(SETTING_UP)
    if figure:
        select((figure,), [each.name for each in scene.figures], "figure")
    if scene.haze is None:
        raise RequestError("The scene has no haze to make thinner or thicker; add for example "
                           "'haze: {level: light}'.")
    stage = build_stage(scene)
    cameras = {each.name: each for each in stage.cameras}
    if not cameras:
        raise no_camera()
    chosen = cameras[select_one(camera, cameras, "camera")]
    pictures, planes, anew = _pictures(stage, chosen, request, tuple(factors), progress)
    with progress.lasting("each density, denoised and measured"):
        return HazeLadder(_measured(scene, stage, chosen, figure, pictures, planes, anew))


def _pictures(stage: Stage, camera: Camera, request: Request, factors: tuple[float, ...],
              progress: Progress) -> tuple[list[HazePicture], dict[str, np.ndarray], list[float]]:
    """Return (picture of each density, planes, factors that were rendered anew)."""
    air = _air(stage)
    shared = sorted({1.0, *(k for k in factors if k <= MOST_TIMES)})
    with progress.running(1 + sum(k > MOST_TIMES for k in factors)):
        found, planes = _rendered(stage, camera, request, tuple(shared), progress)
        serves = dict(zip(shared, from_one_render(found), strict=True))
        made = {p.factor: p for p in found if serves[p.factor]}
        anew = [k for k in factors if k not in made]
        progress.total = 1 + len(anew)
        for factor in anew:
            # Without haze there is nothing to weigh: the thinnest there is stands for none.
            density = air.density * factor if factor else 1e-9
            other = replace(stage, haze=replace(air, density=density))
            picture, = _rendered(other, camera, request, (1.0,), progress)[0]
            made[factor] = replace(picture, factor=factor)
    for line in _from_where(factors, serves):
        progress.say(line)
    return [made[k] for k in factors], planes, anew


def _air(stage: Stage) -> Haze:
    """Return the haze of a stage that has some."""
    if stage.haze is None:
        raise ValueError("the stage has no haze")
    return stage.haze


def factor_text(factor: float) -> str:
    """Return a factor as a person would write it: 'none', '½ ×', '2 ×'."""
    return {0.0: "none", 0.25: "¼ ×", 0.5: "½ ×", 1.5: "1½ ×"}.get(factor, f"{factor:g} ×")


def _from_where(factors: Sequence[float], serves: Mapping[float, bool]) -> Iterator[str]:
    """Yield which densities came from one render and which were rendered anew, and why."""
    one = [factor_text(k) for k in factors if serves.get(k, False)]
    if one:
        yield (f"From one render: {', '.join(one)}. Every path was weighed anew for each density, "
               "which is exact.")
    far = [factor_text(k) for k in factors if k not in serves]
    if far:
        yield (f"Rendered anew: {', '.join(far)}. More than {MOST_TIMES:g} × the density rendered, "
               "too few of its paths scatter as often as they should.")
    noisy = [factor_text(k) for k in factors if k in serves and not serves[k]]
    if noisy:
        yield (f"Rendered anew: {', '.join(noisy)}. From the one render it would be more than "
               f"{MOST_NOISE:g} × as noisy: too few of its paths are likely at that density.")


def _rendered(stage: Stage, camera: Camera, request: Request, factors: tuple[float, ...],
              progress: Progress) -> tuple[list[HazePicture], dict[str, np.ndarray]]:
    """Return (pictures, planes) of one render, going on from what is in the cache."""
    width, height = request.pixels(camera.aspect)
    sampling = request.sampling(LEAST_PASSES)
    job = DensityJob(open_stage(stage, request.bands, request.backend), stage, camera, width, height,
                     sampling, factors)
    file = request.cache / f"haze-{sums_hash(stage, camera, request, factors, job.weights)}.npz"
    saved = read_archive(file, "previz_haze")
    if saved is not None:
        # Sums of another picture are none of this one's.
        with contextlib.suppress(KeyError, TypeError, ValueError):
            job.restore(saved[0])
        progress.skip(job.done / sampling.passes)
    label = "the haze's densities" if len(factors) > 1 else "another density"
    progress.show(label)
    mark(request.cache)
    while not job.finished:
        job.step()
        write_archive(file, "previz_haze", job.state())
        progress.add(1 / sampling.passes, label)
    return job.pictures(), job.planes()


def sums_hash(stage: Stage, camera: Camera, request: Request, factors: tuple[float, ...],
              weights: np.ndarray) -> str:
    """Return the fingerprint of the sums of some densities, lamps mixed by their weights."""
    sampling = request.sampling(LEAST_PASSES)
    return frame_hash(light_path_hash(stage), camera, "densities", *request.pixels(camera.aspect),
                      sampling.samples, sampling.passes, sampling.seed, request.bands, list(factors), weights,
                      __version__)


def _measured(scene: Scene, stage: Stage, camera: Camera, figure: str, pictures: list[HazePicture],
              planes: dict[str, np.ndarray], anew: list[float]) -> Ladder:
    settings = settings_of(camera)
    frames = _frames(pictures[0], planes, stage)
    # The air shows no surface: guided by what is behind it, it would take on its texture.
    bare = replace(frames, albedo=np.ones_like(frames.albedo), normal=np.zeros_like(frames.normal))
    stills, airs = [], []
    for picture in pictures:
        cleaned = denoise(expose(picture.xyz, settings), frames)
        stills.append(cleaned.picture)
        airs.append(seen_8bit(denoise(expose(picture.air, settings), bare).picture, settings))
    seen = figure or subject_of(stage, camera, frames)
    face, behind = _face(stage, camera, frames, seen)
    density = _air(stage).density
    thinnest = min(range(len(pictures)), key=lambda k: pictures[k].factor)
    regions = Regions(face, behind, darkest(stills[thinnest].mean(axis=0)))
    steps = tuple(
        Step(picture.factor, factor_text(picture.factor), density * picture.factor,
             picture.factor in anew, seen_8bit(still, settings), air,
             measured(picture.xyz, picture.air, picture.error, regions, settings))
        for picture, still, air in zip(pictures, stills, airs, strict=True))
    whose = seen if seen is not None and face is not None else ""
    return Ladder(scene.title, scene.option or "", camera.name, whose, settings, steps, stage.reminders,
                  _most_of(frames, behind))


def _frames(picture: HazePicture, planes: Mapping[str, Any], stage: Stage) -> Frames:
    """Return frames that hold the planes alone, for the denoiser and to find things by."""
    rows, columns = picture.error.shape
    names = tuple(dict.fromkeys([m.name for m in stage.meshes] + [e.name for e in stage.emitters]))
    return Frames(slices=np.zeros((1, 1, rows, columns), np.float32),
                  variance=np.zeros((1, rows, columns), np.float32), lights=("mixed",),
                  names=names, band_edges_nm=np.array([380.0, 780.0]), samples=1, seed=0,
                  camera={}, transport_hash="", version=__version__, **planes)


def _face(stage: Stage, camera: Camera, frames: Frames,
          figure: str | None) -> tuple[np.ndarray | None, np.ndarray | None]:
    """Return the pixels of a face and of what is behind it; (None, None) without one."""
    if figure is None or f"{figure}.face" not in stage.places or figure not in frames.names:
        return None, None
    x, y, depth = projected(camera, stage.places[f"{figure}.face"])
    if not np.isfinite(x):
        return None, None
    rows, columns = frames.shape
    radius = FACE_RADIUS / (depth * camera.tan_half[0]) * columns / 2
    foreground = foreground_of(stage)
    return face_regions(frames.names_index, frames.names.index(figure), frames.depth,
                        ((x + 1) / 2 * columns, (1 - y) / 2 * rows), radius,
                        [i for i, name in enumerate(frames.names) if name in foreground])


def _most_of(frames: Frames, region: np.ndarray | None) -> str:
    """Return what most of a region shows; '' for no region."""
    return "" if region is None else most_of(np.asarray(frames.names_index)[region], frames.names)
