"""Two shots that must cut: rendered, measured and held against each other."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import ClassVar

import numpy as np

from previz.deliver.face_values import ratio_texts
from previz.deliver.match_sheet import state_text, write_match
from previz.deliver.stems import plain
from previz.deliver.wording import NO_LIGHT, lux_text, side_text, stops_text
from previz.errors import RequestError
from previz.exposure.comparing import match as comparing
from previz.exposure.comparing.measures import grey_in, stops_from
from previz.exposure.faces import KEY_TO_FILL, LIT_TO_SHADOW, stops_of
from previz.exposure.falsecolour import signed
from previz.exposure.metering import from_working
from previz.physics.exposure import MID_GREY, luminance_from_signal, signal_per_luminance
from previz.physics.safety import Caution, together
from previz.physics.stops import PLAIN, MapSettings
from previz.rendering.progress import SETTING_UP, Progress
from previz.rendering.request import Request
from previz.scene.read import load
from previz.scene.scene import Scene
from previz.sight.face_view import faces_of
from previz.sight.subjects import projected
from previz.stage.build import build_stage
from previz.studies.option_run import taken
from previz.studies.outside import AddedLamp
from previz.studies.result import Result, Row, row
from previz.studies.rows import caution_rows, level_row, shot_rows
from previz.studies.selection import no_camera, select, select_one
from previz.studies.veil import veil_of

LABELS = {
    "face": "lit side", "ratio": LIT_TO_SHADOW, "direction": "key direction",
    "mired": "colour", "duv": "green or magenta", "sky": "sky", "background": "background",
    "softness": "shadow edge", "veil": "haze veil",
}  # fmt: skip


@dataclass(frozen=True)
class Reference:
    """One shot as it is named.

    Without an option it is the scene as written or its first option; without a camera, the first.
    """

    path: Path
    option: str = ""
    camera: str = ""


def reference(text: str, other: Reference | None = None) -> Reference:
    """Return what 'scene.yaml:option:camera' names; parts left out are empty.

    Where it begins with a colon, the file of the other is meant; with two, its option too.

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


def name_of(which: Reference, both: tuple[Reference, Reference]) -> str:
    """Return what one of two shots is called: as much of its file, option and camera as the other has not."""
    parts = []
    if len({each.path for each in both}) > 1:
        parts.append(which.path.stem)
    if which.option or (len({each.option for each in both}) > 1):
        parts.append(which.option or "first option")
    if which.camera or (len({each.camera for each in both}) > 1):
        parts.append(f"camera {which.camera}" if which.camera else "first camera")
    return ", ".join(parts) or which.path.stem


@dataclass(frozen=True)
class Take:
    """One side of a cut, to be rendered.

    The first camera for ''; finished frames are in the request's folder where there is no `cache`.
    """

    name: str
    scene: Scene
    camera: str = ""
    cache: Path | None = None


def take(which: Reference, name: str, cache: Path | None = None) -> Take:
    """Return the shot that a reference names.

    Raises
    ------
    RequestError
        The file has no such option or camera.
    """
    file = load(which.path)
    option = select_one(which.option, file.option_names, "option") if (
        which.option or file.option_names) else ""
    scene = file.scene(option or None)
    if not scene.cameras:
        raise no_camera(str(which.path))
    return Take(name, scene, select_one(which.camera, [each.name for each in scene.cameras], "camera"), cache)


@dataclass(frozen=True, eq=False)
class Shot:
    """One side, rendered and measured.

    Parameters
    ----------
    side : comparing.match.Side
        Its numbers.
    title : str
        Of the scene.
    still : uint8 array, shape (row, column, 3)
        sRGB.
    signal : float array, shape (row, column)
        Exposed luminance, denoised; 0.18 is mid grey. [1]
    things : int array, shape (row, column)
        What each pixel sees.
    cautions : tuple of Caution
        That the scenes call for.
    face : (float, float)
        Where the face is in the frame, from its middle: 1 at the right and the upper edge. [1]
    map : MapSettings
        What its exposure map shows.
    """

    side: comparing.Side
    title: str
    still: np.ndarray
    signal: np.ndarray
    things: np.ndarray
    cautions: tuple[Caution, ...]
    face: tuple[float, float] = (0.0, 0.0)
    map: MapSettings = PLAIN


@dataclass(frozen=True, eq=False)
class Matched(Result):
    """Two shots, held against each other point by point; whether they cut, in words."""

    study: ClassVar[str] = "match-cut"
    axes: ClassVar[tuple[str, ...]] = ("shot", "option", "camera", "figure", "meter", "lamp", "thing")

    shots: tuple[Shot, Shot]
    points: tuple[comparing.Point, ...]
    verdict: str
    lamp: AddedLamp | None = None
    """That gives the second shot the first shot's key, where it was requested; see `match_lamp`."""

    @property
    def title(self) -> str:
        """Both shots."""
        return " to ".join(each.side.name for each in self.shots)

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """That the scenes call for."""
        added = () if self.lamp is None else self.lamp.cautions
        return together([*(caution for each in self.shots for caution in each.cautions), *added])

    @property
    def stem(self) -> str:
        """Name of the sheet's files, without the ending."""
        return plain("match-" + "-to-".join(
            "".join(c if c.isalnum() else "-" for c in each.side.name) for each in self.shots))

    def _rows(self) -> list[Row]:
        rows = []
        for side in (each.side for each in self.shots):
            of = {"shot": side.name, "option": side.measures.option, "camera": side.measures.camera}
            rows += shot_rows(side.measures, **of)
            if side.sky is not None:
                rows.append(level_row("sky_level", side.sky, **of))
            if side.background is not None and side.measures.background is not None:
                rows.append(level_row("background_level", side.background,
                                      thing=side.measures.background.name, **of))
            if side.veil is not None:
                rows.append(level_row("veil_level", stops_from(side.veil, 1.0), **of))
        # What is different and to be changed is the second shot's.
        of, errors = {"shot": self.shots[1].side.name}, self._errors()
        for point in self.points:
            error = errors.get(point.key) if point.difference is not None else None
            rows += [row(f"{point.key}_difference", point.difference, error, note=state_text(point), **of),
                     row(f"{point.key}_limit", point.limit)]
            rows += [row(name, value, thing=point.key if name == "level_to_add" else "", **of)
                     for name, value in point.changes.items()]
            if point.advice:
                rows.append(row("advice", point.advice, **of))
        if self.lamp is not None:
            rows += self.lamp.rows(**of)
        return [*rows, row("verdict", self.verdict), *caution_rows(self.cautions)]

    def _errors(self) -> dict[str, float]:
        """Return the standard errors of differences between meters, those of two shots independent."""
        first, second = (each.side.measures for each in self.shots)
        if first.face is None or second.face is None:
            return {}
        level = np.hypot(from_working(first.face.lit, first.settings).paths,
                         from_working(second.face.lit, second.settings).paths)
        ratio = np.hypot(stops_of(first.face.lit_to_shadow).paths,
                         stops_of(second.face.lit_to_shadow).paths)
        return {"face": float(level), "ratio": float(ratio)}

    def sheet(self, path: Path | str) -> list[Path]:
        """Write the sheet as a PNG and a PDF under a name without its ending; return the files."""
        return write_match(Path(path), self.shots, self.points, self.verdict, self._words(self.verdict),
                           self.cautions)


def match(first: Take, second: Take, request: Request, *, limits: Mapping[str, float] | None = None,
          figure: str = "", progress: Progress | None = None) -> Matched:
    """Render and measure two shots, and say whether they cut together.

    Parameters
    ----------
    first, second : Take
        The two sides of the cut.
    request : Request
        Of the pictures and meters.
    limits : dict of str to float, optional
        How far they may differ, for keys of `comparing.match.LIMITS`; the usual ones otherwise.
    figure : str
        The face in both shots; '' for each camera's own subject.
    progress : Progress, optional
        Counts the pictures, and says of each whether it was rendered.

    Raises
    ------
    RequestError
        A scene has no such camera or figure.
    """
    progress, allowed = progress or Progress(), comparing.limits_with(dict(limits or {}))
    progress.show(SETTING_UP)
    with progress.running(2):
        sides = _shot(first, request, figure, progress), _shot(second, request, figure, progress)
    found = tuple(points(*sides, allowed))
    return Matched(sides, found, comparing.verdict(found))


def _shot(of: Take, request: Request, figure: str, progress: Progress) -> Shot:
    """Return one side of a cut, rendered and measured."""
    scene, stage = of.scene, build_stage(of.scene)
    if not stage.cameras:
        raise no_camera()
    seen_by = select_one(of.camera, [each.name for each in stage.cameras], "camera")
    select((figure,) if figure else (), faces_of(stage), "figure")
    camera = next(each for each in stage.cameras if each.name == seen_by)
    if of.cache is not None:
        request = replace(request, cache=of.cache)
    label = f"camera {camera.name}"
    shown = of.name if of.name.endswith(label) else f"{of.name}, {label}"
    job, frames, picture, _, measures = taken(scene, stage, camera, figure, request, f"{shown}:", progress)
    per = signal_per_luminance(measures.settings)
    sky = np.asarray(frames.names_index) == -1
    level = stops_from(float(picture.raw[sky].mean()) * per, MID_GREY) if sky.any() else None
    background = None
    if measures.background is not None:
        # It is against the key; as exposed it is moved by what the key lies over grey.
        lit = measures.face.lit.value if measures.face is not None else 0.0
        grey = grey_in(lit) if lit > 0 else float(luminance_from_signal(MID_GREY, measures.settings))
        background = measures.background.stops + stops_from(grey * per, MID_GREY)
    veil = veil_of(job, camera, float(per))
    job.close()
    place = (0.0, 0.0)
    if measures.face is not None:
        x, y, depth = projected(camera, stage.places[f"{measures.face.figure}.face"])
        place = (x, y) if depth > 0 else place
    return Shot(comparing.Side(of.name, measures, level, background, veil), scene.title, picture.still,
                picture.signal, np.asarray(frames.names_index), stage.reminders, place, stage.map)


def points(first: Shot, second: Shot, limits: Mapping[str, float]) -> list[comparing.Point]:
    """Return everything that is compared of two shots, in words; `limits` says how far each may differ."""
    gaps = comparing.differences(first.side, second.side)
    face = gaps["face"]
    face = face if face is not None and abs(face) > limits["face"] else 0.0
    found = []
    for key, label in LABELS.items():
        gap = gaps[key]
        far = gap is not None and abs(gap) > limits[key]
        # What is done for the face may move these, also where they cut as they are.
        far = far or (gap is not None and bool(face) and key in ("sky", "background"))
        todo = (comparing.advice(key, gap, first.side, second.side, face, limits[key])
                if gap is not None and far else comparing.Advice())
        found.append(comparing.Point(key, label, _words(key, first.side), _words(key, second.side), gap,
                                     limits[key], *todo))
    return found


def _level(stops: float, above: str) -> str:
    """Return a level in words, without what it counts from where there is no light."""
    return NO_LIGHT if np.isneginf(stops) else f"{stops_text(stops)} {above}"


def _words(key: str, side: comparing.Side) -> str:
    """Return what one side has of a point."""
    measures = side.measures
    if key == "sky":
        return "not in the frame" if side.sky is None else _level(side.sky, "from grey")
    if key == "background":
        if side.background is None or measures.background is None:
            return "–"
        return f"{_level(side.background, 'from grey')}, {measures.background.name}"
    if key == "veil":
        if side.veil is None:
            return "clear air"
        return f"{stops_text(stops_from(side.veil, 1.0))} from grey"
    if measures.face is None:
        return "no face"
    if key == "face":
        if not measures.face.lit.value > 0:
            return NO_LIGHT
        return f"{lux_text(measures.face.lit.value)} lx, {stops_text(comparing.face_level(measures))} stops"
    if key == "ratio":
        lit, alone = ratio_texts(measures.face)
        return f"{lit}, {KEY_TO_FILL} {alone}"
    if key in ("direction", "softness"):
        if measures.key is None:
            return "–"
        if key == "direction":
            return ", ".join(side_text(measures.key.side, measures.key.height))
        return f"{1e3 * measures.key.edge:.1f} mm, key {measures.key.across:.0f}° wide"
    cct, duv, balance = measures.face.cct, measures.face.duv, measures.settings.white_balance
    off = measures.face.mired_off(balance)
    if cct is None or duv is None or off is None:
        return "–"
    if key == "mired":
        return f"{cct:.0f} K at {balance:.0f} K: {signed(off)} mired"
    return f"Duv {signed(duv, 4)}"
