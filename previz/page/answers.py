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
from previz.exposure.display import show_8bit
from previz.exposure.display_shader import FUNCTION, view_shader
from previz.exposure.faces import cheeks_of
from previz.exposure.mix import mix_xyz
from previz.exposure.trust import ON_FEW
from previz.frames.batches import LEAST_SUPPORT, NO_MATTER, Batches
from previz.page import pack
from previz.page.balancing import balance_values, wants_values
from previz.page.change_text import flat, read_moves
from previz.page.describe import caution_values, greenest_values, scene_values
from previz.page.desk import Desk
from previz.page.figures import figures
from previz.page.handout import handout_page
from previz.page.plan import allowed_values, plan_values
from previz.page.png import png_bytes
from previz.page.shots import Shot, lit, option_of, shot
from previz.page.spots import held_of, places_of, spot_values
from previz.page.tables import difference_bands
from previz.page.walking import walk_values
from previz.physics.light import LampLight, lamps_band_xyz
from previz.rendering.request import QUALITIES
from previz.stage.colours import stage_colours
from previz.stage.views import DOME

JSON, BYTES, PNG, HTML = ("application/json", "application/octet-stream", "image/png",
                          "text/html; charset=utf-8")

QUICK_WIDTH = 480
"""Width of the picture that is sent while a hand moves to a page that cannot mix. [px]"""


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
    """The view transform for the page's own GPU."""
    shader = view_shader()
    return _json({"function": FUNCTION, "text": shader.text, "tables": [
        {"sampler": table.sampler, "width": len(table.values),
         "channels": table.values.shape[1], "values": table.values.ravel().tolist()}
        for table in shader.tables]})


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
    return _json({**there, **caution_values(desk.stage(option, moves))})


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
    head = {"key": request.found.key, "width": columns, "height": rows, "note": cleaned.note}
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


def _quick(request: Shot) -> np.ndarray:
    """Return a small picture from cleaned lamps, linear ACEScg, for a moving hand."""
    frames = request.found.frames
    step = max(1, round(frames.shape[1] / QUICK_WIDTH))
    total = 0.0
    by_name = {lamp.name: lamp for lamp in request.lamps()}
    for number, name in enumerate(frames.lights):
        bands, scale = pack.lamp_bands(frames, request.found.clean, number)
        lamp = by_name[name]
        if lamp.on and lamp.level:
            total = total + pack.lamp_picture(bands[:, ::step, ::step], scale, lamp, lamp.level)
    if isinstance(total, float):
        total = np.zeros((*frames.albedo[:, ::step, ::step].shape[1:], 3), np.float32)
    return expose(np.moveaxis(total, -1, 0), request.settings)


def still_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The still as `previz render` makes it; small and at once with `quick=1`."""
    request = shot(desk, query)
    if query.get("quick"):
        return Answer(png_bytes(show_8bit(_quick(request))), PNG)
    return Answer(png_bytes(request.developed().still), PNG)


def map_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The exposure map, without its legend."""
    developed = shot(desk, query).developed()
    return Answer(png_bytes(exposure_map(developed.signal).picture()), PNG)


def difference_png(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The difference in stops against another look, which is given as `than`."""
    request = shot(desk, query)
    than = shot(desk, {"option": query.get("than_option", option_of(desk, query)),
                       "camera": query.get("than_camera", request.camera.name),
                       "look": query.get("than", "")})
    one, other = request.developed().signal, than.developed().signal
    if one.shape != other.shape:
        raise DataError("the two pictures differ in size", "Pin a look of this camera.")
    bands = difference_bands()
    with np.errstate(divide="ignore", invalid="ignore"):
        stops = np.nan_to_num(np.log2(one / other), nan=0.0, posinf=99.0, neginf=-99.0)
    index = np.searchsorted([band["low"] for band in bands[1:]], stops, side="right")
    colours = np.array([band["colour"] for band in bands], np.uint8)
    return Answer(png_bytes(colours[index]), PNG)


def handout_html(desk: Desk, query: Mapping[str, str]) -> Answer:
    """The whole page in one file, lamps alive, for somebody without the program."""
    option, shots = option_of(desk, query), [shot(desk, query)]
    if query.get("all_cameras"):
        others = [c.name for c in desk.cameras(option, shots[0].moves) if c.name != shots[0].camera.name]
        shots += [shot(desk, {**query, "camera": name}) for name in others]
    names, held = {each.camera.name for each in shots}, held_of(query.get("spots", ""))
    held = {camera: spots for camera, spots in held.items() if camera in names and spots}
    changes = flat(option, query.get("look", "")) | {f"spots|{option}|{camera}": spots
                                                     for camera, spots in held.items()}
    text = handout_page(desk, option, shots, changes, query.get("title", ""),
                        json.loads(view_json(desk, query).body), json.loads(meters_json(desk, query).body),
                        wants_values(desk, query), held)
    # Headers are ASCII; any other letter goes in the form that was made for it (RFC 8187).
    name = quote(f"{desk.path.stem}-lights.html", safe="")
    return Answer(text.encode("utf-8", "replace"), HTML,
                  {"content-disposition": f"attachment; filename*=UTF-8''{name}"})


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
    "difference.png": difference_png,
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
