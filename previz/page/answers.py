"""What the page's server answers, each a function of the desk and the query.

They are the same over the loopback and by `previz page --get`. A path that is not in
`ANSWERS` or among the page's own files does not exist; no part of a query is ever a file's name.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from urllib.parse import quote

import numpy as np

from previz.deliver.map import exposure_map
from previz.errors import DataError
from previz.exposure import metering
from previz.exposure.camera import expose
from previz.exposure.denoise import denoise
from previz.exposure.faces import cheeks_of
from previz.exposure.mix import mix_xyz
from previz.exposure.trust import ON_FEW
from previz.frames.batches import LEAST_SUPPORT, NO_MATTER, Batches
from previz.page import pack
from previz.page.balancing import balance_values, wants_values
from previz.page.change_text import flat, read_moves
from previz.page.describe import caution_values, greenest_values, scene_values, settings_as_written
from previz.page.desk import Desk
from previz.page.figures import figures
from previz.page.handout import handed_looks, handout_page
from previz.page.look_strip import strip_pdf, strip_png
from previz.page.plan import allowed_values, plan_values
from previz.page.png import png_bytes
from previz.page.quick import WIDTH, jpeg_bytes, quick_signal, quick_still
from previz.page.references import pictures_beside, reference_picture
from previz.page.shots import Shot, lit, option_of, shot
from previz.page.spots import held_of, places_of, spot_values
from previz.page.tables import difference_bands
from previz.page.views import view_key, view_values, view_words
from previz.page.walking import walk_values
from previz.page.zones import map_settings, map_values
from previz.physics.light import LampLight, lamps_band_xyz
from previz.rendering.request import QUALITIES
from previz.stage.colours import stage_colours
from previz.stage.views import DOME

JSON, BYTES, HTML, PDF = ("application/json", "application/octet-stream", "text/html; charset=utf-8",
                          "application/pdf")
PNG, JPEG = "image/png", "image/jpeg"


QUICK_WIDTHS = (80, WIDTH)
"""Least and greatest width that a quick picture may be asked for. [px]"""


@dataclass(frozen=True)
class Answer:
    """One answer: its bytes, their media type, and headers."""

    body: bytes
    kind: str
    headers: Mapping[str, str] = field(default_factory=dict)


def _json(value) -> Answer:
    return Answer(json.dumps(value, allow_nan=False).encode(), JSON)


def framed(head: dict, payload: bytes) -> Answer:
    """Return numbers with a note before them: length of the note, the note, the numbers."""
    note = json.dumps(head, allow_nan=False).encode()
    note += b" " * (-len(note) % 8 + 4)
    return Answer(struct.pack("<I", len(note)) + note + payload, BYTES)


def _needed(query: Mapping[str, str], key: str) -> str:
    if key not in query:
        raise DataError(f"the question lacks '{key}'", "Reload the page.")
    return query[key]


def _share(query: Mapping[str, str], key: str) -> float:
    try:
        value = float(_needed(query, key))
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 1.0:
        raise DataError(f"'{key}' lies from 0 to 1", "Point at the picture.")
    return value


def scene_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """Options, lamps, cameras and tables."""
    return _json(scene_values(desk))


def changes_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The changes made so far."""
    return _json(desk.changes)


def view_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """How a camera's picture is shown, for the page's own GPU."""
    option, moves = option_of(desk, query), read_moves(query.get("look", ""))
    return _json(view_values(desk.stage(option, moves), desk.camera(option, query.get("camera", ""), moves)))


def frames_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """What is rendered of a camera, and the cautions that the scene calls for."""
    option, moves = option_of(desk, query), read_moves(query.get("look", ""))
    camera = desk.camera(option, query.get("camera", ""), moves)
    try:
        stop = float(query.get("stop") or camera.stop)
    except ValueError:
        stop = 0.0
    if not 0.0 < stop < np.inf:
        raise DataError("'stop' is a T-stop", "Reload the page.")
    found = desk.find(option, camera.name, stop, moves)
    there = {"key": None} if found is None else found.described()
    stage = desk.stage(option, moves)
    return _json({**there, "view": view_key(stage, camera), "seen": view_words(stage, camera),
                  **caution_values(stage)})


def lamp_slice(desk: Desk, query: Mapping[str, str]) -> Answer:
    """One lamp's part of the picture at full level, as half floats."""
    request, name = shot(desk, query), _needed(query, "lamp")
    frames = request.found.frames
    if name not in frames.lights:
        raise DataError(f"the frames know no lamp '{name}'", "Reload the page.")
    bands, picture, fade = request.lamp_alone(frames.lights.index(name))
    rows, columns = frames.shape
    return framed({"key": request.found.key, "width": columns, "height": rows,
                    "clean": bands.dtype == np.float16, "fade": fade}, pack.to_half(picture))


def settled(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The picture as `previz render` makes it, linear, as half floats."""
    request = shot(desk, query)
    frames = request.found.frames
    exposed = expose(mix_xyz(frames, request.lamps()), request.settings)
    cleaned = denoise(exposed, frames)
    rows, columns = frames.shape
    head = {"key": request.found.key, "width": columns, "height": rows, "note": cleaned.note,
            "view": view_key(request.stage, request.camera)}
    return framed(head, pack.to_half(np.moveaxis(cleaned.picture, 0, -1)))


def meters_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """What each lamp gives at each meter, at full level in the colour of its level.

    `spread` is the covariance of the lamps' errors at a meter, `cheeks` that between a face's left and
    right cheek, and `colours` that of X, Y, Z lamp by lamp, rows from the diagonal on one after the other
    (None of domes), so that the page has the error of any mix, of a ratio and of a colour [lx²]; `bands`
    is what bands may leave each lamp's light off [lx]; `few` is what a reading is judged by that may
    stand on few contributions, as `frames.batches.Batches.on_few`.
    """
    gathered = desk.meters(option_of(desk, query), read_moves(query.get("look", "")))
    if gathered is None:
        return _json({"names": [], "lamps": [], "xyz": [], "bands": [], "spread": [], "colours": [],
                      "cheeks": {}, "few": None})
    request = lit(desk, query)
    lamps = [request.at_full(name, fading=True) for name in gathered.lights]
    mixed = metering.mix(gathered, lamps, stage_colours(request.stage))
    names = [name for name, paths in zip(gathered.names, gathered.paths, strict=True)
             if paths > 0 or not gathered.lights]
    return _json({
        "names": names, "lamps": list(gathered.lights),
        "xyz": [mixed[name].xyz.mean(axis=0).round(9).tolist() for name in names],
        "bands": figures([mixed[name].bands.sum(axis=1) for name in names]),
        "spread": [figures(mixed[name].covariance()) for name in names],
        "colours": [None if name.endswith(DOME) else _half(mixed[name].colour_covariance())
                    for name in names],
        "cheeks": {face: figures(mixed[left].covariance(mixed[right]))
                   for face, (left, right) in ((figure.name, cheeks_of(figure.name))
                                               for figure in request.scene.figures)
                   if left in names and right in names},
        "few": _few(gathered.some([gathered.names.index(name) for name in names]), lamps,
                    QUALITIES[desk.quality].precision),
    })


def _half(table: np.ndarray) -> list[float]:
    """Return the rows of a symmetric table from the diagonal on, one after the other.

    With more figures than others: what a colour's error is made of is small against what they hold.
    """
    return figures([table[np.triu_indices(len(table))]], 9)[0]


def wants_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """What is wanted, and what each lamp gives at its meters; see `balancing.wants_values`."""
    return _json(wants_values(desk, query))


def balance_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """Levels, colours and exposure for what is wanted; see `balancing.balance_values`."""
    return _json(balance_values(desk, query))


def walk_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """A figure's walk as a strip; see `walking.walk_values`."""
    return _json(walk_values(desk, query))


def plan_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The plan of an option as it is moved; see `plan.plan_values`."""
    return _json(plan_values(desk, query))


def allowed_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """Whether an option can have what is moved; see `plan.allowed_values`."""
    return _json(allowed_values(desk, query))


def greenest_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """How green light can be that is made in a way; see `describe.greenest_values`."""
    return _json(greenest_values(_needed(query, "spectrum")))


def _few(gathered: Batches, lamps: list[LampLight], precision: float) -> dict:
    """Return each lamp's variance, contributions and light not met at each meter, and their limits."""
    by_name = {lamp.name: lamp for lamp in lamps}
    lights = [by_name[name] for name in gathered.lights]
    weights = lamps_band_xyz(lights, gathered.sums.shape[-1])[..., 1]
    return {"parts": figures(gathered.parts(weights)),
            "support": figures(np.minimum(gathered.support, 1e9)),
            "hidden": figures(gathered.hidden * weights.sum(axis=1)),
            "least": LEAST_SUPPORT, "counts": NO_MATTER * precision, "words": ON_FEW}


def spot_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """What a spot meter reads at a point, lamp by lamp, from the picture as rendered."""
    request = shot(desk, query)
    head, found = spot_values(request, [(_share(query, "x"), _share(query, "y"))])
    return _json({**head, **found[0]})


def spots_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """What a spot meter reads at several points, `at` a list of [x, y]; each as `spot_json` has it."""
    request, places = shot(desk, query), places_of(_needed(query, "at"))
    head, found = spot_values(request, places)
    return _json({**head, "spots": found})


def _width(query: Mapping[str, str]) -> int:
    """Return the width that a quick picture is to have at most. [px]"""
    try:
        width = int(query.get("width") or WIDTH)
    except ValueError:
        width = 0
    low, high = QUICK_WIDTHS
    if not low <= width <= high:
        raise DataError(f"'width' lies from {low} to {high}", "Reload the page.")
    return width


def still_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The still as `previz render` makes it; small and at once with `quick=1`, `width` pixels wide."""
    request = shot(desk, query)
    if query.get("quick"):
        quick = quick_still(desk.quick.xyz(request), request.settings)
        return Answer(jpeg_bytes(quick, _width(query)), JPEG)
    return Answer(png_bytes(request.developed().still), PNG)


def _signal(desk: Desk, query: Mapping[str, str], request: Shot) -> np.ndarray:
    """Return the luminance signal of a shot; small and at once with `quick=1`."""
    if query.get("quick"):
        return quick_signal(desk.quick.xyz(request), request.settings)
    return request.developed().signal


def map_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The exposure map, without its legend; small and at once with `quick=1`.

    `map` is what it shows otherwise than the scene has it; see `zones.map_settings`.
    """
    request = shot(desk, query)
    made = map_settings(request.scene.map, query.get("map", ""))
    if query.get("quick"):
        xyz = desk.quick.xyz(request)
        signal, still = quick_signal(xyz, request.settings), quick_still(xyz, request.settings)
    else:
        developed = request.developed()
        signal, still = developed.signal, developed.still
    painted = exposure_map(signal, made=made, settings=request.settings, still=still)
    return Answer(png_bytes(painted.picture()), PNG)


def map_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """What a camera's exposure map shows, and its bands, as `map` has it; see `zones.map_values`."""
    option, moves = option_of(desk, query), read_moves(query.get("look", ""))
    camera = desk.camera(option, query.get("camera", ""), moves)
    made = map_settings(desk.scene(option, moves).map, query.get("map", ""))
    return _json(map_values(made, settings_as_written(camera)))


def difference_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The difference in stops against another look, which is given as `than`; `quick` as for the map."""
    request = shot(desk, query)
    than = shot(desk, {"option": query.get("than_option", option_of(desk, query)),
                       "camera": query.get("than_camera", request.camera.name),
                       "look": query.get("than", "")})
    one, other = _signal(desk, query, request), _signal(desk, query, than)
    if one.shape != other.shape:
        raise DataError("the two pictures differ in size", "Compare with a look of this camera.")
    bands = difference_bands()
    with np.errstate(divide="ignore", invalid="ignore"):
        stops = np.nan_to_num(np.log2(one / other), nan=0.0, posinf=99.0, neginf=-99.0)
    index = np.searchsorted([band["low"] for band in bands[1:]], stops, side="right")
    colours = np.array([band["colour"] for band in bands], np.uint8)
    return Answer(png_bytes(colours[index]), PNG)


def reference_jpg(desk: Desk, query: Mapping[str, str]) -> Answer:
    """A reference picture that was kept, by the name of its `file`."""
    return Answer(reference_picture(desk, _needed(query, "file")), JPEG)


def beside_json(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The names of pictures that lie beside the scene."""
    return _json(pictures_beside(desk))


def strip_as_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The kept looks on one sheet; see `look_strip.strip_blocks`."""
    return Answer(strip_png(desk, query), PNG, _named(desk, "looks.png"))


def strip_as_pdf(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The kept looks on pages; see `look_strip.strip_blocks`."""
    return Answer(strip_pdf(desk, query), PDF, _named(desk, "looks.pdf"))


def _named(desk: Desk, ending: str) -> dict[str, str]:
    """Return the header that names a file after the scene."""
    # Headers are ASCII; any other letter goes in the form that was made for it (RFC 8187).
    name = quote(f"{desk.path.stem}-{ending}", safe="")
    return {"content-disposition": f"attachment; filename*=UTF-8''{name}"}


def handout_html(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The whole page in one file, lamps alive, for somebody without the program."""
    option, shots = option_of(desk, query), [shot(desk, query)]
    if query.get("all_cameras"):
        others = [c.name for c in desk.cameras(option, shots[0].moves) if c.name != shots[0].camera.name]
        shots += [shot(desk, {**query, "camera": name}) for name in others]
    names, held = {each.camera.name for each in shots}, held_of(query.get("spots", ""))
    held = {camera: spots for camera, spots in held.items() if camera in names and spots}
    changes = {**flat(option, query.get("look", "")), **handed_looks(desk, shots[0], names),
               **{f"spots|{option}|{camera}": spots for camera, spots in held.items()}}
    text = handout_page(desk, option, shots, changes, query.get("title", ""),
                        json.loads(meters_json(desk, query).body),
                        wants_values(desk, query), held, query.get("map", ""))
    return Answer(text.encode("utf-8", "replace"), HTML, _named(desk, "lights.html"))


ANSWERS: dict[str, Callable[[Desk, Mapping[str, str]], Answer]] = {
    "scene.json": scene_json,
    "changes.json": changes_json,
    "view.json": view_json,
    "frames.json": frames_json,
    "meters.json": meters_json,
    "wants.json": wants_json,
    "balance.json": balance_json,
    "walk.json": walk_json,
    "plan.json": plan_json,
    "allowed.json": allowed_json,
    "greenest.json": greenest_json,
    "spot.json": spot_json,
    "spots.json": spots_json,
    "slice": lamp_slice,
    "settled": settled,
    "still.png": still_png,
    "map.png": map_png,
    "map.json": map_json,
    "difference.png": difference_png,
    "beside.json": beside_json,
    "reference.jpg": reference_jpg,
    "strip.png": strip_as_png,
    "strip.pdf": strip_as_pdf,
    "handout.html": handout_html,
}
"""Every question by its path."""


def answer(desk: Desk, path: str, query: Mapping[str, str]) -> Answer:
    """Return the answer to a question, a key of `ANSWERS`, of the scene as it is when it begins.

    Raises
    ------
    PrevizError
        The option, camera, lamp or value is none of the scene's, or no more.
    """
    return ANSWERS[path](desk.as_it_is(), query)
