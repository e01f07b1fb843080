"""Read the file that a camera's picture is looked at through, and refuse what no picture can be shown by.

Tables and decisions are put on pictures by OpenColorIO, which also has the last word here; but it lets
things pass that show nonsense (numbers that are none, a domain back to front, two tables at once), follows
a file that names another, and does not say where it stopped. So a file is looked over first.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree import ElementTree

import numpy as np

from previz.errors import SceneError
from previz.physics.viewing import ShowFile
from previz.scene.camera import DECISIONS, ENCODINGS, SCREENS, SHOW_BYTES
from previz.scene.words import listed
from previz.stage.plain_files import FileError, read_plain

if TYPE_CHECKING:
    from previz.scene.camera import Camera

FEWEST, MOST = 2, 65
"""Least and greatest edge of a cube; 17, 33 and 65 are usual. [steps]"""

MOST_TABLES = 3
"""Of one .clf: a GPU looks into sixteen at once, and the page's own take the rest."""

MOST_STEPS = 4096
"""Greatest length of a table with one curve for each channel in a .cube. [steps]"""

GREATEST = 65504.0
"""Greatest number that a table may give: the largest half float. [1]"""

AGAIN = "Export it again, as .cube, .clf or ASC CDL."

SAID = {"acescct": "acescct", "acescg": "acescg", "aces2065-1": "aces2065-1", "srgb": "srgb",
        "bt.1886": "bt.1886", "rec.1886": "bt.1886", "bt1886": "bt.1886", "rec1886": "bt.1886"}
"""What a .clf may call an encoding in its descriptors, in small letters, and its word in a scene file."""


class _BrokenError(ValueError):
    """A file shows nothing; message and advice."""


def shown_through(camera: Camera) -> ShowFile | None:
    """Return the file that a camera's picture is looked at through, None for the plain view.

    Raises
    ------
    SceneError
        The file cannot be used, or does not say what the scene leaves open.
    """
    show = camera.show
    if show is None:
        return None
    path = Path(show.file)
    try:
        content = read_plain(path, SHOW_BYTES)
        takes, gives = _looked_over(content, path.suffix.lower(), show.decision or "")
    except FileError as error:
        raise SceneError([show.where("file").problem(
            f"the file '{path.name}' of camera '{camera.name}' cannot be read: {error.message}",
            error.advice)]) from error
    except _BrokenError as error:
        message, advice = error.args
        raise SceneError([show.where("file").problem(
            f"the file '{path.name}' of camera '{camera.name}': {message}", advice)]) from None
    faults = []
    for field, stated, choices in (("takes", takes, ENCODINGS), ("gives", gives, (*SCREENS, *ENCODINGS))):
        written = getattr(show, field)
        if written is None and stated not in choices:
            faults.append(show.where(field).problem(
                f"the file '{path.name}' of camera '{camera.name}' does not state what it {field} in a word "
                "known here", f"Write '{field}:' with one of: {listed(choices)}."))
        elif written is not None and stated in choices and stated != written:
            faults.append(show.where(field).problem(
                f"the file '{path.name}' of camera '{camera.name}' states that it {field} {stated}, and "
                f"'{field}' says {written}", f"Leave out '{field}', or write '{field}: {stated}'."))
    if faults:
        raise SceneError(faults)
    return ShowFile(path.name, content, path.suffix.lower(), show.takes or takes, show.gives or gives,
                    show.decision or "")


@lru_cache(maxsize=8)
def _looked_over(content: bytes, ending: str, decision: str) -> tuple[str, str]:
    """Return what a file says that it takes and gives, '' where it does not; see `shown_through`."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        raise _BrokenError("it is no text", AGAIN)
    stated = ("", "")
    if ending == ".cube":
        _look_over_cube(text)
    elif ending == ".clf":
        stated = _look_over_clf(_tree(text))
    elif ending in DECISIONS:
        _look_over_decisions(_tree(text), decision)
    else:
        raise _BrokenError("it is neither a look-up table nor an ASC CDL", AGAIN)
    _tried(ShowFile("", content, ending, "", "", decision))
    return stated


# A cube as text: keywords, then a line of three numbers for each colour, red changing first.


def _look_over_cube(text: str) -> None:
    sizes: dict[str, tuple[int, int]] = {}
    low, high = [0.0] * 3, [1.0] * 3
    rows = first = 0
    for number, line in enumerate(text.splitlines(), 1):
        words = line.split("#", 1)[0].split()
        if not words or words[0] == "TITLE":
            continue
        if words[0][0].isalpha() and words[0].lower() not in ("nan", "inf", "infinity"):
            if rows:
                raise _BrokenError(f"line {number}: '{_plain(words[0])}' stands among the colours", AGAIN)
            low, high = _keyword(words, number, sizes, low, high)
            continue
        _three(words, number)
        first = first or number
        rows += 1
    if not sizes:
        raise _BrokenError("it has no LUT_3D_SIZE and no LUT_1D_SIZE", AGAIN)
    if len(sizes) > 1:
        last = max(place for _, place in sizes.values())
        raise _BrokenError(f"line {last}: it holds a 1D and a 3D table, and programs differ in their use",
                           "Export it with one of the two, or as .clf.")
    for one, other in zip(low, high, strict=True):
        if not one < other:
            raise _BrokenError(f"its domain runs from {one:g} to {other:g}",
                          "Export it with a DOMAIN_MAX above its DOMAIN_MIN.")
    (name, (size, _)), = sizes.items()
    expected = size**3 if name == "LUT_3D_SIZE" else size
    if rows != expected:
        raise _BrokenError(f"it has {rows} colours, and {name} {size} makes {expected}", AGAIN)


def _keyword(words, number, sizes, low, high):
    """Take one line with a keyword in; return the domain after it."""
    name, values = words[0], words[1:]
    if name in ("LUT_3D_SIZE", "LUT_1D_SIZE"):
        most = MOST if name == "LUT_3D_SIZE" else MOST_STEPS
        # Other digits than these, and more of them, are no size either.
        if len(values) != 1 or not re.fullmatch("[0-9]{1,6}", values[0]) or not (
                FEWEST <= int(values[0]) <= most):
            raise _BrokenError(f"line {number}: {name} is no number from {FEWEST} to {most}",
                          f"Export it with {'33' if most == MOST else '1024'} steps.")
        sizes[name] = int(values[0]), number
    elif name == "DOMAIN_MIN":
        low = _three(values, number)
    elif name == "DOMAIN_MAX":
        high = _three(values, number)
    elif name in ("LUT_3D_INPUT_RANGE", "LUT_1D_INPUT_RANGE"):
        low, high = ([each] * 3 for each in _numbers(values, 2, number))
    else:
        raise _BrokenError(f"line {number}: '{_plain(name)}' is no word of a .cube", AGAIN)
    return low, high


def _three(words, number) -> list[float]:
    return _numbers(words, 3, number)


def _numbers(words, count, number) -> list[float]:
    try:
        values = [float(each) for each in words]
    except ValueError:
        values = []
    if len(values) != count:
        raise _BrokenError(f"line {number}: there are no {'three' if count == 3 else 'two'} numbers", AGAIN)
    if not all(abs(each) <= GREATEST for each in values):
        raise _BrokenError(f"line {number}: a number is none, or beyond {GREATEST:.0f}", AGAIN)
    return values


def _plain(word: str) -> str:
    """Return a word of a file for a message."""
    return "".join(letter if letter.isprintable() else "?" for letter in word[:24])


# XML: the common LUT format, and the ASC CDL.


def _tree(text: str) -> ElementTree.Element:
    # A document type may hold entities that stand for one another without end.
    if re.search(r"<!\s*(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise _BrokenError("it has a document type of its own", "Export it again, without one.")
    try:
        return ElementTree.fromstring(text.encode())
    except ElementTree.ParseError as error:
        raise _BrokenError(f"line {error.position[0]}: it is no whole XML", AGAIN) from None
    except (ValueError, RecursionError, LookupError):
        raise _BrokenError("it is no whole XML", AGAIN) from None


def _name(node: ElementTree.Element) -> str:
    return str(node.tag).rpartition("}")[2]


def _look_over_clf(root: ElementTree.Element) -> tuple[str, str]:
    if _name(root) != "ProcessList":
        raise _BrokenError("it is no process list of the common LUT format", AGAIN)
    tables = sum(_name(node) in ("LUT1D", "LUT3D") for node in root.iter())
    if tables > MOST_TABLES:
        raise _BrokenError(f"it holds {tables} tables", (
            f"Export it as one cube, or with {MOST_TABLES} tables at most."))
    for node in root.iter():
        if _name(node) == "Reference":
            raise _BrokenError("it names another file", "Export it again, with everything in it.")
        if _name(node) == "LUT3D":
            for array in (each for each in node if _name(each) == "Array"):
                edge = array.get("dim", "").split()[:1]
                if not edge or not re.fullmatch("[0-9]{1,6}", edge[0]) or not FEWEST <= int(edge[0]) <= MOST:
                    raise _BrokenError(f"a cube in it has no edge of {FEWEST} to {MOST} steps",
                                  "Export it with 33 steps.")
        # A table over all half floats has places for those that are no numbers.
        for array in (each for each in node if _name(each) == "Array"):
            _look_over_array(array, half=node.get("halfDomain") == "true")
    return tuple(_encoding(next((each.text or "" for each in root if _name(each) == which), ""))
                 for which in ("InputDescriptor", "OutputDescriptor"))


def _look_over_array(array: ElementTree.Element, *, half: bool) -> None:
    try:
        values = np.array((array.text or "").split(), float)
    except ValueError:
        raise _BrokenError("a number in it is none", AGAIN) from None
    # A table over all half floats has places for those that are no numbers. Whole numbers of 16 bits go on
    # a little longer than half floats.
    if not np.all((np.abs(values) <= 65535) | (half & ~np.isfinite(values))):
        raise _BrokenError(f"a number in it is none, or beyond {GREATEST:.0f}", AGAIN)


def _encoding(descriptor: str) -> str:
    """Return the one encoding that a descriptor names, '' for none, several or an unknown one."""
    words = re.findall(r"[a-z0-9][a-z0-9.-]*", descriptor.lower())
    found = {SAID[each.rstrip(".")] for each in words if each.rstrip(".") in SAID}
    return found.pop() if len(found) == 1 else ""


def _look_over_decisions(root: ElementTree.Element, decision: str) -> None:
    found = [node for node in root.iter() if _name(node) == "ColorCorrection"]
    if _name(root) not in ("ColorCorrection", "ColorCorrectionCollection", "ColorDecisionList") or not found:
        raise _BrokenError("it holds no decision of the ASC CDL", AGAIN)
    ids = [each.get("id", "") for each in found]
    if len(found) > 1 and not decision:
        names = listed([f"'{_plain(each)}'" for each in ids[:12] if each]) or "none with an id"
        raise _BrokenError(f"it holds {len(found)} decisions", (
            f"Write 'decision:' with the id of one: {names}."))
    if decision and ids.count(decision) != 1:
        names = listed([f"'{_plain(each)}'" for each in ids[:12] if each]) or "none with an id"
        raise _BrokenError(f"it holds {'no' if decision not in ids else 'more than one'} decision "
                      f"'{_plain(decision)}'", f"Write 'decision:' with the id of one: {names}.")
    for node in (each for one in found for each in one.iter()):
        if _name(node) in ("Slope", "Offset", "Power", "Saturation"):
            words, count = (node.text or "").split(), 1 if _name(node) == "Saturation" else 3
            try:
                values = [float(each) for each in words]
            except ValueError:
                values = []
            if len(values) != count or not all(math.isfinite(v) and abs(v) <= GREATEST for v in values):
                kind = "one number" if count == 1 else "three numbers"
                raise _BrokenError(f"a {_name(node)} in it is not {kind}", AGAIN)
            if (_name(node) == "Power" and min(values) <= 0) or (
                    _name(node) in ("Slope", "Saturation") and min(values) < 0):
                raise _BrokenError(f"a {_name(node)} in it is below what the ASC CDL has",
                              "Export it with slopes and saturation of 0 or more and powers above 0.")


def _tried(show: ShowFile) -> None:
    """Put a file on a few colours."""
    import PyOpenColorIO

    with show.on_disk() as path:
        try:
            processor = PyOpenColorIO.Config.CreateRaw().getProcessor(PyOpenColorIO.FileTransform(
                src=str(path), cccId=show.decision)).getDefaultCPUProcessor()
        except (PyOpenColorIO.Exception, ValueError, RuntimeError) as error:
            # The library's own text names products and paths, and may break off within a letter; only the
            # line it stopped at is of use.
            line = re.search(r"[Aa]t line \(?([1-9]\d*)", str(error))
            raise _BrokenError(f"{f'line {line[1]}: ' if line else ''}it cannot be read", AGAIN) from None
    steps = np.array([-0.1, 0.0, 0.02, 0.18, 0.5, 1.0, 1.4, 4.0], np.float32)
    colours = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(1, -1, 3).copy()
    processor.applyRGB(colours)
    if not np.all(np.isfinite(colours)):
        raise _BrokenError("it makes colours that are no numbers", AGAIN)
