"""What kinds that are a file named by a scene have in common."""

from __future__ import annotations

import contextlib
from abc import ABC, abstractmethod
from dataclasses import dataclass
from pathlib import Path
from random import Random

from previz.errors import SceneError
from previz.scene.read import SceneFile, load

from ..shrink import smaller_bytes
from .staged import named_faults, staged


@dataclass(frozen=True)
class Sample:
    """A good file, and how a scene uses it.

    Parameters
    ----------
    name : str
        The file's name.
    data : bytes
    scene : str
        Text of a scene that names it, without its first line.
    """

    name: str
    data: bytes
    scene: str


@dataclass(frozen=True)
class Given:
    """A damaged file: the number of the sample that it was made of, and its bytes."""

    sample: int
    data: bytes


class FileKind(ABC):
    """Files of one kind; `samples` makes good ones and `damaged` damages one."""

    name: str

    @abstractmethod
    def samples(self) -> list[Sample]:
        """Return good files; the current folder is that of the scene."""

    @abstractmethod
    def damaged(self, sample: Sample, chance: Random) -> bytes:
        """Return what a sample was damaged to."""

    def begin(self, folder: Path) -> None:
        """Read the scenes, which hold for damaged files too: a file is read when it is needed."""
        self.folder, self.good = folder, self.samples()
        self.files: list[SceneFile] = []
        taken = 0
        for number, sample in enumerate(self.good):
            (folder / sample.name).write_bytes(sample.data)
            path = folder / f"scene-{number}.yaml"
            path.write_text(f"previz: 1\n{sample.scene}", encoding="utf-8")
            self.files.append(load(path))
            # Some that are whole are refused too; damage to them must be no better.
            with contextlib.suppress(SceneError):
                named_faults(self.files[-1])
                staged(self.files[-1])
                taken += 1
        assert taken > len(self.good) / 2, taken

    def make(self, chance: Random) -> Given:
        """Return a damaged file."""
        number = chance.randrange(len(self.good))
        return Given(number, self.damaged(self.good[number], chance))

    def attempt(self, given: Given) -> str:
        """Have a scene checked and staged that names it."""
        (self.folder / self.good[given.sample].name).write_bytes(given.data)
        file = self.files[given.sample]
        named_faults(file)
        return staged(file)

    def smaller(self, given: Given):
        """Yield smaller files."""
        for data in smaller_bytes(given.data):
            yield Given(given.sample, data)

    def keep(self, given: Given, folder: Path) -> None:
        """Write it, and its scene."""
        sample = self.good[given.sample]
        (folder / sample.name).write_bytes(given.data)
        (folder / "scene.yaml").write_text(f"previz: 1\n{sample.scene}", encoding="utf-8")
