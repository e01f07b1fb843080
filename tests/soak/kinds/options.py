"""The command line: any options of any command, right and wrong, up to where the engine would begin."""

from __future__ import annotations

import importlib
import os
import shutil
from pathlib import Path
from random import Random

import click
from click.testing import CliRunner

from previz.cli.main import COMMANDS, previz
from previz.errors import PrevizError, resource_error
from previz.page import opening

from ..damage import ODD_NUMBERS, TEXTS, broken_bytes, broken_text
from ..shrink import smaller_list

SCENE = """\
previz: 1
title: Signal cabin
room:
  size: [5 m, 4 m, 2.6 m]
  openings: [{name: yard window, wall: west, along: 2 m, sill: 1 m, size: [1 m, 1 m]}]
figures: [{name: clerk, person: person one, pose: standing, at: [2 m, 2 m], facing: A}]
daylight: {sky: overcast, illuminance: 3 klx, sun: {azimuth: 250 deg, altitude: 20 deg, illuminance: 20 klx}}
haze: {visibility: 60 m}
lights: [{name: key, kind: panel, at: [4 m, 1 m, 2 m], aim: clerk.face, size: [0.6 m, 0.3 m], output: 4 klm}]
cameras: [{name: A, at: [2 m, 0.3 m, 1.5 m], aim: clerk.eyes, lens: 35 mm, stop: T2.8, iso: 800}]
meters: [{name: desk, at: [2 m, 1 m, 1 m]}]
options: {bounce: {}, low: {lights: {key: {dimmer: 20 %}}}}
"""
BROKEN = "previz: 1\nlights: [{name: a, kind: bulb, output: 3}]\ncolour: red\n"
CDL = """<ColorDecisionList xmlns="urn:ASC:CDL:v1.01"><ColorDecision><ColorCorrection id="one">
<SOPNode><Slope>1.1 1 0.9</Slope><Offset>0 0 0.01</Offset><Power>1 1 1.05</Power></SOPNode>
<SatNode><Saturation>0.9</Saturation></SatNode></ColorCorrection></ColorDecision></ColorDecisionList>
"""
CUBE = "LUT_3D_SIZE 2\n" + "\n".join(f"{r} {g} {b}" for b in (0, 1) for g in (0, 1) for r in (0, 1)) + "\n"

SCENES = ("depot.yaml",) * 8 + (
    "broken.yaml",
    "missing.yaml",
    "bytes.yaml",
    "folder",
    "empty.yaml",
    ".",
    "",
    "\udcff.yaml",
    "x" * 300 + ".yaml",
    "cube.cube",
)
NAMES = (
    "A",
    "clerk",
    "key",
    "bounce",
    "low",
    "desk",
    "yard window",
    "",
    "nobody",
    "clerk.eyes",
    "x" * 400,
    "\u00e9",
    "-",
)
VALUES = (
    "960x540",
    "16",
    "16384",
    "320",
    "0x0",
    "99999999",
    "2%",
    "0.01 %",
    "100%",
    "10 min",
    "90 s",
    "2 h",
    "1e-9 s",
    "face=0.3",
    "ratio=0.1",
    "=",
    "A=clerk",
    "A=nobody",
    "51.5, 7.1",
    "91,0",
    "0,181",
    "2026-10-14",
    "0001-01-01",
    "9999-12-31",
    "+01:00",
    "Europe/Berlin",
    "+99:00",
    "13:30",
    "24:00",
    "7:5",
    "0, 1/2, 1",
    "1/0",
    "1,1,1,1,1,1,1,1,1",
    "0.6 m, 1.2 m",
    "0 m",
    "-4 stops",
    "none",
    "+1 stop",
    "1.1,1,0.9",
    "nan,1,1",
    "inf",
    "2.39",
    "16:9",
    "1:0",
    "own",
    "3200 K",
    "0.5,0.5",
    "0.5,0.5,0.1,0.1",
    "240 deg,30 deg",
    "20 GB",
    "1 MB",
    "500 kB",
    "0 GB",
    "white card",
    "glass",
    "scene.json",
    "still.png?camera=A",
    "meters.json",
    "../../etc/passwd",
    "spot.json?x=0.5&y=0.5",
    "index.html",
)
FILES = (
    "grade.cdl",
    "cube.cube",
    "missing.cdl",
    "depot.yaml",
    "folder",
    "bytes.cc",
    "wrong.cube",
    "wrong.cdl",
)
OUTS = (
    "out",
    "out/deep/er",
    "depot.yaml",
    "out.json",
    "out.csv",
    "folder",
    "out/" + "x" * 240,
    "bytes.yaml/x",
)


STOPS = (
    "previz.rendering.job.StageJob.__init__",
    "previz.studies.haze.open_stage",
    "previz.studies.block.first_hits",
    "previz.page.serving.serve",
    "previz.checks.validate.values",
    "previz.checks.validate.stated_errors",
    "previz.cli.bench.measure",
    "previz.checks.benches.setting.setting_for",
    "previz.cli.doctor.examine",
    "previz.cli.watching.Watch.wait",
)
"""Where the engine, a server or a long work begins."""


class Reached(Exception):  # noqa: N818
    """All was read and understood; now the engine, a server or a long work would begin."""


def _reached(*given, **words):
    raise Reached


class Options:
    """The words of a command line."""

    name = "options"

    def begin(self, folder: Path) -> None:
        """Write a scene and what else is named; what would render, serve or wait only says so."""
        # A folder that is asked for may be written to, and `..` can be asked for.
        self.folder = folder / "depot" / "here"
        self.folder.mkdir(parents=True)
        os.chdir(self.folder)
        self._furnish()
        (self.folder / "cleared").mkdir()
        for place in STOPS:
            module, _, name = place.rpartition(".")
            try:
                owner = importlib.import_module(module)
            except ModuleNotFoundError:
                module, _, cls = module.rpartition(".")
                owner = getattr(importlib.import_module(module), cls)
            assert hasattr(owner, name), place
            setattr(owner, name, _reached)
        # A page's renderer starts before the scene is read; what is read then is tried without one.
        opening.start_worker = lambda request: None
        self.commands = {name: previz.get_command(None, name) for name in COMMANDS}

    def _furnish(self) -> None:
        for each in self.folder.iterdir():
            shutil.rmtree(each) if each.is_dir() else each.unlink()
        files = {
            "depot.yaml": SCENE,
            "broken.yaml": BROKEN,
            "empty.yaml": "",
            "grade.cdl": CDL,
            "cube.cube": CUBE,
        }
        for name, text in files.items():
            (self.folder / name).write_text(text, encoding="utf-8")
        for name in ("bytes.yaml", "bytes.cc"):
            (self.folder / name).write_bytes(bytes(range(256)))
        (self.folder / "folder").mkdir()

    def make(self, chance: Random) -> list[str]:
        """Return the words of a command line, files that they name damaged by the first two."""
        name = chance.choice(list(COMMANDS))
        words = [str(chance.randrange(1 << 30)), name]
        for parameter in self.commands[name].params:
            if isinstance(parameter, click.Argument):
                for _ in range(
                    chance.choice((1, 1, 1, 1, 0, 2) if parameter.nargs == -1 else (1, 1, 1, 1, 1, 0))
                ):
                    words.append(self._argument(parameter, chance))
            elif parameter.required or chance.random() < 0.2:
                words.append(chance.choice(parameter.opts))
                if not getattr(parameter, "is_flag", False) and chance.random() < 0.98:
                    words.append(self._value(parameter, chance))
        if chance.random() < 0.1:
            words.insert(
                chance.randint(1, len(words)),
                chance.choice((*NAMES, *TEXTS, "--help", "--", "--nothing", "-")),
            )
        # The machine's root is not asked for.
        return ["." if word == "/" else word.replace("\0", "0") for word in words]

    def _argument(self, parameter: click.Argument, chance: Random) -> str:
        scene = chance.choice(SCENES)
        if parameter.name in ("first", "second", "frames"):
            return chance.choice(
                (
                    scene,
                    f"{scene}:low",
                    "depot.yaml:low:A",
                    ":low",
                    "::A",
                    "depot.yaml:low:A=Dusk",
                    "::::=",
                    "=",
                )
            )
        return scene if parameter.name == "scene" else self._value(parameter, chance)

    def _value(self, parameter: click.Parameter, chance: Random) -> str:
        """Return a value that is right for a parameter, mostly."""
        if chance.random() < 0.1:
            return chance.choice((*TEXTS, *ODD_NUMBERS))
        kind = parameter.type
        if isinstance(kind, click.Choice):
            return chance.choice((*kind.choices * 3, "nothing"))
        if isinstance(kind, click.IntRange | click.FloatRange):
            ends = [each for each in (kind.min, kind.max) if each is not None]
            return f"{chance.choice((*ends, *(end + step for end in ends for step in (-1, 1)), 7, 0.5))}"
        if isinstance(kind, click.DateTime):
            return chance.choice(("2026-10-14", "0001-01-01", "9999-12-31", "2026-02-29"))
        if isinstance(kind, click.Path):
            return chance.choice(OUTS if parameter.name == "out" else FILES)
        if isinstance(kind, click.types.FuncParamType):
            return (
                chance.choice(VALUES)
                if parameter.default is None or chance.random() < 0.6
                else str(parameter.default)
            )
        return chance.choice((*NAMES * 2, *VALUES))

    def attempt(self, given: list[str]) -> str:
        """Run the command."""
        if not given:
            return "empty"
        self._damage(Random(given[0]))
        result = CliRunner().invoke(previz, given[1:])
        error = result.exception
        if isinstance(error, Reached):
            return "understood"
        if isinstance(error, PrevizError):
            raise error
        if error is not None and not isinstance(error, SystemExit):
            # A full disk and its like are told by the program around the command.
            if resource_error(error) is None:
                raise error
            return "refused"
        assert "Traceback" not in result.output, result.output
        return {0: "done", 2: "refused"}.get(result.exit_code, "refused" if result.exit_code else "done")

    def _damage(self, chance: Random) -> None:
        """Put back the files, and damage the grades."""
        if not (self.folder / "depot.yaml").is_file() or (self.folder / "depot.yaml").stat().st_size != len(
            SCENE.encode()
        ):
            self._furnish()
        (self.folder / "wrong.cdl").write_bytes(
            broken_bytes(broken_text(CDL, chance).encode("utf-8", "replace"), chance, 1)
        )
        (self.folder / "wrong.cube").write_text(
            broken_text(CUBE, chance, ODD_NUMBERS), encoding="utf-8", errors="replace"
        )

    def smaller(self, given: list[str]):
        """Yield fewer words."""
        for words in smaller_list(given[2:]):
            yield [*given[:2], *words]

    def keep(self, given: list[str], folder: Path) -> None:
        """Write the words, a line each."""
        (folder / "words.txt").write_text("\n".join(map(repr, given)), encoding="utf-8")
        (folder / "depot.yaml").write_text(SCENE, encoding="utf-8")
