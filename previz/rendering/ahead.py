"""Say before a render what it needs and the machine has not, and about how long it takes.

What surely cannot be had is refused, with what would fit. What may be short is told, and tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from previz.engine.backend import runs_on
from previz.errors import ResourceError
from previz.rendering import machine
from previz.rendering.cache.limit import limit_of
from previz.rendering.cache.plan import plan
from previz.rendering.needs import EACH_HELD, Needs, Picture, needs_of
from previz.rendering.pace import kept_pace
from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.stage.records import Camera

if TYPE_CHECKING:
    from previz.rendering.job import StageJob

SURE = 0.8
"""Share of an estimate that is needed in any case. [1]"""

NEAR = 1.2
"""How much more than the estimate may be needed. [1]"""

TOLD_FROM = 60.0
"""A render that is expected to take less is not announced. [s]"""

COMFORT = 0.4
"""Share of what there is under which nothing is looked at more closely. [1]"""

STEP = 16
"""Widths that are proposed are whole multiples of this. [px]"""


def look_ahead(shots: Sequence[tuple[StageJob, Camera]], request: Request, progress: Progress, *,
               held: float = EACH_HELD, first: int | None = None, seconds: float | None = None,
               times: int = 1) -> None:
    """Say what pictures need that the machine has not, before they are rendered.

    Parameters
    ----------
    shots : sequence of (StageJob, Camera)
        Pictures that are to be had, in one go.
    held : float
        What a pixel of a finished picture takes until the end. [byte]
    first : int, optional
        Paths a pixel of a first look, where they are refined in rounds from there.
    seconds : float, optional
        The time that there is for it. [s]
    times : int
        How many of each there are, alike but for the light.

    Raises
    ------
    ResourceError
        There surely is not enough memory or disk.
    """
    pictures = [_picture(job, camera, request, first) for job, camera in shots]
    if not pictures:
        return
    running = runs_on(request.backend)
    ahead = _Ahead(request.cache, request.size[0], held, running == "gpu")
    pace = kept_pace(request.cache, running)
    quick = pace is None or needs_of(pictures * times, held=held).paths / pace < TOLD_FROM
    if quick and seconds is None and ahead.comfortable(pictures * times):
        return
    pictures = _as_cached(shots, request, pictures) * times
    ahead.refuse(pictures)
    for line in ahead.doubts(pictures):
        progress.say(line)
    if pace is not None:
        progress.time_told = True
        for line in _time(needs_of(pictures, held=held).paths / pace, first is not None, seconds):
            progress.say(line)


def refuse(job: StageJob, camera: Camera) -> None:
    """Refuse a picture that there surely is not enough memory or disk for; see `look_ahead`."""
    order, stage = job.order, job.stage
    _Ahead(order.cache, order.width, EACH_HELD, on_gpu=False).refuse([Picture(
        order.width, order.height, len(stage.lamps), order.bands, order.sampling.samples, _faces(job))])


def _faces(job: StageJob) -> int:
    return sum(len(each.faces) for each in job.stage.meshes)


def _picture(job: StageJob, camera: Camera, request: Request, first: int | None) -> Picture:
    order, stage = request.order(camera.aspect), job.stage
    return Picture(order.width, order.height, len(stage.lamps), order.bands,
                   first or order.sampling.samples, _faces(job))


def _as_cached(shots: Sequence[tuple[StageJob, Camera]], request: Request,
               pictures: Sequence[Picture]) -> list[Picture]:
    """Return the pictures with how much of each is missing; what two have in common is rendered once."""
    made, known = [], set[Path]()
    for (job, camera), picture in zip(shots, pictures, strict=True):
        own = job.like(request.order(camera.aspect))
        folder = own.frame_folder(camera)
        if folder in known or folder.is_dir():
            missing = 0.0
        else:
            states = plan(own.lamp_cache, camera, own.order.sampling.samples, measure=False,
                          exact=own.order.exact)
            missing = sum(not state.done for state in states) / max(len(states), 1)
        known.add(folder)
        made.append(replace(picture, missing=missing))
    return made


class _Ahead:
    """What pictures need, held against what there is."""

    def __init__(self, cache: Path, asked: int, held: float, on_gpu: bool):
        self.cache, self.asked, self.held = cache, asked, held
        self.memory, self.used = machine.memory_left(), machine.used()
        self.disk, self.file = machine.disk_left(cache), machine.largest_file()
        self.gpu, self.limit = machine.gpu_left() if on_gpu else None, limit_of(cache)

    def comfortable(self, pictures: Sequence[Picture]) -> bool:
        """Return whether there is plenty of everything."""
        fit = all(limit.need(pictures) < COMFORT * limit.there for limit in self._limits())
        return fit and self._needs(pictures).disk < self.limit

    def refuse(self, pictures: Sequence[Picture]) -> None:
        """Raise ResourceError where pictures surely cannot be had, with what can."""
        for what, need, there, where, else_, sure in self._limits():
            if sure and SURE * need(pictures) > there:
                raise ResourceError(
                    f"{_count(pictures)} {_size(need(pictures))} {what}, and {_size(there)} {where}",
                    self._fitting(pictures, need, there, else_))

    def _limits(self) -> Iterator[_Limit]:
        for left in self.memory:
            yield _Limit("of memory", partial(self._more, left), left.size, left.why, left.advice)
        if self.gpu is not None:
            yield _Limit("of the GPU's memory", lambda some: self._needs(some).gpu, self.gpu,
                         "are free on it", "", sure=False)
        if self.file is not None:
            yield _Limit("for a single file", lambda some: self._needs(some).file, self.file,
                         "is the most of one here (`ulimit -f`)", "Raise the limit.")
        if self.disk is not None:
            yield _Limit("on the disk", self._at_once, self.disk, f"are free at '{self.cache.parent}'",
                         "Free some space there, or give another place with --out.")

    def doubts(self, pictures: Sequence[Picture]) -> Iterator[str]:
        """Yield what may be short."""
        for what, need, there, where, *_ in self._limits():
            if NEAR * need(pictures) > there:
                yield (f"That may be short: {_count(pictures)} about {_size(need(pictures))} {what}, and "
                       f"{_size(there)} {where}.")
        frames = sum(each.missing * each.slices for each in pictures)
        if frames > self.limit:
            yield (f"The cache keeps {_size(self.limit)}, and what is to be rendered takes {_size(frames)}: "
                   "what was used longest ago goes, and is rendered again when it is wanted. "
                   "`previz cache --limit` sets it.")

    def _needs(self, pictures: Sequence[Picture]) -> Needs:
        return needs_of(pictures, held=self.held)

    def _more(self, left: machine.Left, pictures: Sequence[Picture]) -> float:
        """Return what is needed over what this process has already, and uses again. [byte]"""
        needs, (own, addresses) = self._needs(pictures), self.used
        return max(needs.addresses - addresses if left.mapped else needs.memory - own, 0.0)

    def _at_once(self, pictures: Sequence[Picture]) -> float:
        """Return what lies on the disk at one time: what is over the cache's limit goes on the way. [byte]"""
        largest = max(self._needs([each]).disk for each in pictures)
        return min(self._needs(pictures).disk, self.limit + 2 * largest)

    def _fitting(self, pictures: Sequence[Picture], need: Need, there: float, else_: str) -> str:
        """Return what of the pictures would fit, in words."""
        def fits(some: Sequence[Picture]) -> bool:
            return need(some) <= there

        words = []
        widest = max(pictures, key=lambda each: each.pixels)
        width = int(widest.width * _most(lambda share: fits([each.scaled(share) for each in pictures])))
        if (width := width // STEP * STEP) >= STEP:
            height = max(1, round(width * widest.height / widest.width))
            # A draft has half of the size that is asked for.
            asked = round(width * self.asked / widest.width) if widest.width < self.asked else width
            words.append(f"{width}x{height} fits: --size {asked}.")
        count = next((k for k in range(len(pictures) - 1, 0, -1) if fits(pictures[:k])), 0)
        if count:
            words.append(f"{count} of the {len(pictures)} pictures fit at once: --camera and --option take "
                         "fewer.")
        return " ".join([*words, else_])


class _Limit(NamedTuple):
    """What pictures need of something, what there is of it, where, and what else can be done. [byte]

    Of what is not `sure`, nothing is refused.
    """

    what: str
    need: Need
    there: float
    where: str
    else_: str
    sure: bool = True


Need = Callable[[Sequence[Picture]], float]


def _most(fits: Callable[[float], bool]) -> float:
    """Return the largest share, to a thousandth, that fits; 0 where none does."""
    low, high = 0.0, 1.0
    for _ in range(10):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _time(expected: float, refined: bool, seconds: float | None) -> Iterator[str]:
    """Yield about how long it takes."""
    if refined and seconds is not None and expected > seconds:
        yield (f"The time is short: a first look at every picture takes about {_span(expected)}, by the pace "
               "of the last render here. Take fewer with --camera or --option, or smaller ones with --size.")
    elif expected >= TOLD_FROM:
        what = "A first look at every picture" if refined else "The pictures"
        yield f"{what}: about {_span(expected)}, by the pace of the last render here; meters come on top."


def _count(pictures: Sequence[Picture]) -> str:
    each = max(pictures, key=lambda one: one.pixels)
    size = f"{each.width}x{each.height}"
    return f"A picture of {size} needs" if len(pictures) == 1 else f"{len(pictures)} pictures of {size} need"


def _size(count: float) -> str:
    if count < 1e6:
        return f"{count / 1e3:.0f} kB"
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.{0 if count >= 1e7 else 1}f} MB"


def _span(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 7200 else f"{seconds / 3600:.1f} h"
