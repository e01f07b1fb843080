"""The page's renderer: a process of its own that takes orders on its input, one a line.

    {"do": "frames", "option": ..., "moves": ..., "camera": ..., "stop": ..., "quality": ...}
    {"do": "meters", "option": ..., "moves": ..., "quality": ...}
    {"do": "wants", "option": ..., "moves": ..., "quality": ..., "lines": [...]}
    {"do": "walk", "option": ..., "moves": ..., "quality": ..., "figure": ...}
    {"do": "pause"}                      leave the work in hand where it can be gone on with

It answers on its output, one JSON line each: `progress`, `done`, `paused`, `failed`. It ends when
its input does, so a killed server leaves no renderer behind, and what was rendered by then is kept.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import sys
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from previz.page.clean import write_clean
from previz.page.desk import Desk, PageRequest, Picture, problem_text
from previz.rendering.first_light import load_engine
from previz.rendering.job import StageJob
from previz.rendering.request import LOOK, QUALITIES

if TYPE_CHECKING:
    from previz.page.walking import PageWalk
    from previz.page.wanted import Wanted

NICENESS = 10
"""The renderer steps back for the page, which has to follow a hand."""


class Orders:
    """What comes in: orders one after the other, and whether to leave off the one in hand."""

    def __init__(self, stream):
        self._waiting: queue.Queue = queue.Queue()
        self._left_off = threading.Event()
        threading.Thread(target=self._listen, args=(stream,), daemon=True).start()

    def _listen(self, stream) -> None:
        for line in stream:
            order = json.loads(line)
            if order["do"] == "pause":
                self._left_off.set()
            else:
                # Here and not when it is begun: a pause may follow before that, and counts.
                self._left_off.clear()
                self._waiting.put(order)
        self._left_off.set()
        self._waiting.put(None)

    def next(self) -> dict | None:
        """Return the next order, None when there will be no more."""
        return self._waiting.get()

    @property
    def idle(self) -> bool:
        """Whether there is no order yet."""
        return self._waiting.empty()

    def check(self) -> None:
        """Raise KeyboardInterrupt if the work in hand is to be left off."""
        if self._left_off.is_set():
            raise KeyboardInterrupt


class Renderer:
    """Does what is ordered, one thing at a time; `answer` takes one answer, a dict of plain values."""

    def __init__(self, desk: Desk, orders: Orders, answer: Callable[[dict], None]):
        self.desk, self.orders, self.answer = desk, orders, answer
        self._open: list[StageJob] = []
        """Jobs that share what is on the device."""

    def prepare(self) -> None:
        """Load the engine and build what is looked at first, before there is an order for it."""
        if self.orders.idle:
            load_engine(self.desk.request.request.backend)
        # What is wrong with the scene is said of an order, which may be of another option.
        with contextlib.suppress(Exception):
            if self.orders.idle:
                self.desk.stage(self.desk.options[0])

    def run(self) -> None:
        """Work until there are no more orders."""
        while (order := self.orders.next()) is not None:
            try:
                {"frames": self._frames, "meters": self._meters, "wants": self._wants,
                 "walk": self._walk}[order["do"]](order)
                self.answer({"event": "done", "order": order})
            except KeyboardInterrupt:
                self.answer({"event": "paused", "order": order})
            except Exception as error:  # Whatever goes wrong is the page's to show.
                self.answer({"event": "failed", "order": order, "text": problem_text(error)})

    def _progress(self, order: dict, step: str, share: float) -> None:
        self.answer({"event": "progress", "order": order, "step": step, "share": round(share, 4)})
        self.orders.check()

    def _on_device(self, job):
        """Share the device's copy of a stage with the jobs before; free it for another stage."""
        if self._open and job not in self._open:
            first = self._open[0]
            if first.paths == job.paths and first.order.bands == job.order.bands:
                job.share(first)
            else:
                # It is free when none of those that share it holds on to it.
                for each in self._open:
                    each.close()
                self._open = []
        if job not in self._open:
            self._open.append(job)
        return job

    def _frames(self, order: dict) -> None:
        picture = Picture(order["option"], order["camera"], order["stop"], order["quality"], order["moves"])
        self._progress(order, "setting up", 0.0)
        job, camera = self.desk.job(picture)
        if job.cached(camera) is None:
            passes = job.order.sampling.passes
            self._on_device(job).render(
                camera, lambda done, found: self._progress(order, "rendering", done / passes))
        found = self.desk.frames_at(picture)
        self.answer({"event": "progress", "order": order, "step": "rendered", "share": 1.0})
        if picture.quality == LOOK:
            # There is a draft before it would be clean.
            return
        lamps = len(found.frames.lights)
        for number in range(lamps):
            self._progress(order, "cleaning", number / lamps)
            write_clean(found.clean, found.frames, number)

    def _meters(self, order: dict) -> None:
        camera = self.desk.camera(order["option"], moves=order["moves"])
        self._progress(order, "setting up", 0.0)
        job, _ = self.desk.job(
            Picture(order["option"], camera.name, camera.stop, order["quality"], order["moves"]))
        self._on_device(job).meters(
            QUALITIES[order["quality"]].precision,
            lambda state: self._progress(order, "metering", state.share))

    def _wants(self, order: dict) -> None:
        from previz.page.wanted import wanted_of

        self._progress(order, "setting up", 0.0)
        wanted = wanted_of(self.desk, order["option"], order["lines"], order["moves"])
        if wanted is not None:
            self._on_device(wanted.job)
            self._run(wanted, order)

    def _walk(self, order: dict) -> None:
        from previz.page.walking import walk_of

        self._progress(order, "setting up", 0.0)
        walk = walk_of(self.desk, order["option"], order["figure"], order["moves"])
        self._on_device(walk.job)
        self._run(walk, order)

    def _run(self, metered: Wanted | PageWalk, order: dict) -> None:
        metered.run(QUALITIES[order["quality"]].precision,
                    lambda state: self._progress(order, "metering", state.share))


def work(request: str, orders: Orders, answer: Callable[[dict], None]) -> None:
    """Do what is ordered for a page's request, as JSON; a scene that cannot be used is answered so."""
    try:
        renderer = Renderer(Desk(PageRequest.from_json(request)), orders, answer)
        renderer.prepare()
        renderer.run()
    except BrokenPipeError:
        raise
    except Exception as error:
        answer({"event": "failed", "text": problem_text(error)})


def main() -> None:
    """Read the page's request from the command line, then orders until the input ends."""
    if hasattr(os, "nice"):
        os.nice(NICENESS)
    # Whatever a library prints must not land between the answers.
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8", buffering=1)
    os.dup2(2, 1)

    def write(answer: dict) -> None:
        answers.write(json.dumps(answer) + "\n")
        answers.flush()

    orders = Orders(sys.stdin)
    try:
        work(sys.argv[1], orders, write)
    except BrokenPipeError:
        os._exit(0)


if __name__ == "__main__":
    main()
