"""What is still to be rendered for the page, in the order that a person at it would want.

Drafts of everything come first, so that there is a picture; then the picture that is
in view, in full; then meters and the rest. One worker process does them one by one and can
be ordered to leave the one in hand where it is.
"""

from __future__ import annotations

import contextlib
import dataclasses
import json
import signal
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

from previz.errors import DataError, PrevizError, RequestError
from previz.page.change_text import read_moves
from previz.page.clean import is_clean
from previz.page.desk import Desk, Picture, problem_text
from previz.page.looks import kept_looks, look_shots
from previz.page.opening import Worker, start_worker
from previz.page.tried import is_tried, make_room, note_tried
from previz.page.walking import walkers
from previz.page.wanted import added_lines
from previz.rendering.request import LOOK
from previz.scene.camera import Camera
from previz.scene.fields import table

PATIENCE = 20.0
"""How long a worker may take to leave off when the page closes. [s]"""

IDLE = 60.0
"""A worker that has nothing to do for so long is let go; a new one takes seconds to begin. [s]"""


MOST_LOOK_SHOTS = 16
"""Pictures that are rendered for looks that are kept, in their order: each may be of another scene."""

LOOKING = {"event": "looking"}
"""Said of the renders while it is not known yet whether anything is missing."""


def is_stop(stop: object) -> bool:
    """Return whether something is a T-stop that a camera may have."""
    entry = table(Camera)["stop"]
    return (isinstance(stop, int | float) and not isinstance(stop, bool)
            and entry.minimum <= stop <= entry.maximum)


class Renders:
    """The renders behind a page.

    `publish` takes one message for the pages, a dict of plain values; it is called from any thread.
    `worker` is a renderer that was started already.
    """

    def __init__(self, desk: Desk, publish: Callable[[dict], None], worker: Worker | None = None):
        self.desk, self._publish = desk, publish
        self._lock = threading.Condition()
        self._in_view: tuple[str, str, float, str] | None = None
        self._process = worker
        self._in_hand: dict | None = None
        self._began = 0.0
        self._over: set[str] = set()
        """Orders that were done or have failed, and are not given again."""
        self._asked = 0
        """How often something else was asked for; who looks for what is next compares it before and after."""
        self._said: dict | None = None
        self._unread: object = None
        """Stamp of a scene file that no worker could begin with, None while there is no such file."""
        self._begun_with: object = None if worker is None else desk.stamp
        self._closing = self._fresh = False
        self._still_until, self._stopped = 0.0, False
        self._due: threading.Timer | None = None
        self._thread = None

    def start(self) -> None:
        """Begin, in the background."""
        with self._lock:
            if self._process is None and self.desk.request.is_new():
                # It loads what it needs while this process looks for what there is.
                self._begun_with = self.desk.stamp_now()
                self._process = self._started()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def show(self, option: str, camera: str, stop: float, moves: str = "") -> None:
        """Say what is on the page now; it is rendered before other things."""
        with self._lock:
            other = self._in_view != (option, camera, stop, moves)
            self._in_view = (option, camera, stop, moves)
            order = self._in_hand
            if other:
                self._look_again()
            other = order is not None and ((order["option"], order["moves"]) != (option, moves)
                                           or order.get("camera", camera) != camera)
            # A walk takes long also as a draft.
            if other and (order["quality"] not in ("draft", LOOK) or order["do"] == "walk"):
                self._send({"do": "pause"})

    def look(self) -> None:
        """Look again for what is to be done: something else is wanted."""
        with self._lock:
            self._look_again()

    def stand_still(self, seconds: float) -> None:
        """Leave the machine to a hand that moves something, for so long or until the next call.

        The worker is stopped where it is, and goes on from there; where a system cannot do that, it leaves
        off what it has in hand.
        """
        with self._lock:
            self._still_until = time.monotonic() + seconds
            if seconds > 0 and not self._stopped and self._process is not None:
                if hasattr(signal, "SIGSTOP"):
                    self._signal(signal.SIGSTOP)
                    self._stopped = True
                else:
                    self._send({"do": "pause"})
            if seconds <= 0:
                self._go_on()
                self._lock.notify_all()
                return
            # Also where the page is never heard of again.
            if self._due is not None:
                self._due.cancel()
            self._due = threading.Timer(seconds, self._go_on_when_due)
            self._due.daemon = True
            self._due.start()

    @property
    def still(self) -> bool:
        """Whether the renders stand still for a hand."""
        return time.monotonic() < self._still_until

    def _go_on_when_due(self) -> None:
        with self._lock:
            if not self.still:
                self._go_on()
                self._lock.notify_all()

    def _go_on(self) -> None:
        if self._stopped:
            self._signal(signal.SIGCONT)
        self._stopped = False

    def _signal(self, number: int) -> None:
        if self._process is not None:
            with contextlib.suppress(OSError):
                self._process.send_signal(number)

    def _look_again(self) -> None:
        """Let go of what was said of the renders: it is of what was asked for before."""
        self._asked += 1
        if self._in_hand is None and self._unread is None and self._thread is not None:
            self._publish(LOOKING)
        self._said = None
        self._lock.notify_all()

    def again(self) -> None:
        """The scene was read again: begin anew with what is missing of it."""
        with self._lock:
            self._over = set()
            self._fresh, self._unread = True, None
            self._send({"do": "pause"})
            self._look_again()

    def close(self) -> None:
        """Stop the worker; what it has is kept on disk."""
        with self._lock:
            self._closing = True
            self._lock.notify_all()
        self._stop_worker()
        if self._thread is not None:
            self._thread.join(PATIENCE)

    @property
    def busy(self) -> bool:
        """True while something is being rendered."""
        return self._in_hand is not None

    # What is next

    def _wishes(self, desk: Desk) -> Iterator[dict]:
        """Yield everything that the pages need, what is in view first."""
        quality = desk.quality
        in_view = self._seen(desk)
        options = [(option, "") for option in desk.options]
        if in_view is not None and in_view[3]:
            options.append((in_view[0], in_view[3]))
        shots = [(option, camera.name, camera.stop, moves)
                 for option, moves in options for camera in desk.cameras(option, moves)]
        if in_view is not None:
            name, camera, _, moved = in_view
            options.sort(key=lambda each: (each != (name, moved), each[0] != name))
            shots.sort(key=lambda shot: ((shot[0], shot[1], shot[3]) != (name, camera, moved),
                                         (shot[0], shot[3]) != (name, moved), shot[0] != name))
        seen = [in_view] if in_view is not None and is_stop(in_view[2]) else []
        for option, camera, stop, moves in shots[:1]:
            # What is looked at first has a picture before there can be a draft of it.
            look = LOOK in desk.qualities(option, camera, moves)
            if look and desk.find(option, camera, stop, moves) is None:
                yield self._frames_order(option, camera, stop, LOOK, moves)
        for option, camera, stop, moves in shots:
            if self._lacks_draft(desk, option, camera, stop, moves) or quality == "draft":
                yield self._frames_order(option, camera, stop, "draft", moves)
        for option, moves in options:
            yield {"do": "meters", "option": option, "moves": moves, "quality": "draft"}
        # Those of the other options can wait until somebody looks at these.
        yield from self._wants(desk, options[:1], "draft")
        yield from self._walks(desk, options[:1], "draft")
        for option, camera, stop, moves in seen:
            yield self._frames_order(option, camera, stop, quality, moves)
        looks = self._look_shots(desk)
        for shot in looks:
            if self._lacks_draft(desk, *shot):
                yield self._frames_order(*shot[:3], "draft", shot[3])
        for option, camera, stop, moves in shots:
            yield self._frames_order(option, camera, stop, quality, moves)
        for option, moves in options:
            yield {"do": "meters", "option": option, "moves": moves, "quality": quality}
        for option, camera, stop, moves in looks:
            yield self._frames_order(option, camera, stop, quality, moves)
        for option, moves in dict.fromkeys((each[0], each[3]) for each in looks if each[3]):
            yield {"do": "meters", "option": option, "moves": moves, "quality": quality}
        yield from self._wants(desk, options, quality)
        yield from self._walks(desk, options, quality)

    @staticmethod
    def _lacks_draft(desk: Desk, *shot: Any) -> bool:
        """Return whether there is nothing of a picture, or a first look alone."""
        found = desk.find(*shot)
        return found is None or found.picture.quality == LOOK

    def _seen(self, desk: Desk) -> tuple[str, str, float, str] | None:
        """Return what is in view, None where there is no such thing in the scene any more."""
        in_view = self._in_view
        if in_view is None or in_view[0] not in desk.options:
            return None
        option, camera, stop, moves = in_view
        try:
            cameras = [each.name for each in desk.cameras(option, moves)]
        except RequestError:
            # What was moved may not fit an edit of the file.
            moves, cameras = "", [each.name for each in desk.cameras(option)]
        return (option, camera, stop, moves) if camera in cameras else None

    @staticmethod
    def _look_shots(desk: Desk) -> list[tuple[str, str, float, str]]:
        """Return what kept looks are shown from: option, camera, stop and moves of each picture."""
        fit = []
        for look in look_shots(kept_looks(desk.changes), MOST_LOOK_SHOTS):
            try:
                moves = read_moves(look.text)
                camera = desk.camera(look.option, look.camera, moves)
            except (DataError, RequestError):
                # The scene may have been written anew since.
                continue
            if look.camera == camera.name and is_stop(look.stop or camera.stop):
                fit.append((look.option, camera.name, look.stop or camera.stop, moves))
        return fit

    @staticmethod
    def _wants(desk: Desk, options: list[tuple[str, str]], quality: str) -> Iterator[dict]:
        for option, moves in options:
            lines = added_lines(desk, option)
            if lines or desk.scene(option, moves).wants:
                yield {"do": "wants", "option": option, "moves": moves, "quality": quality,
                       "lines": list(lines)}

    @staticmethod
    def _walks(desk: Desk, options: list[tuple[str, str]], quality: str) -> Iterator[dict]:
        for option, moves in options:
            for figure in walkers(desk.scene(option, moves)):
                yield {"do": "walk", "option": option, "moves": moves, "quality": quality, "figure": figure}

    @staticmethod
    def _frames_order(option: str, camera: str, stop: float, quality: str, moves: str) -> dict:
        return {"do": "frames", "option": option, "moves": moves, "camera": camera, "stop": stop,
                "quality": quality}

    def _next(self) -> dict | None:
        # An edit of the scene meanwhile makes no fault of what it takes out.
        desk = self.desk.as_it_is()
        for order in self._wishes(desk):
            key = json.dumps(order, sort_keys=True)
            if key in self._over:
                continue
            if order["do"] == "frames":
                found = desk.frames_at(Picture(order["option"], order["camera"], order["stop"],
                                               order["quality"], order["moves"]))
                if found is not None and (order["quality"] == LOOK
                                          or all(is_clean(found.clean, len(found.frames.lights)))):
                    self._no_more(key)
                    continue
            return order
        return None

    def _run(self) -> None:
        idle_since, fault = 0.0, ("", "")
        while not self._closing:
            if self._fresh:
                # The worker has read the scene as it was.
                self._stop_worker()
                self._fresh = False
            with self._lock:
                if self.still and not self._closing:
                    self._lock.wait(1.0)
                    continue
                asked = self._asked
                if self._unread is not None and self._unread == self.desk.stamp_now():
                    self._lock.wait(1.0)
                    continue
                self._unread = None
            try:
                order, state = self._next(), {"event": "idle"}
            except Exception as error:  # A mesh that cannot be used, say: the page shows it.
                # It comes up at every look, and leaves one report.
                if repr(error) != fault[0]:
                    fault = repr(error), problem_text(error)
                order, state = None, {"event": "failed", "text": fault[1]}
            if order is not None:
                self._said = None
                self._do(order)
                continue
            with self._lock:
                # What was asked for meanwhile has not been looked for yet.
                if asked != self._asked:
                    continue
                if state != self._said:
                    self._said, idle_since = state, time.monotonic()
                    self._publish(state)
            if time.monotonic() - idle_since > IDLE:
                self._stop_worker()
            with self._lock:
                # Nothing to do until somebody opens something else, or the scene changes.
                if not self._closing and asked == self._asked:
                    self._lock.wait(5.0)

    # The worker

    def _do(self, order: dict) -> None:
        """Have one order done by the worker, started if there is none."""
        key = json.dumps(order, sort_keys=True)
        with self._lock:
            if self._closing or self._fresh:
                return
            if self._process is None:
                self._begun_with = self.desk.stamp_now()
                self._process = self._started()
            process, self._in_hand, self._began = self._process, order, time.monotonic()
            self._send(order)
        for line in process.stdout:
            answer = json.loads(line)
            if "order" not in answer:
                # It could not even begin, and has ended.
                self._stop_worker()
                self._hold(answer["text"])
                break
            self._pass_on(answer)
            if answer["event"] in ("done", "failed"):
                self._no_more(key)
            if answer["event"] == "done" and order["do"] == "frames":
                self._bound(order)
            if answer["event"] != "progress":
                break
        else:
            self._no_more(key)
            if not self._closing:
                self._pass_on({"event": "failed", "order": order, "text":
                               "The renderer stopped. `previz doctor` shows what it needs."})
            self._stop_worker()
        with self._lock:
            self._in_hand = None

    def _bound(self, order: dict) -> None:
        """Keep what is only tried within its limit; what had to go is rendered anew when it is looked at."""
        desk = self.desk.as_it_is()
        # An edit of the scene, or a full disk, is told where it matters.
        with contextlib.suppress(PrevizError, OSError):
            picture = Picture(**{each.name: order[each.name] for each in dataclasses.fields(Picture)})
            if not is_tried(desk, picture):
                return
            note_tried(desk, picture)
            for gone in make_room(desk, self._in_view):
                with self._lock:
                    self._over.discard(json.dumps(self._frames_order(
                        gone.option, gone.camera, gone.stop, gone.quality, gone.moves), sort_keys=True))

    def _hold(self, text: str) -> None:
        """Give no more orders until the scene file is another one than no worker could begin with."""
        with self._lock:
            if self._fresh or self._closing:
                return
            self._unread, self._said = self._begun_with, None
            self._publish({"event": "held", "text": text})

    def _no_more(self, key: str) -> None:
        with self._lock:
            # Done or failed for a scene that is no more says nothing of the new one.
            if not self._fresh:
                self._over.add(key)

    def _pass_on(self, answer: dict) -> None:
        share = answer.get("share", 0.0)
        spent = time.monotonic() - self._began
        if answer["event"] == "progress" and 0.05 < share < 1.0:
            answer["left_s"] = round(spent * (1 - share) / share, 1)
        if answer.get("step") == "cleaning" and share == 0.0:
            self._began = time.monotonic()
        self._publish(answer)

    def _started(self) -> Worker:
        return start_worker(self.desk.request)

    def _send(self, order: dict) -> None:
        if self._process is not None:
            with contextlib.suppress(OSError, ValueError):
                self._process.stdin.write(json.dumps(order) + "\n")
                self._process.stdin.flush()

    def _stop_worker(self) -> None:
        with self._lock:
            self._go_on()
            process, self._process = self._process, None
        if process is None:
            return
        # At the end of its input the worker saves what it has and ends.
        with contextlib.suppress(OSError):
            process.stdin.close()
        try:
            process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
        process.stdout.close()
