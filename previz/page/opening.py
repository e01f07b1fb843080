"""What a page is requested for, and its renderer, which is started before the rest of the page is loaded."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from previz.page.apart import apart
from previz.rendering.request import Request


@dataclass(frozen=True)
class PageRequest:
    """What is to be on the page: of a scene file, these options and cameras, all without any.

    The folder is that of the scene's renders; the page's own files lie in it.
    """

    scene: Path
    folder: Path
    request: Request
    options: tuple[str, ...] = ()
    cameras: tuple[str, ...] = ()

    def to_json(self) -> str:
        """Return it as text, for another process."""
        return json.dumps(dataclasses.asdict(self), default=str)

    @staticmethod
    def from_json(text: str) -> PageRequest:
        """Return what `to_json` wrote."""
        plain = json.loads(text)
        inner = plain["request"]
        request = Request(**{**inner, "cache": Path(inner["cache"]), "size": tuple(inner["size"])})
        return PageRequest(Path(plain["scene"]), Path(plain["folder"]), request,
                           tuple(plain["options"]), tuple(plain["cameras"]))

    def is_new(self) -> bool:
        """Return whether nothing seems to be rendered: nothing was kept since the scene was written."""
        with contextlib.suppress(OSError):
            return self.request.cache.stat().st_mtime < self.scene.stat().st_mtime
        return True


Worker = subprocess.Popen


def start_worker(request: PageRequest) -> Worker:
    """Start the page's renderer; see `worker`."""
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "previz.page.worker", request.to_json()], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, text=True, encoding="utf-8", bufsize=1, **apart(below=True))


def leave(worker: Worker) -> None:
    """End a renderer that was started, wherever it is; what is rendered is kept."""
    if worker.poll() is None:
        worker.kill()
    with contextlib.suppress(OSError), worker:
        pass
