"""One run of `previz render`: stages, frames and meters in, delivered files out."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, fields, replace
from functools import partial
from pathlib import Path

import click
import numpy as np

from previz import __version__
from previz.cli.progress import TerminalProgress
from previz.cli.refinement import refinement_for
from previz.deliver.atomic import DeliveryError
from previz.deliver.exr import write_exr
from previz.deliver.face_values import face_values, note_of, plain
from previz.deliver.index import (
    INDEX_NAME,
    Entry,
    Index,
    file_entry,
    read_index,
    write_index,
)
from previz.deliver.map import exposure_map, write_map
from previz.deliver.rig_sheet import rig_text, write_rig
from previz.deliver.scopes import write_scopes
from previz.deliver.sheet import SheetOption, write_sheet
from previz.deliver.stems import stems_of
from previz.deliver.still import write_still
from previz.deliver.wording import settings_text
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure import metering
from previz.exposure.comparing.coverage import IN_FRAME
from previz.exposure.faces import cheeks_of, faces_in
from previz.exposure.picture import develop
from previz.exposure.trust import ON_FEW, not_reached
from previz.physics.exposure import DOME_CONSTANT, INCIDENT_CONSTANT, CameraSettings
from previz.rendering.job import METER_SECONDS, StageJob
from previz.rendering.request import QUALITIES, Order, size_for
from previz.sight.rig_bodies import bodies_of
from previz.sight.rig_seen import rig_in
from previz.sight.subjects import subject_of
from previz.stage.build import BACK_WALL, build_stage
from previz.stage.colours import stage_colours
from previz.stage.views import DOME
from previz.studies.selection import select

PROBE_SHARE = 0.08
"""About how much of the work of one option its meters are, for the time left. [1]"""


@dataclass(frozen=True)
class Asked:
    """What the command line asked for; see `previz render --help`."""

    scene: Path
    options: list[str]
    cameras: tuple[str, ...]
    size: tuple
    quality: str
    samples: int | None
    seed: int
    bands: int
    exr: bool
    out: Path
    backend: str
    mark_rig: bool = False
    explain: bool = False
    exact: bool = False
    noise: float | None = None
    seconds: float | None = None
    scopes: bool = False

    def order(self, width: int, height: int) -> Order:
        """Return the engine's order for one picture."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        return Order(width, height, Sampling(samples, passes, self.seed), self.bands,
                     self.backend, self.out / "frames", self.exact)


@dataclass(frozen=True)
class Shot:
    """One option seen by one camera, rendered and metered."""

    option: str
    camera: object
    stage: object
    frames: object
    meters: dict
    settings: CameraSettings
    developed: object
    rig: tuple = ()
    short: tuple = ()


def run(file, asked: Asked) -> list[Path]:
    """Render what is asked and deliver it.

    Parameters
    ----------
    file : scene.read.SceneFile
    asked : Asked

    Returns
    -------
    list of Path
        Every file written, the sheets first.
    """
    # Every option is built before anything is rendered, so that a bad mesh costs no time.
    scenes = {name: file.scene(name or None) for name in asked.options}
    stages = {name: build_stage(scene) for name, scene in scenes.items()}
    names = list(dict.fromkeys(c.name for s in stages.values() for c in s.cameras))
    if not names:
        raise RequestError("The scene has no camera; add one under 'cameras:'.")
    wanted = select(asked.cameras, names, "camera")
    bodies = {name: bodies_of(scenes[name], stage) for name, stage in stages.items()}
    stems = stems_of(file)
    shots = _render_all(stages, bodies, wanted, asked, stems)
    return _deliver(file, shots, asked, stems)


def _render_all(stages, bodies, wanted, asked: Asked, stems) -> list[Shot]:
    quality = QUALITIES[asked.quality]
    plan = [(name, stage, [c for c in stage.cameras if c.name in wanted])
            for name, stage in stages.items()]
    progress = TerminalProgress().start(sum(len(cameras) + PROBE_SHARE for _, _, cameras in plan))
    refinement = refinement_for(asked, plan, stems)
    shots = []
    try:
        for name, stage, cameras in plan:
            job = None
            for camera in cameras:
                width, height = size_for(asked.size, camera.aspect)
                scaled = (max(16, round(width * quality.scale)),
                          max(16, round(height * quality.scale)))
                previous, job = job, StageJob(stage, asked.order(*scaled))
                if previous is not None:
                    job.share(previous)
                if asked.explain:
                    _explain(job, camera, name)
                if refinement is not None:
                    frames = refinement.frames(job, camera, name, progress)
                else:
                    frames = job.frames(camera, progress, _label(name, f"camera {camera.name}"))
                developed = _show(asked, stems, name, camera, stage, frames)
                shots.append((name, camera, stage, frames, developed))
            meters, short, rig = {}, (), {}
            if job is not None:
                progress.show(_label(name, "what of the rig is in the picture"))
                rig = {camera.name: rig_in(job, camera, bodies[name]) for camera in cameras}
                progress.show(_label(name, "meters"))
                seconds = None if refinement is None else refinement.meter_seconds()
                gathered, reached, short = job.meters(
                    quality.precision, seconds=METER_SECONDS if seconds is None else seconds,
                    explain=partial(_explain_meters, name) if asked.explain else None)
                meters = _mixed(gathered, stage)
                progress.add(PROBE_SHARE, _label(name, "meters"))
                if not reached:
                    click.echo(f"{_label(name, 'meters')}: {quality.precision:.1%} was not "
                               "reached; the readings say their own error.", err=True)
                    for each in short:
                        if each.few:
                            click.echo(f"  '{each.name}' {not_reached(each)}.", err=True)
                    if any(each.few for each in short):
                        click.echo(f"  {ON_FEW}", err=True)
                job.close()
            shots = [each if isinstance(each, Shot) else Shot(
                *each[:4], meters, _settings(each[1]), each[4], rig[each[1].name], short)
                for each in shots]
    finally:
        progress.end()
    return shots


def _show(asked: Asked, stems, option: str, camera, stage, frames):
    """Write a still as soon as its frames are there, so that there is a picture to look at.

    Returns the frame developed.
    """
    developed = develop(frames, stage.lamps, _settings(camera))
    asked.out.mkdir(parents=True, exist_ok=True)
    write_still(asked.out / f"{stems[option, camera.name]}.png", developed.still,
                _words(stage, asked, option, camera))
    return developed


def _words(stage, asked: Asked, option: str, camera) -> dict[str, str]:
    """Return what a picture says of itself."""
    return {"Title": stage.title or asked.scene.stem, "Software": f"previz {__version__}",
            "Description": f"{_subject(option, camera)}. {settings_text(_settings(camera))}"}


def _subject(option: str, camera) -> str:
    return f"Camera {camera.name}" + (f", {option}" if option else "")


def _explain(job: StageJob, camera, option: str) -> None:
    """Say of each lamp whether it is used again, and why."""
    words = {"cached": "used again", "reused": "used again", "partial": "gone on with",
             "missing": "rendered anew"}
    click.echo(_label(option, f"camera {camera.name}") + ":", err=True)
    for state in job.plan(camera, explain=True):
        click.echo(f"  {state.lamp}: {words[state.status]}; {state.why}.", err=True)


def _explain_meters(option: str, lines) -> None:
    """Say of each lamp what of its light at the meters is used again."""
    click.echo(_label(option, "meters:"), err=True)
    for line in lines:
        click.echo(f"  {line}", err=True)


def _label(option: str, what: str) -> str:
    return f"{option}, {what}" if option else what


def _settings(camera) -> CameraSettings:
    return CameraSettings(**{f.name: getattr(camera, f.name) for f in fields(CameraSettings)})


def _mixed(gathered, stage) -> dict:
    """Return the meters that have gathered anything, under the lamps as they are set."""
    if gathered is None:
        return {}
    known = [i for i, paths in enumerate(gathered.paths) if paths > 0 or not gathered.lights]
    return metering.mix(gathered.some(known), stage.lamps, stage_colours(stage))


def _face(shot: Shot):
    """Return the light on the face that this camera is on, or None."""
    subject = subject_of(shot.stage, shot.camera, shot.frames)
    return next((face for face in faces_in(shot.meters) if face.figure == subject), None)


def _spill(shot: Shot):
    """Return the light on the back wall, which is that of the first camera's picture, or None."""
    if BACK_WALL not in shot.meters or shot.camera.name != shot.stage.cameras[0].name:
        return None
    return shot.meters[BACK_WALL].light()


def _readings(shot: Shot) -> dict:
    """Return every meter's reading as plain values."""
    told, short = {}, {each.name: each for each in shot.short}
    for name, mixed in shot.meters.items():
        constant = DOME_CONSTANT if name.endswith(DOME) else INCIDENT_CONSTANT
        light = mixed.light()
        told[name] = {
            "lux": light.value, "error": light.error, "standard_error": light.paths,
            "band_error": light.bands,
            "not_reached": not_reached(short[name]) if name in short else None,
            "stops_from_working": plain(metering.from_working(light, shot.settings,
                                                              constant).value), **note_of(light),
            "lamps": {part.lamp: {"direct": part.direct.value, "bounced": part.bounced.value}
                      for part in mixed.by_lamp()},
        }
    return told


def _doubted(shot: Shot, face, spill) -> tuple:
    """Return the meters that the sheet owns up to: those on few paths, and those that it shows."""
    shown = (*(cheeks_of(face.figure) if face else ()), *((BACK_WALL,) if spill else ()))
    return tuple(each for each in shot.short if each.few or each.name in shown)


def _faces(shot: Shot) -> dict:
    """Return every face as plain values."""
    return {face.figure: face_values(face, [(shot.camera.name, shot.settings)])
            for face in faces_in(shot.meters)}


def _deliver(file, shots: list[Shot], asked: Asked, stems) -> list[Path]:
    folder = asked.out
    folder.mkdir(parents=True, exist_ok=True)
    index = _open_index(file, asked)
    sheets, written = {}, []
    for shot in shots:
        developed = shot.developed
        chart = exposure_map(developed.signal, developed.bands, shot.frames.names_index)
        subject, title = _subject(shot.option, shot.camera), shot.stage.title or asked.scene.stem
        words = _words(shot.stage, asked, shot.option, shot.camera)
        stem = stems[shot.option, shot.camera.name]
        paths = {"still": folder / f"{stem}.png", "map": folder / f"{stem}-map.png"}
        write_map(paths["map"], chart, title=title, subject=subject, settings=shot.settings,
                  words=words)
        if asked.mark_rig:
            paths["rig"] = folder / f"{stem}-rig.png"
            write_rig(paths["rig"], developed.still, shot.rig, title=title, subject=subject,
                      words=words)
        if asked.scopes:
            paths["scopes"] = folder / f"{stem}-scopes.png"
            write_scopes(paths["scopes"], developed, shot.settings, title=title, subject=subject,
                         words=words)
        if asked.exr:
            paths["linear"] = folder / f"{stem}.exr"
            write_exr(paths["linear"], shot.frames, shot.stage.lamps, shot.settings)
        written += paths.values()
        index = index.with_entry(Entry(
            option=shot.option, camera=shot.camera.name, settings=_told_settings(shot),
            transport_hash=shot.frames.transport_hash, samples=shot.frames.samples,
            seed=shot.frames.seed, readings=_readings(shot), faces=_faces(shot),
            files=tuple(file_entry(folder, path, kind) for kind, path in paths.items())))
        face, spill = _face(shot), _spill(shot)
        sheets.setdefault(shot.camera.name, []).append(SheetOption(
            name=shot.option or "as written", note=developed.note, still=developed.still,
            chart=chart, settings=shot.settings, face=face, spill=spill,
            short=_doubted(shot, face, spill)))
    made = []
    for camera, options in sheets.items():
        path = folder / f"{stems[None, camera]}.png"
        title = shots[0].stage.title or asked.scene.stem
        write_sheet(path, _one_shape(options), title=title, subject=f"Camera {camera}",
                    words={"Title": title, "Software": f"previz {__version__}"})
        index = index.with_entry(Entry(option="", camera=f"sheet {camera}",
                                       files=(file_entry(folder, path, "sheet"),)))
        made.append(path)
    write_index(folder, index)
    _tell_rig(shots)
    return [*made, *written, folder / INDEX_NAME]


def _tell_rig(shots: list[Shot]) -> None:
    """Say what of the rig is in each picture; pictures that agree are told together."""
    told = {}
    for shot in shots:
        seen = tuple(rig_text(each.sighting) for each in shot.rig
                     if each.sighting.where == IN_FRAME)
        told.setdefault(seen, []).append(_label(shot.option, f"camera {shot.camera.name}"))
    for seen, labels in told.items():
        if not seen:
            click.echo(f"{'; '.join(labels)}: nothing of the rig is in the picture.", err=True)
            continue
        click.echo(f"{'; '.join(labels)}: of the rig in the picture", err=True)
        for line in seen:
            click.echo(f"  {line}", err=True)


def _one_shape(options):
    """Leave out options whose camera has another picture shape; a sheet compares like with like."""
    shape = options[0].still.shape
    return [option for option in options if option.still.shape == shape]


def _open_index(file, asked: Asked) -> Index:
    digest = hashlib.sha256(asked.scene.read_bytes()).hexdigest()
    fresh = Index(title=file.title, scene=str(asked.scene), scene_hash=digest,
                  version=__version__)
    try:
        old = read_index(asked.out)
    except DeliveryError:
        return fresh
    same = old.scene_hash == digest and old.version == __version__
    return replace(fresh, entries=old.entries) if same else fresh


def _told_settings(shot: Shot) -> dict:
    camera = {f.name: float(getattr(shot.settings, f.name)) for f in fields(CameraSettings)}
    lamps = {lamp.name: {"unit": lamp.unit, "output": float(lamp.output),
                         "level": float(lamp.level), "on": bool(lamp.on)}
             for lamp in shot.stage.lamps}
    size = [int(n) for n in np.array(shot.frames.shape)[::-1]]
    return {"camera": camera, "lamps": lamps, "size": size,
            "cautions": list(shot.stage.cautions),
            "rig": [asdict(each.sighting) for each in shot.rig],
            "hung": {each.name: each.hung for each in (*shot.stage.rig, *shot.stage.grip) if each.hung},
            "grip": [{"name": each.name, "what": each.what, "size": list(each.size)}
                     for each in shot.stage.grip]}
