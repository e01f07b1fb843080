"""The server's side of the quick renderer: one process while something is moved, and who may ask it when.

The last wish of a page counts: one that waits while a newer one comes is dropped. While there are wishes the
renders behind the page stand still.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import threading
from collections.abc import Mapping
from typing import Any

from previz.errors import DataError
from previz.page.answers import BYTES, PNG, Answer, framed
from previz.page.apart import apart
from previz.page.desk import Desk
from previz.page.renders import Renders

IDLE = 60.0
"""The process is let go after so long without a wish. [s]"""

LINGERS = 5.0
"""It stays for so long after the last page has closed: a page that is loaded anew closes too. [s]"""

HELD = 10.0
"""The renders stand still for so long after the last wish, unless the hand is said to rest. [s]"""

READY = "hand gets ready"
"""Name of the threads in which that is done."""

PATIENCE = 5.0
"""How long the process may take to end. [s]"""


class Hand:
    """What follows a hand on the page."""

    def __init__(self, desk: Desk, renders: Renders):
        self.desk, self.renders = desk, renders
        self._lock, self._turn = threading.Lock(), threading.Lock()
        self._newest: dict[str, int] = {}
        self._coming: dict | None = None
        self._count = 0
        self._process: subprocess.Popen | None = None
        self._idle: threading.Timer | None = None
        self._closed = False

    @property
    def running(self) -> bool:
        """Whether there is a process."""
        return self._process is not None

    def ready(self, option: str, camera: str, look: str, lamps: list[str], held: bool = True) -> None:
        """Get ready for something to be moved; it takes a second or two where there is no process yet.

        The renders stand still once something is held.
        """
        if held:
            self.renders.stand_still(HELD)
        wish = {"option": option, "camera": camera, "look": look, "lamps": lamps}
        with self._lock:
            waits, self._coming = self._coming is not None, wish
        # One that waits takes the newest with it, so that they never pile up.
        if not waits:
            threading.Thread(target=self._prepare, name=READY, daemon=True).start()

    def rest(self) -> None:
        """Nothing is moved any more: the renders go on."""
        self.renders.stand_still(0.0)

    def answer(self, query: Mapping[str, str]) -> Answer:
        """Return the small picture that a page wishes for, or the note that it was dropped for a newer wish.

        Query
        -----
        option, camera, look
            As for other questions.
        base
            What was moved in the picture that is there, as JSON; none where there is none.
        rounds
            How many rounds are there of the very same wish.
        png
            A picture as the page without a GPU shows it.
        page
            Whose wish it is.

        Raises
        ------
        DataError
            The option, camera or what is moved is none of the scene's, or the renderer has stopped.
        """
        try:
            wish = {"option": query.get("option", self.desk.options[0]), "camera": query.get("camera", ""),
                    "look": query.get("look", ""), "base": json.loads(query.get("base") or "null"),
                    "rounds": int(query.get("rounds", 0)), "png": bool(query.get("png"))}
        except ValueError:
            raise DataError("the wish is not one", "Reload the page.") from None
        page = query.get("page", "")
        with self._lock:
            self._count += 1
            number = self._newest[page] = self._count
        with self._turn:
            if self._newest.get(page) != number:
                return framed({"dropped": True}, b"")
            self.renders.stand_still(HELD)
            head, payload = self._ask(wish)
        with self._lock:
            if self._newest.get(page) == number:
                del self._newest[page]
        if "fault" in head:
            raise DataError(head["fault"], "")
        if wish["png"]:
            return framed({**head, "kind": PNG}, payload + bytes(len(payload) % 2))
        return Answer(framed(head, payload).body, BYTES)

    def again(self) -> None:
        """The scene was read again: the process has it as it was."""
        with self._turn:
            self._let_go()

    def close(self) -> None:
        """End the process; there will be no other."""
        self._closed = True
        with self._turn:
            self._let_go()

    def idle(self) -> None:
        """No page is open: end the process soon, unless there is another wish."""
        self.rest()
        with self._lock:
            if self._process is not None:
                self._end_after(LINGERS)

    # The process

    def _prepare(self) -> None:
        with self._turn:
            with self._lock:
                wish, self._coming = self._coming, None
            self._ask(wish)

    def _ask(self, wish: dict) -> tuple[dict[str, Any], bytes]:
        """Return the process' answer to a wish, a new one's where it has stopped."""
        for _ in range(2):
            if self._closed:
                break
            process = self._process = self._process or self._started()
            try:
                process.stdin.write(json.dumps(wish).encode() + b"\n")
                process.stdin.flush()
                line = process.stdout.readline()
                head = json.loads(line) if line.endswith(b"\n") else None
                payload = b"" if head is None else process.stdout.read(head["bytes"])
            except (OSError, ValueError):
                head = None
            if head is not None and len(payload) == head["bytes"]:
                with self._lock:
                    self._end_after(IDLE)
                return head, payload
            self._let_go()
        return {"fault": "The quick renderer stopped. `previz doctor` shows what it needs."}, b""

    def _started(self) -> subprocess.Popen:
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "previz.page.hand_worker", self.desk.request.to_json()],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, **apart())

    def _end_after(self, seconds: float) -> None:
        """Let the process go if there is no wish until then."""
        if self._idle is not None:
            self._idle.cancel()
        self._idle = threading.Timer(seconds, self.again)
        self._idle.daemon = True
        self._idle.start()

    def _let_go(self) -> None:
        if self._idle is not None:
            self._idle.cancel()
        process, self._process = self._process, None
        if process is None:
            return
        for stream in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                stream.close()
        try:
            process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
