"""The studies: each takes scenes and words, and returns a result with rows and a sheet."""

from __future__ import annotations

import importlib
import inspect
from collections.abc import Mapping, Sequence
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from previz.errors import RequestError, resources_told
from previz.library.scenes import File, Option, open
from previz.library.settings import Settings, cache_of, check, request_of

if TYPE_CHECKING:
    from previz.scene.wants import Want
    from previz.studies.balance import Balance
    from previz.studies.paper import Paper
    from previz.studies.result import Result


def balance(option: Option, wants: Sequence[str | Want] = (), **words: Any) -> Balance:
    """Return the levels, colours and exposure of an option that come nearest to what is wanted.

    Parameters
    ----------
    option : Option
    wants : sequence of str or Want
        'lit side clerk 0', 'ratio clerk 4:1', ...; what the scene wants without any.
    **words
        Those of `studies.balance.balance` (may, lock, gels, stop, nd, rule, few, cameras, pictures, move),
        and of `Settings`.

    Returns
    -------
    Balance
        With `met`, `changes`, `said` (the answer in sentences) and `save(name)`, which writes it as an
        option.

    Examples
    --------
    >>> found = previz.balance(option, ["lit side clerk 0", "ratio clerk 4:1"])  # doctest: +SKIP
    >>> found.save("balanced")  # doctest: +SKIP
    """
    found = _study("balance", [option.file, option.name], option.file.path, {**words, "wants": wants})
    return cast("Balance", found)


def what_if(option: Option, wants: Sequence[str | Want] = (), **words: Any) -> Result:
    """Return what each want of an option hangs on: a lamp half a stop off or out, a cloud, a step.

    Parameters
    ----------
    option : Option
    wants : sequence of str or Want
        As of `balance`; where nothing is wanted, each face is to stay as it is.
    **words
        Those of `studies.what_if.what_if` (as_it_is, step), and of `Settings`.
    """
    return _study("what_if", [option.scene], option.file.path, {**words, "wants": wants})


def compare(scene: File | str | PathLike[str], **words: Any) -> Result:
    """Return options and cameras of a scene side by side, with the numbers that decide.

    Parameters
    ----------
    scene : File or path-like
    **words
        Those of `studies.compare.compare` (options, cameras, base, subjects, spill, key_lamps,
        volts), and of `Settings`.
    """
    file = scene if isinstance(scene, File) else open(scene)
    return _study("compare", [file.file], file.path, words)


def study(option: Option, **words: Any) -> Result:
    """Return one lamp of an option straight, through a frame and off a board, over sizes.

    Parameters
    ----------
    option : Option
    **words
        Those of `studies.study.study` (lamp, figure, sizes, distances, ...), and of `Settings`.
    """
    return _study("study", [option.scene], option.file.path, words)


def match(first: Option, second: Option, cameras: tuple[str, str] = ("", ""), **words: Any) -> Result:
    """Return whether two shots cut together, and what to change where they do not.

    Parameters
    ----------
    first, second : Option
    cameras : (str, str)
        Camera of each; '' for the first that there is.
    **words
        Those of `studies.match.match` (limits, figure), and of `Settings`.
    """
    from previz.studies.match import Take

    takes = []
    for option, camera in zip((first, second), cameras, strict=True):
        name = ", ".join(filter(None, (option.name, camera and f"camera {camera}")))
        takes.append(Take(name or option.file.path.stem, option.scene, camera,
                          words.get("cache") or cache_of(option.file.path)))
    return _study("match", takes, first.file.path, words)


def times(option: Option, moments: Sequence[datetime], **words: Any) -> Result:
    """Return an option over a day: where the sun helps, and what lamp would replace it.

    Parameters
    ----------
    option : Option
    moments : sequence of datetime
        Each with its time zone.
    **words
        Those of `studies.times.times` (latitude, longitude, camera, figure, throw, ...), and of
        `Settings`. Without a place it is the scene's.

    Raises
    ------
    RequestError
        The scene says no place, and none is given.
    """
    daylight = option.scene.daylight
    place = {name: getattr(daylight, name, None) for name in ("latitude", "longitude")} | words
    if place["latitude"] is None or place["longitude"] is None:
        raise RequestError("The scene does not say where it is", "Give latitude and longitude. [deg]")
    return _study("times", [option.scene], option.file.path, {**place, "moments": moments})


def walk(option: Option, **words: Any) -> Result:
    """Return a figure's way along its marks: light on its face against metres, holes and hot spots.

    Parameters
    ----------
    option : Option
    **words
        Those of `studies.walk.walk` (figure, marks, camera, every, least, wanted, ...), and of `Settings`.
    """
    return _study("walk", [option.scene], option.file.path, words)


def haze(option: Option, **words: Any) -> Result:
    """Return an option at several densities of its haze, with contrast and veil for each.

    Parameters
    ----------
    option : Option
    **words
        Those of `studies.haze.haze` (factors, camera, figure), and of `Settings`.
    """
    return _study("haze", [option.scene], option.file.path, words)


def readings(option: Option, table: str | PathLike[str] | None = None, **words: Any) -> Result:
    """Return what readings of the set say of an option: which lamp is off, which reading cannot be so.

    Parameters
    ----------
    option : Option
    table : path-like, optional
        CSV file of readings.
    **words
        Those of `studies.readings.readings` (readings, scout, reading_error, camera, picture, ...),
        and of `Settings`.
    """
    return _study("readings", [option.scene], option.file.path, {**words, "table": table})


def as_shot(option: Option, table: str | PathLike[str] | None = None, **words: Any) -> Result:
    """Return what was shot of an option against its plan.

    Parameters
    ----------
    option : Option
    table : path-like, optional
        CSV file of lamps and cameras as they were set.
    **words
        Those of `studies.as_shot.as_shot` (shot, take, readings, record, ...), and of `Settings`.
    """
    return _study("as_shot", [option.scene], option.file.path, {**words, "table": table})


def paper(scenes: File | str | PathLike[str] | Sequence[File | str | PathLike[str]], **words: Any) -> Paper:
    """Return everything on paper of a scene, or of the scenes of a day.

    Parameters
    ----------
    scenes : File or path-like, or a sequence of them
    **words
        Those of `studies.paper.paper` (options, cameras, page, system, section, scale, pictures, meters,
        one_sheet, seconds), and of `Settings`.

    Returns
    -------
    Paper
        With `lists()`, `over` (circuits that hold too much, in sentences) and `sheet(folder)`, which writes
        the PDF, drawings as SVG and DXF, and lists as CSV.

    Examples
    --------
    >>> made = previz.paper("scenes/signal-cabin.yaml", pictures=False, meters=False)  # doctest: +SKIP
    >>> made.sheet("paper")  # doctest: +SKIP
    """
    several = [scenes] if isinstance(scenes, (File, str, PathLike)) else list(scenes)
    files = [each if isinstance(each, File) else open(each) for each in several]
    if not files:
        raise RequestError("There is no scene to put on paper", "Give one or more.")
    if "cache" not in words:
        words = {"cache_of": cache_of, **words}
    return cast("Paper", _study("paper", [[each.file for each in files]], files[0].path, words))


def portrait(option: Option | None = None, **words: Any) -> Result:
    """Return one head under six classic placements of a lamp, hard and soft.

    Parameters
    ----------
    option : Option, optional
        Whose figure it is; a built-in person without it.
    **words
        Those of `studies.portrait.portrait` (figure, person, skin, fill, ...), and of `Settings`.
    """
    scene, path = (None, Path("portrait")) if option is None else (option.scene, option.file.path)
    return _study("portrait", [scene], path, words)


def read(picture: str | PathLike[str], option: Option, beside: Sequence[Option] = (), **words: Any) -> Result:
    """Return the levels and colours of an option's lamps that come nearest to a reference still.

    Parameters
    ----------
    picture : path-like
        PNG or JPEG.
    option : Option
    beside : sequence of Option
        Others to stand beside it.
    **words
        Those of `studies.read.run.read` (camera, marks, look, anchor, figure), and of `Settings`.
    """
    return _study("read", [picture, option.scene], option.file.path,
                  {**words, "beside": [each.scene for each in beside]})


def mood(frames: Sequence[str], **words: Any) -> Result:
    """Return graded frames without numbers, for a director.

    Parameters
    ----------
    frames : sequence of str
        'FILE:OPTION:CAMERA=Title' of each; option, camera and title may be left out.
    **words
        Those of `studies.mood.mood` (aspect, grade, title, subtitle, across), and of `Settings`.
    """
    if "cache" not in words:
        words = {"cache_of": cache_of, **words}
    return _study("mood", [frames], Path("mood"), words)


@resources_told()
def _study(name: str, subjects: Sequence[Any], path: Path, words: Mapping[str, Any]) -> Result:
    """Run a study: what it is of, the request, and whatever words are its own."""
    settings = {key: value for key, value in words.items() if key in Settings.__annotations__}
    own = {key: value for key, value in words.items() if key not in settings}
    run = getattr(importlib.import_module(f"previz.studies.{name}"), name)
    known = [each.name for each in inspect.signature(run).parameters.values()
             if each.kind is each.KEYWORD_ONLY and each.name != "progress"]
    check(own, [*known, *Settings.__annotations__], "word")
    request, progress = request_of(path, settings)
    return run(*subjects, request, progress=progress, **own)
