"""Measurements of lamps, gels and surfaces: IES LM-63, EULUMDAT, two columns."""

from __future__ import annotations

from random import Random

from ..damage import ODD_NUMBERS, broken_bytes, broken_text
from .files import FileKind, Sample

BULB = "lights: [{name: a, kind: bulb, at: [0 m, 0 m, 2 m], photometry: FILE, output: 900 lm}]\n"
PANEL = (
    "lights: [{name: a, kind: panel, at: [0 m, 0 m, 2 m], size: [1 m, 1 m], aim: [1 m, 0 m, 0 m], "
    "photometry: FILE}]\n"
)
SPECTRUM = "lights: [{name: a, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, spectrum: {file: FILE}}]\n"
SHEET = "lights: [{name: a, kind: bulb, at: [0 m, 0 m, 2 m], output: 1 lm, gel: [half cto, {file: FILE}]}]\n"
PAINT = "pieces: [{name: crate, shape: box, at: [1 m, 1 m], size: [1 m, 1 m, 1 m], surface: {file: FILE}}]\n"

PIECES = (
    *ODD_NUMBERS,
    "TILT=NONE",
    "TILT=INCLUDE",
    "TILT=x.tlt",
    "[END]",
    "IESNA91",
    "IESNA:LM-63-1995",
    "IESNA86",
    "nm,power",
    "#",
    ";",
    "\t",
    "\r",
    "\x00",
    "-1",
    "360",
    "90",
    "180",
    "2 2",
    "nm",
    "%",
    "\u2028",
    "\xa0",
)


def _ies() -> bytes:
    """A type C file of two planes and five angles. Source: LM-63-02, as `previz.physics.ies`."""
    return b"""IESNA:LM-63-2002
[TEST] our own figures
TILT=INCLUDE
1
3
0 45 90
1 0.97 0.95
2 1500 1.2 5 3 1 2 0.3 0.2 0.05
1 1 40
0 22.5 45 67.5 90
0 45 90
800 700 500 200 0
800 710 520 210 5
800 690 480 190 0
"""


def _globe() -> bytes:
    """A type B file."""
    return b"""IESNA91
TILT=NONE
1 -1 1 3 3 2 1 0.4 0.2 0
1 1 200
-20 0 20
-30 0 30
1 10 1
10 100 10
1 10 1
"""


def _ldt(symmetry: int, planes: int, given: int, angles: int = 7) -> bytes:
    """A EULUMDAT file. Source: as `previz.physics.eulumdat`."""
    head = [
        "our own",
        "1",
        f"{symmetry}",
        f"{planes}",
        f"{360 / planes:g}",
        f"{angles}",
        f"{90 / (angles - 1):g}",
        "r",
        "lamp",
        "7",
        "file",
        "2026",
        "300",
        "200",
        "50",
        "290",
        "190",
        "0",
        "0",
        "0",
        "0",
        "100",
        "100",
        "1",
        "0",
        "1",
    ]
    lamps = ["1", "led", "2000", "4000", "80", "30"]
    numbers = ["0.5"] * 10 + [f"{360 / planes * k:g}" for k in range(planes)]
    numbers += [f"{90 / (angles - 1) * k:g}" for k in range(angles)]
    numbers += [f"{300 - 40 * k + plane}" for plane in range(given) for k in range(angles)]
    return "\r\n".join([*head, *lamps, *numbers]).encode()


def _columns(low: float, high: float, step: int = 20, separator: str = ",") -> bytes:
    rows = [f"{nm}{separator}{low + (high - low) * (nm - 380) / 400:.4f}" for nm in range(380, 781, step)]
    return ("# our own figures\nnm,power\n" + "\n".join(rows) + "\n").encode()


class Lamps(FileKind):
    """The files of what was measured."""

    name = "lamps"

    def samples(self) -> list[Sample]:
        """Return one of each form and use."""
        files = [
            ("a.ies", _ies(), BULB),
            ("b.ies", _ies(), PANEL),
            ("c.ies", _globe(), BULB),
            ("d.ldt", _ldt(0, 4, 4), BULB),
            ("e.ldt", _ldt(1, 1, 1), PANEL),
            ("f.ldt", _ldt(2, 4, 3), BULB),
            ("g.ldt", _ldt(3, 4, 3), BULB),
            ("h.ldt", _ldt(4, 4, 2), BULB),
            ("i.csv", _columns(0.1, 3), SPECTRUM),
            ("j.csv", _columns(0.2, 0.9, 10, "\t"), SHEET),
            ("k.csv", _columns(20, 80), PAINT),
        ]
        return [Sample(name, data, scene.replace("FILE", name)) for name, data, scene in files]

    def damaged(self, sample: Sample, chance: Random) -> bytes:
        """Return it with words, numbers, lines or bytes changed."""
        data = sample.data
        if chance.random() < 0.85:
            data = broken_text(data.decode(), chance, PIECES).encode("utf-8", "surrogatepass")
        return broken_bytes(data, chance, 3) if chance.random() < 0.2 else data
