"""A process at a day's units: its tasks on standard input, a line of JSON for each unit that it has done.

It is started by `processes`, and ends with 2 where something is to be mended, which its last line says.
"""

from __future__ import annotations

import json
import signal
import sys
from typing import Any

from previz.errors import PrevizError, resource_error
from previz.rendering.progress import Progress
from previz.rendering.shards.units import Unit
from previz.studies.shard.day import Task, task_of
from previz.studies.shard.work import Worker

MENDABLE, INTERRUPTED = 2, 130


def main() -> int:
    """Do the work, and return the exit status."""
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    asked = json.loads(sys.stdin.readline())

    def on_unit(task: Task, unit: Unit) -> None:
        _say({"unit": unit.name, "cache": str(task.cache)})

    try:
        Worker([task_of(each) for each in asked["tasks"]], Progress(), on_unit=on_unit).run()
    except KeyboardInterrupt:
        return INTERRUPTED
    except (PrevizError, OSError, MemoryError, RuntimeError) as error:
        told = error if isinstance(error, PrevizError) else resource_error(error)
        if told is None:
            raise
        _say({"error": str(told)})
        return MENDABLE
    return 0


def _say(line: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main())
