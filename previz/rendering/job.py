"""Get the frames and meters of a stage: from the cache where they are there, else by rendering."""

from __future__ import annotations

import copy
import functools
from collections.abc import Callable
from dataclasses import astuple, dataclass, field
from pathlib import Path
from typing import Any

from previz import __version__
from previz.engine.gather import Standing
from previz.engine.render import open_stage
from previz.frames import Frames
from previz.frames.batches import Batches
from previz.frames.records import Short
from previz.rendering.cache.picture import OnPass, put_together, render_missing, whole_picture
from previz.rendering.cache.plan import LampState, plan
from previz.rendering.cache.store import LampCache
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.progress import Progress
from previz.rendering.request import Order
from previz.stage.bodies import lit_by
from previz.stage.fingerprint import frame_hash, light_path_hash
from previz.stage.ingredients import ingredients
from previz.stage.records import Camera, Stage

METER_SECONDS = 120.0
"""Meters of a render are not run for longer; a meter that is too noisy by then says so. [s]"""


@dataclass
class OnDevice:
    """A stage's copies on the device: lit by all of its lamps, and by some of them alone."""

    buffers: Any = None
    lit: dict[tuple[str, ...], tuple[Stage, Any]] = field(default_factory=dict)


class StageJob:
    """One stage under one order, whose frames and meters it gets, cached or rendered.

    The stage is put on the device when something has to be traced, and stays there until `close`.
    """

    def __init__(self, stage: Stage, order: Order):
        self.stage, self.order = stage, order
        self.paths = light_path_hash(stage)
        # Every order of the stage has the same, and to fingerprint large meshes takes a while.
        self._parts = functools.cache(functools.partial(ingredients, stage))
        self._device = OnDevice()
        self._lamp_cache: LampCache | None = None

    # The device

    @property
    def buffers(self) -> Any:
        """The stage on the device."""
        if self._device.buffers is None:
            self._device.buffers = open_stage(self.stage, self.order.bands, self.order.backend)
        return self._device.buffers

    def lit(self, lamps: tuple[str, ...]) -> tuple[Stage, Any]:
        """Return (stage, its copy on the device) with light from some of the lamps alone."""
        if len(lamps) == len(self.stage.lamps):
            return self.stage, self.buffers
        lit = self._device.lit
        if lamps not in lit:
            alone = lit_by(self.stage, lamps)
            lit[lamps] = alone, open_stage(alone, self.order.bands, self.order.backend)
        return lit[lamps]

    def share(self, other: StageJob) -> None:
        """Use another job's copy on the device, of a stage with the same transport."""
        self._device = other._device

    def like(self, order: Order) -> StageJob:
        """Return a job of the same stage with another order, which shares what is on the device."""
        other = copy.copy(self)
        other.order, other._lamp_cache = order, None
        if (order.bands, order.backend) != (self.order.bands, self.order.backend):
            other._device = OnDevice()
        return other

    def close(self) -> None:
        """Let go of the device; it is free when no other job shares it."""
        self._device = OnDevice()

    # The cache

    @property
    def settings(self) -> tuple[Any, ...]:
        """What light depends on besides stage and camera, for fingerprints."""
        sampling = self.order.sampling
        return self.order.bands, sampling.seed, *astuple(sampling.limits), __version__

    def frame_folder(self, camera: Camera) -> Path:
        """Return the folder of a camera's frames."""
        sampling = self.order.sampling
        work = ("refined",) if self.order.refined else (sampling.samples, sampling.passes)
        if self.order.exact:
            # A picture of light that was used again with other bodies must not stand for one without.
            work = (*work, "exact")
        name = frame_hash(self.paths, camera, self.order.width, self.order.height, *work,
                          *self.settings)
        return self.order.cache / name

    @property
    def lamp_cache(self) -> LampCache:
        """Where each lamp's light is cached."""
        if self._lamp_cache is None:
            self._lamp_cache = LampCache(self.stage, self.order, self._parts())
        return self._lamp_cache

    def cached(self, camera: Camera) -> Frames | None:
        """Return a camera's frames if they are there and whole, else None. Nothing is rendered."""
        return whole_picture(self, camera) or put_together(self, camera)

    def plan(self, camera: Camera, explain: bool = False) -> list[LampState]:
        """Return what is there of each lamp's light, and with `explain` why the rest is not.

        What other places of lamps' bodies do may be measured for it, which takes the engine.
        """
        return plan(self.lamp_cache, camera, self.order.sampling.samples, measure=True,
                    exact=self.order.exact, explain=explain)

    # Pictures and meters

    def render(self, camera: Camera, on_pass: OnPass | None = None) -> Frames:
        """Return a camera's frames, rendering what is not there.

        Raises
        ------
        KeyboardInterrupt
            Passed on after what was gathered has been saved.
        """
        return render_missing(self, camera, on_pass)

    def frames(self, camera: Camera, progress: Progress, label: str) -> Frames:
        """Return a camera's frames, cached or rendered; a picture is 1 of the progress' work."""
        cached = self.cached(camera)
        if cached is not None:
            progress.skip(1.0)
            progress.show(label)
            return cached
        passes, last = self.order.sampling.passes, 0.0

        def on_pass(done: float, found: float) -> None:
            nonlocal last
            if done == found:
                progress.skip(done / passes)
                progress.show(label)
            else:
                progress.add((done - last) / passes, label)
            last = done

        return self.render(camera, on_pass)

    def meters(self, precision: float, on_standing: Callable[[Standing], None] | None = None,
               seconds: float = METER_SECONDS, explain: Callable[[list[str]], None] | None = None,
               ) -> tuple[Batches | None, bool, tuple[Short, ...]]:
        """Return the stage's meters to a precision, going on from what is in the cache.

        Parameters
        ----------
        precision : float
            Relative standard error. [1]
        on_standing : function, optional
            See `metering.Effort`.
        seconds : float
            Stop after about so long without it. [s]
        explain : function, optional
            Called with a line about each lamp: used again or run.

        Returns
        -------
        (Batches or None, bool, tuple of Short)
            None without meters; False where the precision was not reached, and the meters that did
            not.
        """
        if not self.stage.probes:
            return None, True, ()
        meters = StageMeters(self)
        gathered = meters.incident(Effort(precision, min(seconds, METER_SECONDS), on_standing))
        if explain is not None:
            explain(meters.explained())
        return gathered, meters.reached, meters.short(gathered, precision)
