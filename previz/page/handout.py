"""The page as one file that can be mailed: the picture with its dimmers alive, without the program.

The lamps' pictures are packed small enough for that: half floats with four bits fewer, written as
differences from what their neighbours lead to expect, and deflated. That is 0.8 % of each lamp's
light at most, under one code value; far below grey, steps of 2^-15 of a perfect white.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
import zlib
from collections.abc import Collection, Mapping
from dataclasses import replace

import numpy as np

from previz.errors import PrevizError
from previz.frames.layouts import marked
from previz.page import pack
from previz.page.change_text import read_changes, read_moves
from previz.page.describe import caution_values, option_values, scene_values
from previz.page.desk import Desk
from previz.page.looks import kept_looks
from previz.page.shots import Shot
from previz.page.spots import packed_spots
from previz.page.static_files import static_files
from previz.page.views import view_key, view_values, view_words
from previz.studies.changes import LampChange

SHIFT = 4
"""Bits that are left off each half float."""

GAIN = 2.0**-5
"""Light is packed this much smaller, so that what is too dark to be seen falls among the even
steps next to zero and costs little. [1]"""

_DEFLATE = 6

WIDEST = 960
"""Pictures wider than this are sent at a half, a third, ... of their size. [px]"""

_IMPORT = re.compile(r'^import \{[^}]*\} from "\./([\w.]+)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:const|class|function|async function) )", re.MULTILINE)
_POLICY = ("default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; "
           "img-src data: blob:")


def packed_lamp(picture: np.ndarray) -> bytes:
    """Return one lamp's picture packed for mailing.

    Parameters
    ----------
    picture : float array, shape (row, column, 3)
        X, Y, Z as signal, 0 or more. [1]

    Returns
    -------
    bytes
        zlib stream; `unpacked` in source.js unpacks it.
    """
    held = np.clip(picture * GAIN, 0.0, pack.LARGEST_HALF).astype(np.float16)
    bits = held.view(np.uint16).astype(np.int32)
    # Rounding the bits rounds the number, as half floats rise with their bits.
    bits = np.minimum((bits + (1 << (SHIFT - 1))) >> SHIFT, 0x7BFF >> SHIFT)
    x, y, z = np.moveaxis(bits, -1, 0)
    planes = b""
    for plane in (y, x - y, z - y):
        # A plane through the three neighbours before: what it misses by is small on most surfaces.
        expected = np.zeros_like(plane)
        expected[0, 1:], expected[1:, 0] = plane[0, :-1], plane[:-1, 0]
        expected[1:, 1:] = plane[1:, :-1] + plane[:-1, 1:] - plane[:-1, :-1]
        missed = plane - expected
        # The sign goes to the lowest bit, so that small numbers of either sign stay small.
        folded = ((missed << 1) ^ (missed >> 31)).astype(np.uint16)
        planes += (folded & 0xFF).astype(np.uint8).tobytes()
        planes += (folded >> 8).astype(np.uint8).tobytes()
    return zlib.compress(planes, _DEFLATE)


def shrunk(picture: np.ndarray, widest: int = WIDEST) -> np.ndarray:
    """Return a picture at a half, a third, ... of its size where it is too wide to mail."""
    step = -(-picture.shape[1] // widest)
    if step == 1:
        return picture
    rows, columns = (size // step * step for size in picture.shape[:2])
    blocks = picture[:rows, :columns].reshape(rows // step, step, columns // step, step, 3)
    return blocks.mean(axis=(1, 3))


def bundled(files: dict[str, tuple[str, str]], start: str) -> str:
    """Return a module with all that it imports as one script.

    Each module comes after those that it imports; the page's modules share no name, so they can
    share one scope.
    """
    done: list[str] = []
    parts: list[str] = []

    def add(name: str) -> None:
        if name in done:
            return
        done.append(name)
        text = files[name][1]
        for needed in _IMPORT.findall(text):
            add(needed)
        parts.append(_EXPORT.sub("", _IMPORT.sub("", text)))

    add(start)
    return "\n".join(parts)


def handed_looks(desk: Desk, of: Shot, cameras: Collection[str]) -> dict[str, dict]:
    """Return the kept looks that a hand-out can show, by the page's own keys.

    Its lamps have the colours of one look, and stand where they stand in that: looks of these cameras that
    differ from it by levels and the cameras' settings alone.
    """
    def coloured(lamps: Mapping[str, LampChange]) -> dict[str, LampChange]:
        plain = {name: replace(each, dimmer=None, on=None) for name, each in lamps.items()}
        return {name: each for name, each in plain.items() if each != LampChange()}

    made = {}
    for at, look in enumerate(kept_looks(desk.changes)):
        if look.option != of.option or look.camera not in cameras:
            continue
        try:
            same = (read_moves(look.text) == of.moves
                    and coloured(read_changes(look.text).lamps) == coloured(of.changes.lamps))
        except PrevizError:
            continue
        if same:
            made[f"look|{look.id}"] = {"name": look.name, "note": look.note, "at": at, "option": look.option,
                                       "camera": look.camera, "look": {**look.look, "moves": {}}}
    return made


def handout_page(desk: Desk, option: str, shots: list[Shot], changes: dict[str, dict], title: str,
                 meters: dict, wants: dict, held: Mapping[str, list[dict]],
                 shown: str = "") -> str:
    """Return one option as one file: HTML with nothing outside itself, with a shot of each camera in it.

    `changes` are the look's, by the page's own keys; an empty title is the scene's own; `meters` and `wants`
    are as the server answers them; `held` has each camera's held spots; `shown` is what exposure maps
    show, see `zones.map_settings`.
    """
    scene = scene_values(desk, shown)
    names = [each.camera.name for each in shots]
    # What is moved is among the changes, and the page lays it over this.
    entry = option_values(desk, option, shown=shown)
    entry["cameras"] = [each for each in entry["cameras"] if each["name"] in names]
    scene["options"] = [entry]
    scene["title"] = title or scene["title"]
    bodies: list[str] = []
    views = {view_key(each.stage, each.camera): view_values(each.stage, each.camera) for each in shots}
    content = {**marked("previz_handout"), "scene": scene, "views": views, "meters": meters,
               "wants": wants, "shift": SHIFT, "gain": GAIN, "changes": changes,
               "shots": [{**_packed_shot(each, bodies),
                          "spots": packed_spots(each, held.get(each.camera.name, []))} for each in shots]}
    # By what is in it, so that what somebody sets in one file is not taken for another's.
    digest = hashlib.sha256(json.dumps(content, sort_keys=True).encode())
    content["id"] = digest.hexdigest()[:16]
    return _page(scene["title"], content, bodies)


def _packed_shot(request: Shot, bodies: list[str]) -> dict:
    frames, lamps = request.found.frames, []
    # The size is the picture's also where no lamp is in it.
    rows, columns = shrunk(np.zeros((*frames.shape, 3), np.float32)).shape[:2]
    for number, name in enumerate(frames.lights):
        _, picture, fade = request.lamp_alone(number)
        lamps.append({"name": name, "id": f"packed-{len(bodies)}", "fade": fade})
        bodies.append(base64.b64encode(packed_lamp(shrunk(picture))).decode())
    return {"camera": request.camera.name, "lamps": lamps, "frames": {
        **request.found.described(), "view": view_key(request.stage, request.camera),
        "seen": view_words(request.stage, request.camera), "width": columns, "height": rows,
        "clean": [True] * len(frames.lights), **caution_values(request.staged())}}


def _page(title: str, content: dict, bodies: list[str]) -> str:
    files = static_files()
    page = files["index.html"][1]
    data = json.dumps(content, ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
    scripts = [f'<script type="application/json" id="handout">{data}</script>']
    scripts += [f'<script type="application/octet-stream" id="packed-{number}">{body}</script>'
                for number, body in enumerate(bodies)]
    scripts.append(f'<script type="module">{bundled(files, "main.js")}</script>')
    replaced = {
        "<title>previz</title>": f"<title>{html.escape(title)}</title>",
        '<meta name="policy">': f'<meta http-equiv="content-security-policy" content="{_POLICY}">',
        **{f'<link rel="stylesheet" href="{name}">': f"<style>{text}</style>"
           for name, (_, text) in files.items() if name.endswith(".css")},
        '<link rel="icon" href="icon.svg">': _icon(files["icon.svg"][1]),
        '<script type="module" src="main.js"></script>': "\n".join(scripts),
    }
    for before, after in replaced.items():
        if page.count(before) != 1:
            raise ValueError(f"the page has lost its '{before}'")
        page = page.replace(before, after)
    return page


def _icon(svg: str) -> str:
    data = base64.b64encode(svg.encode()).decode()
    return f'<link rel="icon" href="data:image/svg+xml;base64,{data}">'
