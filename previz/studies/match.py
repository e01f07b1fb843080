"""One run of `previz match-cut`: two shots rendered, measured and held against each other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from previz.deliver.compare_table import side_text, signed
from previz.deliver.face_values import ratio_texts
from previz.deliver.wording import NO_LIGHT, lux_text, stops_text
from previz.engine.render import Sampling
from previz.errors import RequestError
from previz.exposure.camera import settings_of
from previz.exposure.comparing import match
from previz.exposure.comparing.measures import grey_in, stops_from
from previz.exposure.comparing.pictures import pictured
from previz.exposure.faces import KEY_TO_FILL, LIT_TO_SHADOW
from previz.exposure.mix import mix_xyz
from previz.physics.exposure import MID_GREY, luminance_from_signal, signal_per_luminance
from previz.rendering.job import StageJob
from previz.rendering.request import QUALITIES, Order, size_for
from previz.scene.read import load
from previz.sight.subjects import projected, subject_of
from previz.stage.build import build_stage
from previz.studies.folders import out_folder
from previz.studies.measures import OptionMeters, draws_of, measure_shot
from previz.studies.selection import select

AIR_SIZE, AIR_SAMPLES = 96, 32
"""Width of the two small pictures, with and without haze, that tell what the air adds [px], and
their paths a pixel."""

STEPS = 64
"""Points along a line of sight at which haze that thins is looked at."""

LABELS = {
    "face": "lit side", "ratio": LIT_TO_SHADOW, "direction": "key direction",
    "mired": "colour", "duv": "green or magenta", "sky": "sky", "background": "background",
    "softness": "shadow edge", "veil": "haze veil",
}  # fmt: skip


@dataclass(frozen=True)
class Reference:
    """One shot as it is named on the command line: file, option and camera.

    Parameters
    ----------
    path : Path
        The scene file.
    option, camera : str
        '' for the scene as written or its first option, and for the first camera.
    """

    path: Path
    option: str = ""
    camera: str = ""


def reference(text: str, other: Reference | None = None) -> Reference:
    """Return what 'scene.yaml:option:camera' names; parts left out are empty.

    Parameters
    ----------
    text : str
        As given on the command line.
    other : Reference, optional
        Whose file is meant where the text begins with a colon, and whose option where it begins
        with two.

    Raises
    ------
    RequestError
        There is no file, or there are too many parts.
    """
    parts = [part.strip() for part in text.split(":")]
    # A drive letter is part of the path.
    if len(parts) > 1 and len(parts[0]) == 1 and parts[1][:1] in ("\\", "/"):
        parts = [f"{parts[0]}:{parts[1]}", *parts[2:]]
    path = Path(parts[0]) if parts[0] else (other.path if other else None)
    if path is None or len(parts) > 3:
        raise RequestError(f"'{text}' names no shot; write 'scenes/shed.yaml:low sun:A' for "
                               "file, option and camera, or ':low sun' for the same file.")
    option = parts[1] if len(parts) > 1 else ""
    if len(parts) == 3 and not parts[0] and not option and other is not None:
        option = other.option
    return Reference(path, option, parts[2] if len(parts) == 3 else "")


@dataclass(frozen=True, eq=False)
class Shot:
    """One side, rendered and measured.

    Parameters
    ----------
    side : comparing_match.Side
        Its numbers.
    title : str
        Of the scene.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    signal : float array, shape (row, column)
        Exposed luminance, denoised; 0.18 is mid grey. [1]
    things : int array, shape (row, column)
        What each pixel sees.
    cautions : tuple of str
        That the scenes call for.
    face : (float, float)
        Where the face is in the frame, from its middle: 1 at the right and the upper edge. [1]
    """

    side: match.Side
    title: str
    still: np.ndarray
    signal: np.ndarray
    things: np.ndarray
    cautions: tuple[str, ...]
    face: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True)
class Wanted:
    """What the command line asked for; see `previz match-cut --help`."""

    size: tuple
    quality: str
    seed: int
    bands: int
    backend: str
    out: Path | None
    figures: tuple[str, str] = ("", "")
    samples: int | None = None

    def order(self, camera, cache: Path) -> Order:
        """Return the engine's order for one side."""
        quality = QUALITIES[self.quality]
        samples = self.samples or quality.samples
        passes = max(p for p in range(1, quality.passes + 1) if samples % p == 0)
        size = (max(16, round(n * quality.scale)) for n in size_for(self.size, camera.aspect))
        return Order(*size, Sampling(samples, passes, self.seed), self.bands, self.backend, cache)


def named(which: Reference):
    """Return (scene, option, camera) of a shot, as its file has them.

    Raises
    ------
    RequestError
        The file has no such option or camera.
    """
    file = load(which.path)
    option = which.option or (file.option_names[0] if file.option_names else "")
    if option:
        select((option,), file.option_names, "option")
    scene = file.scene(option or None)
    names = [camera.name for camera in scene.cameras]
    if not names:
        raise RequestError(f"{which.path} has no camera; add one under 'cameras:'.")
    return scene, option, select((which.camera,) if which.camera else (), names, "camera")[0]


def shot(name: str, which: Reference, wanted: Wanted, figure: str, tell) -> Shot:
    """Render and measure one side of a cut.

    Parameters
    ----------
    name : str
        'A' or 'B', or what the sheet calls it.
    which : Reference
        The shot.
    wanted : Wanted
        What was asked for.
    figure : str
        The face; '' for the camera's own subject.
    tell : function
        Called with a line about the picture.
    """
    scene, option, seen_by = named(which)
    stage = build_stage(scene)
    camera = next(camera for camera in stage.cameras if camera.name == seen_by)
    job = StageJob(stage, wanted.order(camera, out_folder(wanted.out, which.path) / "frames"))
    frames = job.cached(camera)
    label, how = f"camera {camera.name}", "rendering"
    if frames is not None:
        how = "taken from the cache, nothing rendered"
    tell(f"{name if name.endswith(label) else f'{name}, {label}'}: {how}")
    frames = frames or job.render(camera, lambda *_: None)
    subject = figure or subject_of(stage, camera, frames)
    if figure:
        select((figure,), [p.name.partition(": ")[0] for p in stage.probes
                           if p.name.endswith(": left cheek")], "figure")
    measures = OptionMeters(job, QUALITIES[wanted.quality].precision, draws_of(scene, stage))
    picture = pictured(frames, stage.lamps, settings_of(camera))
    seen = measure_shot(measures, option, camera, frames, lambda: picture, subject)
    per = signal_per_luminance(seen.settings)
    sky = np.asarray(frames.names_index) == -1
    level = stops_from(float(picture.raw[sky].mean()) * per, MID_GREY) if sky.any() else None
    background = None
    if seen.background is not None:
        # Told against the key; as exposed it is moved by what the key lies over grey.
        grey = (grey_in(seen.face.lit.value) if seen.face is not None and seen.face.lit.value > 0
                else luminance_from_signal(MID_GREY, seen.settings))
        background = seen.background.stops + stops_from(grey * per, MID_GREY)
    veil = _veil(job, camera, per) if stage.haze is not None else None
    job.close()
    side = match.Side(name, seen, level, background, veil)
    place = (0.0, 0.0)
    if subject is not None:
        x, y, depth = projected(camera, stage.places[f"{subject}.face"])
        place = (x, y) if depth > 0 else place
    return Shot(side, scene.title, picture.still, picture.signal, np.asarray(frames.names_index),
                stage.cautions, place)


def optical_depth(haze, origin, directions, distances) -> np.ndarray:
    """Return the haze that lies along lines of sight: the integral of its density.

    Parameters
    ----------
    haze : stage.records.Haze
        The air.
    origin : float array, shape (3,)
        [m]
    directions : float array, shape (n, 3)
        Unit vectors.
    distances : float array, shape (n,)
        How far each reaches. [m]

    Returns
    -------
    float array, shape (n,)
        [1]
    """
    share = (np.arange(STEPS) + 0.5) / STEPS
    along = distances[:, None] * share
    points = origin + directions[:, None, :] * along[..., None]
    inside = np.all((points > haze.low) & (points < haze.high), axis=-1)
    density = haze.density * np.exp(-haze.thinning * (points[..., 2] - haze.floor))
    return np.where(inside, density, 0.0).mean(axis=1) * distances


def _veil(job: StageJob, camera, per: float) -> float:
    """Return what the air adds to the picture, over mid grey: with haze less what comes through it.

    Two small pictures, one without the haze; the middle of their pixels.
    """
    size = (AIR_SIZE, max(16, round(AIR_SIZE / camera.aspect)))
    order = Order(*size, Sampling(AIR_SAMPLES, 1, job.order.sampling.seed), job.order.bands,
                  job.order.backend, job.order.cache, exact=True)
    levels = []
    for stage in (job.stage, replace(job.stage, haze=None)):
        small = StageJob(stage, order)
        frames = small.cached(camera) or small.render(camera, lambda *_: None)
        small.close()
        levels.append((mix_xyz(frames, stage.lamps)[1], frames))
    hazy, (clear, frames) = levels[0][0], levels[1]
    rows, columns = frames.shape
    x = ((np.arange(columns) + 0.5) * 2 / columns - 1) * camera.tan_half[0]
    y = (1 - (np.arange(rows) + 0.5) * 2 / rows) * camera.tan_half[1]
    plane = np.stack(np.broadcast_arrays(x[None, :], y[:, None], 1.0), axis=-1).reshape(-1, 3)
    length = np.linalg.norm(plane, axis=1)
    depth = np.asarray(frames.depth).ravel()
    reach = np.where(np.isfinite(depth), depth, 100.0) * length
    rays = (plane / length[:, None]) @ np.asarray(camera.world_from_camera).T
    through = np.exp(-optical_depth(job.stage.haze, camera.position, rays, reach))
    added = hazy.ravel() - through * clear.ravel()
    return max(float(np.median(added)) * per / MID_GREY, 0.0)


def points(first: Shot, second: Shot, limits) -> list[match.Point]:
    """Return everything that is compared, in words.

    Parameters
    ----------
    first, second : Shot
        The two sides of the cut.
    limits : dict of str to float
        How far apart each point may be.
    """
    gaps = match.differences(first.side, second.side)
    face = gaps["face"]
    face = face if face is not None and abs(face) > limits["face"] else 0.0
    told = []
    for key, label in LABELS.items():
        gap = gaps[key]
        far = gap is not None and abs(gap) > limits[key]
        # What is done for the face may move these, also where they cut as they are.
        far = far or (gap is not None and bool(face) and key in ("sky", "background"))
        told.append(match.Point(
            key, label, _words(key, first.side), _words(key, second.side), gap, limits[key],
            match.advice(key, gap, first.side, second.side, face, limits[key]) if far else ""))
    return told


def _level(stops: float, above: str) -> str:
    """Return a level in words, without what it counts from where there is no light."""
    return NO_LIGHT if np.isneginf(stops) else f"{stops_text(stops)} {above}"


def _words(key: str, side: match.Side) -> str:
    """Return what one side has of a point."""
    seen = side.measures
    if key == "sky":
        return "not in the frame" if side.sky is None else _level(side.sky, "from grey")
    if key == "background":
        return "–" if side.background is None else (
            f"{_level(side.background, 'from grey')}, {seen.background.name}")
    if key == "veil":
        if side.veil is None:
            return "clear air"
        return f"{stops_text(stops_from(side.veil, 1.0))} from grey"
    if seen.face is None:
        return "no face"
    if key == "face":
        if not seen.face.lit.value > 0:
            return NO_LIGHT
        return f"{lux_text(seen.face.lit.value)} lx, {stops_text(match.face_level(seen))} stops"
    if key == "ratio":
        lit, alone = ratio_texts(seen.face)
        return f"{lit}, {KEY_TO_FILL} {alone}"
    if key in ("direction", "softness"):
        if seen.key is None:
            return "–"
        if key == "direction":
            return ", ".join(side_text(seen.key.side, seen.key.height))
        return f"{1e3 * seen.key.edge:.1f} mm, key {seen.key.across:.0f}° wide"
    if seen.face.cct is None:
        return "–"
    if key == "mired":
        off = seen.face.mired_off(seen.settings.white_balance)
        return (f"{seen.face.cct:.0f} K at {seen.settings.white_balance:.0f} K: "
                f"{signed(off)} mired")
    return f"Duv {signed(seen.face.duv, 4)}"
