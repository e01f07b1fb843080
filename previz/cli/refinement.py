"""Refine the pictures of one run: each in its turn, shown after every round, left at any time."""

from __future__ import annotations

import time
from dataclasses import fields

import click

from previz.cli.progress import Progress
from previz.deliver.still import write_still
from previz.exposure.picture import develop
from previz.physics.exposure import CameraSettings
from previz.rendering.refine import Goal, Refiner, Round

SHOWN_EVERY = 5.0
"""Seconds between stills that are written while a picture is refined. [s]"""


METERS = 0.3
"""Share of the time for a picture that the meters of an option get, where a run sets a time. [1]"""


def refinement_for(asked, plan, stems) -> Refinement | None:
    """Return how pictures are refined, None where a run asks for no noise and sets no time.

    Parameters
    ----------
    asked : session.Asked
    plan : sequence of (str, Stage, list of Camera)
        Each option with the cameras that it is rendered for.
    stems : dict
        See `stems.stems_of`.
    """
    if asked.noise is None and asked.seconds is None:
        return None
    return Refinement(asked, sum(len(cameras) + METERS for *_, cameras in plan if cameras), stems)


class Refinement:
    """Refines one picture after the other.

    Parameters
    ----------
    asked : session.Asked
    parts : float
        That share the time: a picture is 1, the meters of an option are `METERS`.
    stems : dict
        See `stems.stems_of`.
    """

    def __init__(self, asked, parts: float, stems):
        self.asked, self.left, self.stems = asked, parts, stems
        self.end = None if asked.seconds is None else time.monotonic() + asked.seconds
        self.stopped = False

    def frames(self, job, camera, option: str, progress: Progress):
        """Return a camera's frames as far as they are to be refined."""
        label = f"{option}, camera {camera.name}" if option else f"camera {camera.name}"
        shown, last, done = 0.0, 0.0, None

        def tell(share: float, noise: float | None) -> None:
            nonlocal last
            text = label if noise is None else f"{label}, noise {noise:.1%}"
            progress.add(max(share - last, 0.0), text)
            last = max(share, last)

        def show(each: Round) -> None:
            nonlocal shown, done
            done = each
            if time.monotonic() - shown > SHOWN_EVERY:
                self._show(each, job, camera, option)
                shown = time.monotonic()

        try:
            done = Refiner(job, camera, self._goal(), tell).run(show)
        except KeyboardInterrupt:
            if done is None or self.stopped:
                raise
            self.stopped = True
        self.left -= 1
        progress.add(1.0 - last, label)
        where = "faces" if done.on_faces else "the picture"
        click.echo(f"{label}: noise of {where} {done.noise:.1%}"
                   + ("; left there, the same command goes on." if self.stopped else "."), err=True)
        return done.frames

    def _goal(self) -> Goal:
        return Goal(None if self.stopped else self.asked.noise, self._share(1.0))

    def _share(self, parts: float) -> float | None:
        """Return the time that there is for some of the parts that are left, None without end."""
        if self.stopped:
            return 0.0
        if self.end is None:
            return None
        return max(0.0, (self.end - time.monotonic()) * parts / max(self.left, parts))

    def meter_seconds(self) -> float | None:
        """Return the time that there is for the meters of the option at hand, None without end."""
        seconds = self._share(METERS)
        self.left -= METERS
        return seconds

    def _show(self, each: Round, job, camera, option: str) -> None:
        """Write the still as it is now, where it will lie in the end."""
        settings = CameraSettings(**{f.name: getattr(camera, f.name)
                                     for f in fields(CameraSettings)})
        developed = develop(each.frames, job.stage.lamps, settings)
        self.asked.out.mkdir(parents=True, exist_ok=True)
        write_still(self.asked.out / f"{self.stems[option, camera.name]}.png", developed.still,
                    {"Description": f"Noise {each.noise:.1%}, being refined"})
