"""Build a stage in a process of its own, while the program that wants it loads its engine.

To build people and to load the renderer's libraries are work of one core each, so on two cores both take the
time of one. Run as a module with a scene file and an option, this writes the stage to its standard output;
where anything is wrong with the scene it writes nothing, and whoever builds it in the usual way says what.
"""

from __future__ import annotations

import contextlib
import pickle
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from previz.stage.records import Stage

PATIENCE = 60.0
"""How long is waited for a stage; a mesh of millions of triangles takes that. [s]"""


FIRST = "-"
"""Stands for the first option of a scene, or for the scene as written where it has none."""


class StageAhead:
    """A stage that is being built, of one option of a scene, without its `reminders`.

    It is good for a look: what is rendered and written down is made from the usual one, whose arrays lie in
    memory as they were made.

    Parameters
    ----------
    scene : Path
    option : str
        '' for the scene as written, or `FIRST`.
    """

    def __init__(self, scene: Path, option: str):
        self._written = b""
        self._process: subprocess.Popen[bytes] | None = None
        with contextlib.suppress(OSError):
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "previz.stage.ahead", str(scene), option],
                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        # What it writes is more than a pipe takes.
        self._reading = threading.Thread(target=self._read, daemon=True)
        self._reading.start()

    def _read(self) -> None:
        if self._process is not None:
            self._written, _ = self._process.communicate()

    @property
    def ready(self) -> bool:
        """Whether nothing is to be waited for."""
        return not self._reading.is_alive()

    def stage(self) -> Stage | None:
        """Return the stage once it is built, and once only; None where it could not be."""
        self._reading.join(PATIENCE)
        if self._process is None or not self.ready or self._process.returncode or not self._written:
            return None
        written, self._written = self._written, b""
        stage: Stage = pickle.loads(written)
        return stage

    def close(self) -> None:
        """End the process, whatever it does."""
        if self._process is not None and self._process.poll() is None:
            self._process.kill()
        self._reading.join()


def main(scene: str, option: str) -> None:
    """Write a stage to the standard output."""
    # Nothing that is made here is thrown away before the end.
    import gc

    gc.disable()
    from previz.scene.read import load
    from previz.stage.build import build_stage

    file = load(Path(scene))
    if option == FIRST:
        option = (*file.option_names, "")[0]
    stage = build_stage(file.scene(option or None), reminders=False)
    sys.stdout.buffer.write(pickle.dumps(stage, 5))
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    try:
        main(*sys.argv[1:])
    except Exception:
        sys.exit(1)
