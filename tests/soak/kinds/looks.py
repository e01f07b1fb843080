"""Looks saved into scene files of any layout: the look is there, and every other byte is as it was."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from random import Random

import yaml
from furnished import request_for

from previz.page.change_text import read_changes
from previz.page.desk import Desk
from previz.page.save import save_look
from previz.scene.read import load
from previz.studies.changes import changed_scene

from ..damage import broken_text
from ..guard import ViolationError
from ..shrink import smaller_bytes
from .page_scene import NAMES, OPTIONS, look

TREE = {
    "previz": "1",
    "title": "Canteen, last shift",
    "daylight": {
        "sky": "overcast",
        "illuminance": "40 lx",
        "sun": {"azimuth": "200 deg", "altitude": "20 deg", "illuminance": "5 klx"},
    },
    "lights": [
        {
            "name": "counter",
            "kind": "bulb",
            "at": ["1 m", "1 m", "2 m"],
            "output": "900 lm",
            "spectrum": "tungsten",
            "cct": "3000 K",
        },
        {
            "name": "key",
            "kind": "panel",
            "at": ["3 m", "0.5 m", "2 m"],
            "aim": "table",
            "size": ["0.6 m", "0.3 m"],
            "output": "4000 lm",
            "cct": "4300 K",
        },
        {
            "name": "rim",
            "kind": "panel",
            "at": ["0.5 m", "2.5 m", "2.2 m"],
            "aim": "table",
            "size": ["0.3 m", "0.3 m"],
            "output": "1500 lm",
            "cct": "5600 K",
            "dimmer": "60 %",
            "gel": ["quarter cto", {"transmission": "80 %"}],
        },
    ],
    "pieces": [
        {"name": "table", "shape": "table", "at": ["2 m", "1.5 m"], "size": ["1 m", "0.6 m", "0.75 m"]}
    ],
    "cameras": [
        {
            "name": "A",
            "at": ["2 m", "0.3 m", "1.4 m"],
            "aim": "table",
            "lens": "24 mm",
            "stop": "T2.8",
            "iso": "800",
        },
        {
            "name": "B",
            "at": ["3.6 m", "0.4 m", "1.6 m"],
            "aim": "table",
            "lens": "35 mm",
            "stop": "T2.8",
            "iso": "800",
        },
    ],
}
CHOICES = (
    {},
    None,
    {"early": {}},
    {"early": {}, "late": {"lights": {"key": {"dimmer": "40 %", "cct": "3600 K"}}}},
    {"early": "", "late": {"like": "early", "lights": {"rim": {"gel": "none"}}}},
    "none",
    [],
    {"late": "none"},
)


@dataclass(frozen=True)
class Given:
    """A scene file, and what is saved into it."""

    text: bytes
    wanted: dict


class Looks:
    """A saved look."""

    name = "looks"

    def begin(self, folder: Path) -> None:
        """Take a folder for each input."""
        self.folder = folder

    def make(self, chance: Random) -> Given:
        """Return a file of a random layout, and a look."""
        text, options = _laid_out(chance)
        wrong = chance.random() < 0.1
        wanted = {
            "name": chance.choice(
                NAMES if wrong else ("dusk", "Early look", "last shift", "\u00e9t\u00e9", "x-1")
            ),
            "option": chance.choice(OPTIONS if wrong else ("", *options)),
            "look": look(chance),
            "where": chance.choice(
                ("scene", "scene", "own file", "elsewhere") if wrong else ("scene", "own file")
            ),
        }
        if chance.random() < 0.02:
            wanted[chance.choice(list(wanted))] = chance.choice((None, 1, [], {}, True))
        return Given(text, wanted)

    def attempt(self, given: Given) -> str:
        """Save it, and read back what was written."""
        path = self.folder / "canteen.yaml"
        for each in self.folder.glob("canteen*"):
            each.unlink()
        path.write_bytes(given.text)
        desk = Desk(request_for(self.folder))
        before = desk.file
        try:
            # As it comes from a page: JSON, whatever numbers are in it.
            wanted = json.loads(json.dumps(given.wanted))
            saved = save_look(desk, wanted)
        except Exception:
            if path.read_bytes() != given.text or len(list(self.folder.glob("canteen*"))) != 1:
                raise ViolationError("refused, and yet the folder was changed") from None
            raise
        written = Path(saved["path"])
        found, name = load(written), saved["option"]
        for option, scene in before.scenes.items():
            if found.scenes.get(option) != scene:
                raise ViolationError(f"the option '{option}' is another after the look was saved")
        base = str(wanted["option"])
        asked = changed_scene(desk.scene(base), desk.stage(base), read_changes(json.dumps(wanted["look"])))
        if found.scene(name) != replace(asked, option=name):
            raise ViolationError("what was saved is not the look")
        if written != path and path.read_bytes() != given.text:
            raise ViolationError("a look in a file of its own has changed the scene's")
        _only_added(given.text, written.read_bytes())
        return "saved"

    def smaller(self, given: Given):
        """Yield less of the look, then less of the file."""
        wanted = given.wanted.get("look")
        for group in wanted if isinstance(wanted, dict) else ():
            for each in wanted[group] if isinstance(wanted[group], dict) else ():
                fewer = {key: value for key, value in wanted[group].items() if key != each}
                yield Given(given.text, {**given.wanted, "look": {**wanted, group: fewer}})
        for text in smaller_bytes(given.text):
            yield Given(text, given.wanted)

    def keep(self, given: Given, folder: Path) -> None:
        """Write the file and the look."""
        (folder / "canteen.yaml").write_bytes(given.text)
        (folder / "wanted.json").write_text(json.dumps(given.wanted, indent=1))


def _only_added(before: bytes, after: bytes) -> None:
    """Raise a ViolationError unless one piece was put in, spaces about it aside."""
    old, new = b"".join(before.split()), b"".join(after.split())
    start = next(
        (k for k, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new))
    )
    end = next(
        (k for k, (a, b) in enumerate(zip(old[::-1], new[::-1], strict=False)) if a != b),
        min(len(old), len(new)),
    )
    if start + end < len(old):
        raise ViolationError("more of the file was changed than that a piece was put in")


def _laid_out(chance: Random) -> tuple[bytes, list[str]]:
    """Return the scene as text, as people and programs lay it out, and the names of its options."""
    tree = {key: value for key, value in TREE.items() if key != "title" or chance.random() < 0.8}
    options = chance.choice(CHOICES[:5] if chance.random() < 0.95 else CHOICES[5:])
    text = "".join(_section(key, value, chance) for key, value in _shuffled(tree, options, chance))
    lines = text.split("\n")
    for _ in range(chance.choice((0, 1, 2, 4))):
        comment = chance.choice(("# note", "  # deeper", "", "   ", "#", "# options:", "# }", "      # far"))
        lines.insert(chance.randrange(len(lines) + 1), comment)
    for _ in range(chance.choice((0, 1, 2))):
        row = chance.randrange(len(lines))
        lines[row] += chance.choice(("  # tail", " ", "  ", "   # } tail", "  #"))
    text = "\n".join(lines)
    if chance.random() < 0.3:
        text = text.rstrip("\n")
    text += chance.choice(
        ("",) * 6 + ("\n...\n", "\n... # end\n", "\n\n\n", "\n# last\n", "\n# last") * 2 + ("\n---\n",)
    )
    if chance.random() < 0.1:
        text = "---\n" + text
    if chance.random() < 0.2:
        text = text.replace("\n", "\r\n")
    if chance.random() < 0.02:
        text = broken_text(text, chance)
    data = chance.choice((b"",) * 6 + (b"\xef\xbb\xbf",)) + text.encode("utf-8", "surrogatepass")
    return data, list(options) if isinstance(options, dict) and b"options" in data else []


def _shuffled(tree: dict, options: object, chance: Random) -> list[tuple[str, object]]:
    parts = list(tree.items())
    if chance.random() < 0.8:
        parts.insert(
            chance.choice((len(parts), len(parts), chance.randrange(len(parts) + 1))), ("options", options)
        )
    return parts


def _section(key: str, value: object, chance: Random) -> str:
    """Return a section in lines, in brackets, or in both."""
    if isinstance(value, str):
        return f"{key}: {value}\n"
    width = chance.choice((40, 110, 10_000))
    match chance.randrange(3):
        case 0:
            rows = (
                yaml.safe_dump(value, default_flow_style=True, sort_keys=False, width=width)
                .rstrip()
                .split("\n")
            )
            text = f"{key}: " + "\n  ".join(row for row in rows if row != "...") + "\n"
        case style:
            text = yaml.safe_dump(
                {key: value},
                default_flow_style=None if style == 1 else False,
                sort_keys=False,
                width=width,
                indent=chance.choice((2, 2, 4)),
            )
            if text.startswith("{"):
                text = f"{key}: {text[text.index(':') + 1 :].strip()[:-1]}\n"
    text = text.replace(" ''", "").replace(" null", "")
    if value in ({}, None) and chance.random() < 0.5:
        text = f"{key}:\n"
    if key == "options" and chance.random() < 0.2:
        text = text.replace("early", chance.choice(('"early"', "early ", "'early'", "&x early")), 1)
    return text
