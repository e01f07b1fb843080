"""One run of a comparison: every option by every camera, rendered only where something changed."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from previz.cli.progress import TerminalProgress
from previz.deliver.compare_sheet import Comparison, Shown, write_comparison
from previz.deliver.map import exposure_map
from previz.deliver.scopes import write_scopes
from previz.deliver.stems import stems_of, unique_stems
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.exposure.comparing.difference import difference, difference_index
from previz.exposure.comparing.pictures import pictured
from previz.exposure.falsecolour import stop_bands
from previz.rendering.job import StageJob
from previz.rendering.request import QUALITIES, Order, size_for
from previz.sight.coverage import coverage
from previz.sight.face_view import with_order
from previz.sight.rig_bodies import bodies_of
from previz.sight.rig_seen import rig_in
from previz.sight.subjects import subject_of
from previz.stage.build import build_stage
from previz.stage.cautions import together
from previz.stage.fingerprint import digest_of
from previz.studies.measures import OptionMeters, draws_of, measure_shot
from previz.studies.selection import select

DENOISING = {"draft": "fast", "working": "fast", "fine": "high"}
"""Quality of the denoiser by that of the pictures: on a sheet they are shown small."""

METER_SHARE = 0.3
"""About how much of the work of one picture the meters and views of its option are. [1]"""


@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz compare --help`.

    Parameters
    ----------
    options, cameras : sequence of str
        Those to compare.
    size, quality, samples, seed, bands, backend
        As of `previz render`.
    cache : Path
        Folder of finished frames.
    base : str
        Option that the others are held against; '' for the first.
    subjects : dict of str to str
        Camera to the figure it is on, where that is not left to the program.
    spill : str
        Surface that spill is told of; '' for what is behind the subject.
    key_lamps : tuple of str
        Lamps that make the key; the strongest at the lit cheek if none is named.
    volts : float
        [V]
    """

    options: tuple[str, ...]
    cameras: tuple[str, ...]
    size: tuple
    quality: str
    cache: Path
    samples: int | None = None
    seed: int = 1
    bands: int = 12
    backend: str = "auto"
    base: str = ""
    subjects: dict = field(default_factory=dict)
    spill: str = ""
    key_lamps: tuple[str, ...] = ()
    volts: float = 230.0

    def order(self, width: int, height: int) -> Order:
        """Return the engine's order for one picture."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        return Order(width, height, Sampling(samples, passes, self.seed), self.bands,
                     self.backend, self.cache)

    def scaled(self, aspect: float) -> tuple[int, int]:
        """Return the size that is rendered of a camera's picture. [px]"""
        scale = QUALITIES[self.quality].scale
        return tuple(max(16, round(n * scale)) for n in size_for(self.size, aspect))


@dataclass(frozen=True, eq=False)
class Cell:
    """One option by one camera.

    Parameters
    ----------
    measures : comparing.measures.ShotMeasures
        Its numbers.
    picture : comparing_pictures.Pictured
        The frame, developed.
    frames : Frames
        Of that camera.
    coverage : comparing_coverage.Coverage
        What stands in the frame.
    framing : str
        Fingerprint of where the camera stands, looks and how wide. Pictures of another framing
        have no difference, pixel by pixel.
    """

    measures: object
    picture: object
    frames: object
    coverage: object
    framing: str = ""


@dataclass(frozen=True, eq=False)
class Compared:
    """All of a comparison.

    Parameters
    ----------
    title : str
        Of the scene.
    options, cameras : tuple of str
        In the order to show them; the base is the first option.
    cells : dict of (option, camera) to Cell
        Every picture with its numbers.
    effects : dict of option to dict of figure to tuple of LampOnFace
        What each lamp does to each face.
    cautions : tuple of str
        That the scenes call for.
    rendered, reused : int
        Pictures.
    stems : dict
        See `stems.stems_of`; where it is empty, files are named by what is compared alone.
    """

    title: str
    options: tuple[str, ...]
    cameras: tuple[str, ...]
    cells: dict
    effects: dict
    cautions: tuple[str, ...]
    rendered: int
    reused: int
    stems: dict = field(default_factory=dict)


def compare(file, wanted: Wanted, tell: Callable[[str], None]) -> Compared:
    """Render and measure what is asked.

    Parameters
    ----------
    file : scene.read.SceneFile
        The scene with its options.
    wanted : Wanted
        What was asked for.
    tell : function
        Called with a line about each picture: rendered, or why not.
    """
    scenes = {name: file.scene(name or None) for name in _ordered(wanted)}
    run, stages = _Run(wanted, tell), {}
    cells, effects = {}, {}
    try:
        # Every option is built before anything is rendered, so that a bad mesh costs no time.
        for name, scene in scenes.items():
            stages[name] = build_stage(scene)
            run.develop_early(name, stages[name])
        cameras = _checked(stages, wanted)
        run.progress = TerminalProgress().start(sum(len(cameras) + METER_SHARE for _ in stages))
        for option, stage in stages.items():
            measures, frames = run.option(option, stage, cameras,
                                          draws_of(scenes[option], stage))
            bodies = bodies_of(scenes[option], stage)
            for camera, seen, picture in frames:
                cells[option, camera.name] = run.cell(measures, option, camera, seen, picture,
                                                      bodies)
            figures = dict.fromkeys(cells[option, c.name].coverage.subject for c, *_ in frames)
            effects[option] = {name: measures.lamps_on(name) for name in figures if name}
    finally:
        run.progress.end()
        run.close()
    base = next(iter(stages.values()))
    return Compared(base.title, tuple(stages), tuple(cameras), cells, effects,
                    together(line for s in stages.values() for line in s.cautions),
                    run.rendered, run.reused, stems_of(file))


def deliver(compared: Compared, folder: Path, software: str, *, scopes: bool) -> list[Path]:
    """Write a comparison's files.

    Parameters
    ----------
    compared : Compared
        All of the comparison.
    folder : Path
        Where they go.
    software : str
        What made them, for the files' own words.
    scopes : bool
        True to write each still beside its scopes as well.

    Returns
    -------
    list of Path
    """
    shown, bands = {}, stop_bands()
    for (option, camera), cell in compared.cells.items():
        base = compared.cells.get((compared.options[0], camera))
        index = None
        if base is not None and base is not cell and cell.framing == base.framing and (
                base.picture.signal.shape == cell.picture.signal.shape):
            index = difference_index(difference(cell.picture.signal, base.picture.signal))
        things = cell.frames.names_index
        shown[option, camera] = Shown(cell.measures, cell.picture.still,
                                      exposure_map(cell.picture.signal, bands, things), index,
                                      things, cell.coverage)
    comparison = Comparison(compared.title, compared.options, compared.cameras, shown,
                            compared.effects, compared.cautions)
    words = {"Title": compared.title, "Software": software,
             "Description": "Options side by side."}
    written = write_comparison(folder / "compare", comparison, words)
    if scopes:
        stems = compared.stems or dict(zip(compared.cells, unique_stems(compared.cells),
                                           strict=True))
        for (option, camera), cell in compared.cells.items():
            path = folder / f"{stems[option, camera]}-scopes.png"
            write_scopes(path, cell.picture, cell.measures.settings, title=compared.title,
                         subject=_label(option, f"camera {camera}"), words=words)
            written.append(path)
    return written


def _ordered(wanted: Wanted) -> list[str]:
    """Return the options with the base first."""
    base = wanted.base or wanted.options[0]
    return [base, *(name for name in wanted.options if name != base)]


def _checked(stages, wanted: Wanted) -> list[str]:
    """Return the cameras; refuse names that the scene does not have before anything is rendered."""
    cameras = list(dict.fromkeys(c.name for s in stages.values() for c in s.cameras))
    if not cameras:
        raise RequestError("The scene has no camera; add one under 'cameras:'.")
    lamps = dict.fromkeys(lamp.name for s in stages.values() for lamp in s.lamps)
    select(wanted.key_lamps, list(lamps), "lamp")
    things = dict.fromkeys(m.name for s in stages.values() for m in s.meshes)
    select((wanted.spill,) if wanted.spill else (), list(things), "thing")
    select(wanted.subjects, cameras, "camera")
    figures = dict.fromkeys(p.name.partition(": ")[0] for s in stages.values() for p in s.probes
                            if p.name.endswith(": left cheek"))
    select(wanted.subjects.values(), list(figures), "figure")
    return select(wanted.cameras, cameras, "camera")


class _Run:
    def __init__(self, wanted: Wanted, tell):
        self.wanted, self.tell = wanted, tell
        self.progress = TerminalProgress().start(1.0)
        self.early = {}
        self.rendered = self.reused = 0
        self.folders, self.spill, self.views, self.last = {}, {}, {}, None
        self.reading, self.developing = ThreadPoolExecutor(1), ThreadPoolExecutor(1)
        self.jobs, self.reads = {}, {}

    def develop_early(self, option: str, stage) -> None:
        """Develop what is in the cache while other options are still being built."""
        # One fingerprint of the stage serves all of its cameras, here and later.
        self.jobs[option] = job = StageJob(stage, self.wanted.order(16, 9))
        for camera in stage.cameras:
            if not self.wanted.cameras or camera.name in self.wanted.cameras:
                own = with_order(job, self.wanted.order(*self.wanted.scaled(camera.aspect)))
                folder = own.frame_folder(camera)
                # Options that differ in levels share their frames: they are read once.
                if folder not in self.reads:
                    self.reads[folder] = self.reading.submit(own.cached, camera)
                read = self.reads[folder]
                self.early[option, camera.name] = read, self.developing.submit(
                    self._early, stage, camera, read)

    def _early(self, stage, camera, read):
        """Return a picture, or None where its frames are not in the cache."""
        frames = read.result()
        return None if frames is None else self._pictured(stage, camera, frames)

    def _pictured(self, stage, camera, frames, early=None):
        found = None if early is None else early.result()
        if found is None:
            found = pictured(frames, stage.lamps, settings_of(camera),
                             DENOISING[self.wanted.quality])
        return found

    def option(self, option: str, stage, cameras, draws):
        """Return the measures of one option, and (camera, frames, picture to come) of each camera.

        Pictures are developed beside the work on the meters.
        """
        precision = QUALITIES[self.wanted.quality].precision
        previous, frames = self.last, []
        job = self.jobs.pop(option)
        for camera in (c for c in stage.cameras if c.name in cameras):
            job = with_order(job, self.wanted.order(*self.wanted.scaled(camera.aspect)))
            if previous is not None and previous.paths == job.paths:
                job.share(previous)
            read, early = self.early.pop((option, camera.name))
            seen = self._frames(job, option, camera, read.result())
            frames.append((camera, seen, self.developing.submit(
                self._pictured, stage, camera, seen, early)))
            previous = job
        self._keep(job)
        self.progress.show(_label(option, "meters at the faces"))
        return OptionMeters(job, precision, draws, self.views, key_lamps=self.wanted.key_lamps,
                            volts=self.wanted.volts), frames

    def close(self) -> None:
        """Free the device, and let no picture be developed that nobody waits for."""
        for each in (self.reading, self.developing):
            each.shutdown(wait=True, cancel_futures=True)
        if self.last is not None:
            self.last.close()

    def _keep(self, job: StageJob) -> None:
        """Keep the device's copy of a stage for an option with the same ways of light."""
        if self.last is not None and self.last.paths != job.paths:
            self.last.close()
        self.last = job

    def _frames(self, job: StageJob, option: str, camera, kept):
        """Return a camera's frames: those kept, or what another option has put there since."""
        label = _label(option, f"camera {camera.name}")
        folder = job.frame_folder(camera)
        frames = kept if kept is not None else job.cached(camera)
        if frames is not None:
            self.reused += 1
            self.progress.skip(1.0)
            same = self.folders.get(folder)
            self.tell(f"{label}: {_why(same, option)}")
            return frames
        passes, last, began = job.order.sampling.passes, 0, time.monotonic()

        def told(done: int, found: int) -> None:
            nonlocal last
            self.progress.add((done - last) / passes, label)
            last = done

        frames = job.render(camera, told)
        self.rendered += 1
        self.folders[folder] = option
        self.tell(f"{label}: rendered in {time.monotonic() - began:.1f} s")
        return frames

    def cell(self, measures: OptionMeters, option: str, camera, frames, developing, bodies) -> Cell:
        """Return one option by one camera, measured."""
        stage = measures.stage
        subject = self.wanted.subjects.get(camera.name) or subject_of(stage, camera, frames)
        spill = self.wanted.spill or self.spill.get(camera.name, "")
        self.progress.show(_label(option, f"camera {camera.name}, measuring"))
        seen = measure_shot(measures, option, camera, frames, developing.result, subject, spill)
        if seen.spill is not None:
            # The base says which surface; the others are told of the same.
            self.spill.setdefault(camera.name, seen.spill.name)
        self.progress.add(METER_SHARE / max(1, len(stage.cameras)), _label(option, camera.name))
        return Cell(seen, developing.result(), frames,
                    coverage(stage, option, camera, frames, subject,
                             rig_in(measures.job, camera, bodies)),
                    digest_of(camera.position, camera.world_from_camera, camera.tan_half,
                              camera.aspect))


def _why(same: str | None, option: str) -> str:
    if same is None:
        return "taken from the cache, nothing rendered"
    return (f"nothing rendered, it differs from '{same}' in levels, colours or camera settings "
            "only")


def _label(option: str, what: str) -> str:
    return f"{option}, {what}" if option else what
