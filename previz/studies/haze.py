"""One scene at several densities of its haze: one render where it serves, others where not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from zipfile import BadZipFile

import numpy as np

from previz import __version__
from previz.cli.progress import TerminalProgress
from previz.deliver.haze_sheet import Ladder, Step
from previz.engine.densities import MOST_NOISE, MOST_TIMES, DensityJob, from_one_render
from previz.engine.render import Sampling, open_stage
from previz.errors import RequestError
from previz.exposure.camera import expose, settings_of
from previz.exposure.comparing.haze import Regions, darkest, face_regions, measured
from previz.exposure.comparing.measures import thing_name
from previz.exposure.denoise import denoise
from previz.exposure.display import show_8bit
from previz.frames import Frames, whole_file
from previz.rendering.request import QUALITIES, size_for
from previz.sight.subjects import projected, subject_of
from previz.stage.build import build_stage
from previz.stage.fingerprint import frame_hash, light_path_hash
from previz.studies.measures import foreground_of
from previz.studies.selection import select

HEAD_RADIUS = 0.1
"""About from the middle of a face to its edge. [m]  Source: half the length of a face from chin
to crown, ANSUR II (from memory)."""


@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz haze --help`."""

    factors: tuple[float, ...]
    camera: str
    face: str
    size: tuple
    quality: str
    samples: int | None
    seed: int
    bands: int
    backend: str
    cache: Path

    def sampling(self) -> Sampling:
        """Return the work a picture gets."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, max(quality.passes, 4) + 1) if samples % p == 0)
        return Sampling(samples, passes, self.seed)


def ladder(scene, wanted: Wanted, tell) -> Ladder:
    """Render a scene at several densities and measure each.

    Parameters
    ----------
    scene : scene.scene.Scene
        One option of a scene.
    wanted : Wanted
        What was asked for.
    tell : function
        Called with a line that says which densities came from one render, and which did not.
    """
    if scene.haze is None:
        raise RequestError("The scene has no haze to make thinner or thicker; add for example "
                               "'haze: {level: light}'.")
    stage = build_stage(scene)
    cameras = {camera.name: camera for camera in stage.cameras}
    if not cameras:
        raise RequestError("The scene has no camera; add one under 'cameras:'.")
    name = select((wanted.camera,) if wanted.camera else (), cameras, "camera")[0]
    pictures, planes, anew = _pictures(stage, cameras[name], wanted, tell)
    return _measured(scene, stage, cameras[name], wanted, pictures, planes, anew)


def _pictures(stage, camera, wanted: Wanted, tell):
    """Return (picture of each density, planes, factors that were rendered anew)."""
    shared = sorted({1.0, *(k for k in wanted.factors if k <= MOST_TIMES)})
    progress = TerminalProgress().start(1 + sum(k > MOST_TIMES for k in wanted.factors))
    try:
        found, planes = _rendered(stage, camera, wanted, tuple(shared), progress)
        serves = dict(zip(shared, from_one_render(found), strict=True))
        made = {p.factor: p for p in found if serves[p.factor]}
        anew = [k for k in wanted.factors if k not in made]
        progress.total = 1 + len(anew)
        for factor in anew:
            haze = None if factor == 0 else replace(stage.haze, density=stage.haze.density * factor)
            # Without haze there is nothing to weigh: the thinnest there is stands for none.
            haze = haze or replace(stage.haze, density=1e-9)
            picture, = _rendered(replace(stage, haze=haze), camera, wanted, (1.0,), progress)[0]
            made[factor] = replace(picture, factor=factor)
    finally:
        progress.end()
    for line in _told(wanted.factors, serves):
        tell(line)
    return [made[k] for k in wanted.factors], planes, anew


def factor_text(factor: float) -> str:
    """Return a factor as a person would write it: '0', '½ ×', '2 ×'."""
    return {0.0: "none", 0.25: "¼ ×", 0.5: "½ ×", 1.5: "1½ ×"}.get(factor, f"{factor:g} ×")


def _told(factors, serves: dict[float, bool]):
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


def _rendered(stage, camera, wanted: Wanted, factors, progress):
    """Return (pictures, planes) of one render, going on from what is in the cache."""
    width, height = size_for(wanted.size, camera.aspect)
    sampling = wanted.sampling()
    job = DensityJob(open_stage(stage, wanted.bands, wanted.backend), stage, camera, width, height,
                     sampling, factors)
    key = frame_hash(light_path_hash(stage), camera, "densities", width, height, sampling.samples,
                     sampling.passes, sampling.seed, wanted.bands, list(factors), job.weights,
                     __version__)
    file = wanted.cache / f"haze-{key}.npz"
    saved = _saved(file)
    if saved is not None:
        job.restore(saved)
        progress.skip(job.done / sampling.passes)
    label = "the haze's densities" if len(factors) > 1 else "another density"
    progress.show(label)
    while not job.finished:
        job.step()
        progress.add(1 / sampling.passes, label)
        with whole_file(file) as part, part.open("wb") as out:
            np.savez(out, **job.state())
    return job.pictures(), job.planes()


def _saved(file: Path):
    """Return what a run before has summed, or None."""
    try:
        with np.load(file) as found:
            return dict(found)
    except (OSError, ValueError, EOFError, KeyError, BadZipFile):
        return None


def _measured(scene, stage, camera, wanted, pictures, planes, anew) -> Ladder:
    settings = settings_of(camera)
    frames = _frames(pictures[0], planes, stage)
    # The air shows no surface: guided by what is behind it, it would take on its texture.
    bare = replace(frames, albedo=np.ones_like(frames.albedo), normal=np.zeros_like(frames.normal))
    stills, airs = [], []
    for picture in pictures:
        cleaned = denoise(expose(picture.xyz, settings), frames)
        stills.append(cleaned.picture)
        airs.append(show_8bit(denoise(expose(picture.air, settings), bare).picture))
    figure = wanted.face or subject_of(stage, camera, frames)
    face, behind = _face(stage, camera, frames, figure)
    thinnest = min(range(len(pictures)), key=lambda k: pictures[k].factor)
    regions = Regions(face, behind, darkest(stills[thinnest].mean(axis=0)))
    steps = tuple(
        Step(picture.factor, factor_text(picture.factor), stage.haze.density * picture.factor,
             picture.factor in anew, show_8bit(still), air,
             measured(picture.xyz, picture.air, picture.error, regions, settings))
        for picture, still, air in zip(pictures, stills, airs, strict=True))
    return Ladder(scene.title, scene.option or "", camera.name, figure if face is not None else "",
                  settings, steps, stage.haze.g, tuple(stage.cautions), _most_of(frames, behind))


def _frames(picture, planes, stage) -> Frames:
    """Return frames that hold the planes alone, for the denoiser and to find things by."""
    rows, columns = picture.error.shape
    names = tuple(dict.fromkeys([m.name for m in stage.meshes] + [e.name for e in stage.emitters]))
    return Frames(slices=np.zeros((1, 1, rows, columns), np.float32),
                  variance=np.zeros((1, rows, columns), np.float32), lights=("mixed",),
                  names=names, band_edges_nm=np.array([380.0, 780.0]), samples=1, seed=0,
                  camera={}, transport_hash="", version=__version__, **planes)


def _face(stage, camera, frames, figure):
    """Return the pixels of a face and of what is behind it; (None, None) without one."""
    if figure is None or f"{figure}.face" not in stage.places or figure not in frames.names:
        return None, None
    x, y, depth = projected(camera, stage.places[f"{figure}.face"])
    if not np.isfinite(x):
        return None, None
    rows, columns = frames.shape
    radius = HEAD_RADIUS / (depth * camera.tan_half[0]) * columns / 2
    foreground = foreground_of(stage)
    return face_regions(frames.names_index, frames.names.index(figure), frames.depth,
                        ((x + 1) / 2 * columns, (1 - y) / 2 * rows), radius,
                        [i for i, name in enumerate(frames.names) if name in foreground])


def _most_of(frames, region) -> str:
    """Return what most of a region shows; '' for no region."""
    if region is None:
        return ""
    values, counts = np.unique(np.asarray(frames.names_index)[region], return_counts=True)
    return thing_name(frames.names, int(values[np.argmax(counts)]))
