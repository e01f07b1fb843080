"""Scene files: the shipped ones and one of every field, put out of order by letters, lines and parts."""

from __future__ import annotations

import shutil
from pathlib import Path
from random import Random

import yaml

from ..damage import ODD_NUMBERS, TEXTS, broken_bytes, broken_text
from ..shrink import smaller_bytes
from .staged import checked, staged

HERE = Path(__file__).resolve().parents[2]
SHIPPED = HERE.parent / "scenes"
EXAMPLE = HERE / "scene"

SHARE_STAGED = 8
"""Of the good files with figures, one in so many is staged: a figure takes a second."""


class Scenes:
    """The text of a scene file."""

    name = "scenes"

    def begin(self, folder: Path) -> None:
        """Put the files that the scenes name beside them."""
        for source in (EXAMPLE, SHIPPED):
            for each in source.iterdir():
                if each.is_dir() and each.name not in ("messages", "__pycache__"):
                    shutil.copytree(each, folder / each.name, dirs_exist_ok=True)
        self.path = folder / "scene.yaml"
        paths = (EXAMPLE / "example.yaml", *sorted(SHIPPED.glob("*.yaml")))
        self.texts = [path.read_text(encoding="utf-8") for path in paths]
        self.trees = [yaml.load(text, yaml.BaseLoader) for text in self.texts]
        self.words = sorted({word for tree in self.trees for word in _scalars(tree)})
        self.parts = [part for tree in self.trees for part in _parts(tree)]

    def make(self, chance: Random) -> bytes:
        """Return a text, mostly of a small scene: what is wrong with it is found no less."""
        if chance.random() < 0.03:
            text = chance.choice(self.texts)
        else:
            tree = self._thinned(chance.choice(self.trees), chance)
            for _ in range(chance.choice((0, 1, 1, 2, 3, 5))):
                self._change(tree, chance)
            flow = chance.choice((None, True, False))
            text = dumped(tree, flow)
        if chance.random() < 0.4:
            text = broken_text(text, chance, (*TEXTS, *self.words))
        data = text.encode("utf-8", "surrogatepass")
        return broken_bytes(data, chance, 2) if chance.random() < 0.1 else data

    def attempt(self, given: bytes) -> str:
        """Check it and, where it is good, stage it."""
        self.path.write_bytes(given)
        return staged(checked(self.path), figures=sum(given) % SHARE_STAGED == 0)

    def smaller(self, given: bytes):
        """Yield smaller texts."""
        yield from smaller_bytes(given)

    def keep(self, given: bytes, folder: Path) -> None:
        """Write it."""
        (folder / "scene.yaml").write_bytes(given)

    def _thinned(self, tree: dict, chance: Random) -> dict:
        """Return a copy with few of its things."""
        kept = {}
        for key, value in tree.items():
            if key == "options" and chance.random() < 0.6:
                continue
            if isinstance(value, list) and len(value) > 1:
                value = chance.sample(value, chance.randint(1, min(2, len(value))))
            if key == "previz" or chance.random() < 0.5:
                kept[key] = _copied(value)
        return kept

    def _change(self, tree, chance: Random) -> None:
        """Change a tree in place at one of its parts."""
        holders = [part for part in _parts(tree) if part]
        if not holders:
            return
        holder = chance.choice(holders)
        key = chance.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
        match chance.randrange(7):
            case 0:
                del holder[key]
            case 1:
                holder[key] = chance.choice(self.words)
            case 2:
                holder[key] = _copied(chance.choice(self.parts))
            case 3:
                holder[key] = _other_number(holder[key], chance)
            case 4:
                holder[key] = chance.choice(TEXTS)
            case 5 if isinstance(holder, dict):
                holder[chance.choice(self.words)] = holder.pop(key)
            case _:
                other = chance.choice(holders)
                at = chance.choice(list(other) if isinstance(other, dict) else range(len(other)))
                holder[key] = _copied(other[at])


def dumped(tree, flow: bool | None = None) -> str:
    """Return a tree of plain values as YAML; by libyaml, where there is any, in a tenth of the time."""
    dumper = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
    return yaml.dump(
        tree, Dumper=dumper, default_flow_style=flow, allow_unicode=True, sort_keys=False, width=110
    )


def _other_number(value, chance: Random):
    if not isinstance(value, str):
        return [value] * chance.choice((0, 1, 2, 4))
    number, _, unit = value.partition(" ")
    return f"{chance.choice(ODD_NUMBERS)} {unit}".strip() if number[:1].isdigit() else f"{value} {value}"


def _scalars(tree):
    if isinstance(tree, str):
        yield tree
    for key, value in (
        tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    ):
        if isinstance(key, str):
            yield key
        yield from _scalars(value)


def _parts(tree):
    """Yield every mapping and list of a tree."""
    if isinstance(tree, dict | list):
        yield tree
        for value in tree.values() if isinstance(tree, dict) else tree:
            yield from _parts(value)


def _copied(value):
    if isinstance(value, dict):
        return {key: _copied(each) for key, each in value.items()}
    return [_copied(each) for each in value] if isinstance(value, list) else value
