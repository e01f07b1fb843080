"""What a day wants: scenes, and of each the options, cameras and qualities."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from previz.rendering.request import Request
from previz.rendering.shards.planning import Split


@dataclass(frozen=True)
class Want:
    """One request for pictures and meters of a scene, as `render` takes it.

    Parameters
    ----------
    request : Request
    options, cameras : tuple of str
        All that the scene has without any.
    """

    request: Request
    options: tuple[str, ...] = ()
    cameras: tuple[str, ...] = ()


@dataclass(frozen=True)
class Task:
    """What is wanted of one scene.

    Parameters
    ----------
    scene : Path
        Its file.
    cache : Path
        Folder of its frames, which all who share the work can write to.
    wants : tuple of Want
        In the order in which one process would render them; all with that cache.
    split : Split
    """

    scene: Path
    cache: Path
    wants: tuple[Want, ...]
    split: Split

    def plain(self) -> dict[str, Any]:
        """Return it as plain values, for a process that may run elsewhere; see `task_of`."""
        wants = [{"request": {**asdict(want.request), "cache": ""}, "options": list(want.options),
                  "cameras": list(want.cameras)} for want in self.wants]
        return {"scene": str(self.scene.resolve()), "cache": str(self.cache.resolve()),
                "split": asdict(self.split), "wants": wants}


def task_of(plain: Mapping[str, Any]) -> Task:
    """Return the task of plain values."""
    cache = Path(plain["cache"])
    wants = []
    for each in plain["wants"]:
        about = {**each["request"], "cache": cache, "size": tuple(each["request"]["size"])}
        wants.append(Want(Request(**about), tuple(each["options"]), tuple(each["cameras"])))
    return Task(Path(plain["scene"]), cache, tuple(wants), Split(**plain["split"]))


def day_of(scenes: Sequence[tuple[Path, Path, Want]], split: Split) -> list[Task]:
    """Return the tasks of (scene, cache, what is wanted), those of one cache together and in their order."""
    found: dict[Path, tuple[Path, list[Want]]] = {}
    for scene, cache, want in scenes:
        found.setdefault(cache, (scene, []))[1].append(want)
    return [Task(scene, cache, tuple(dict.fromkeys(wants)), split) for cache, (scene, wants) in found.items()]
