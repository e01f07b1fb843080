"""Blocking drawings: who and what stands where, without any light.

Each camera's frame as flat shapes with the names of figures, lamps and boards at them, and
the whole set from above with the field of every camera. Made to be seen within seconds of a
change to the scene file; nothing in them is a measurement of light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from previz.deliver.blocking import shade
from previz.deliver.blocking.above import Plan
from previz.deliver.blocking.cautions import write_cautions
from previz.deliver.blocking.notes import field_of_view, hung_by, lamp_heights, scale_of, sky_mark
from previz.deliver.blocking.views import FINE, FirstHits, View, caption_height
from previz.deliver.blocking.words import Word, place_words, type_size, with_plates, write_words
from previz.deliver.canvas import INK, PAPER, QUIET, Canvas

NAMED = ("figure", "lamp", "board", "frame", "flag")
"""Roles whose names are written, the most important first."""

LEAST_SEEN = 2
"""Fewest pixels of a thing that is given a name. [px]"""

ASIDE = 0.5
"""Cosine to the line of sight below which a lamp out of frame is not noted. [1]"""


@dataclass(frozen=True, eq=False)
class Drawing:
    """One finished drawing.

    Parameters
    ----------
    view : View
        What is drawn.
    image : PIL.Image.Image
        sRGB.
    in_frame : tuple of str
        Lamps inside the frame line that are not meant to be; none from above.
    """

    view: View
    image: Image.Image
    in_frame: tuple[str, ...] = ()


def draw_view(view: View, hits: FirstHits, size: tuple[int, int], option: str = "") -> Drawing:
    """Draw one view.

    Parameters
    ----------
    view : View
    hits : FirstHits
        Of the view's grid.
    size : (int, int)
        The size that the view was made for. [px]
    option : str
        Written after the title; '' for none.
    """
    fine = shade.shaded(view, hits)
    things = _things(view, hits)
    if view.frame is None:
        image = Image.fromarray(fine)
        words, busy = _draw_above(view, image, hits, things)
    else:
        image = _framed(view, fine)
        words, busy = _draw_camera(view, image, hits, things)
    text = type_size(size[1])
    placed = place_words(words, busy, text)
    pen = ImageDraw.Draw(image)
    for each in placed:
        if each.leader:
            pen.line([(x * FINE, y * FINE) for x, y in each.leader], fill=QUIET, width=FINE)
    canvas = Canvas(*size)
    canvas.picture((0, 0), with_plates(shade.reduced(np.asarray(image)), placed))
    write_words(canvas, placed, text)
    _caption(canvas, view, size, text, option)
    stray = tuple(word.text for word in words if word.caution)
    return Drawing(view, canvas.image, stray)


@dataclass(frozen=True)
class _Thing:
    """A named thing as it is seen: its role, the box of its pixels, and one of them."""

    role: str
    box: tuple[float, float, float, float]
    anchor: tuple[float, float]


def _things(view, hits) -> dict[str, _Thing]:
    """Return every named thing that is seen, the most important roles first."""
    roles = shade.roles_of(view.stage)
    found, seen = {}, hits.names_index[::FINE, ::FINE]
    # Every pixel by what it shows, each thing's in the order that they lie in.
    shown = (seen.ravel() + 1).astype(np.min_scalar_type(len(hits.names)))
    order, ends = np.argsort(shown, kind="stable"), np.cumsum(np.bincount(shown))
    for name in sorted((n for n in hits.names if roles.get(n) in NAMED),
                       key=lambda n: NAMED.index(roles[n])):
        index = hits.names.index(name)
        if index + 1 >= len(ends) or ends[index + 1] - ends[index] < LEAST_SEEN:
            continue
        rows, columns = np.divmod(order[ends[index]:ends[index + 1]], seen.shape[1])
        # A few pixels seen through a gap must not stretch the box: the outermost are left out.
        low, high = int(len(rows) * 0.003), int(len(rows) * 0.997)
        top, bottom = np.partition(rows, (low, high))[[low, high]]
        left, right = np.partition(columns, (low, high))[[low, high]]
        nearest = np.argmin((rows - rows.mean()) ** 2 + (columns - columns.mean()) ** 2)
        box = tuple(float(x) for x in (left, top, right, bottom))
        anchor = (float(columns[nearest]), float(rows[nearest]))
        found[name] = _Thing(roles[name], box, anchor)
    return found


def _where(hits, chosen, step: int = 1):
    """Return where any of some names is seen, each `step` rows and columns. Bool."""
    return np.array([*(name in chosen for name in hits.names), False])[hits.names_index[::step, ::step]]


def _framed(view, fine) -> Image.Image:
    """Return the picture with all that lies outside the frame paled."""
    box = tuple(round(x * FINE) for x in view.frame)
    image = Image.fromarray(fine)
    (left, top, right, bottom), (width, height) = box, image.size
    for strip in ((0, 0, width, top), (0, bottom, width, height),
                  (0, top, left, bottom), (right, top, width, bottom)):
        part = image.crop(strip)
        image.paste(Image.blend(part, Image.new("RGB", part.size, PAPER), shade.BEYOND), strip)
    return image


def _draw_camera(view, image, hits, things):
    """Draw the frame line; return the names to write and the pixels they should not cover."""
    box = [round(x * FINE) for x in view.frame]
    ImageDraw.Draw(image).rectangle([box[0] - 1, box[1] - 1, box[2], box[3]], outline=INK,
                                    width=FINE)
    kept = {rig.name for rig in view.stage.rig if rig.in_shot}
    rigged = {rig.name for rig in view.stage.rig}
    words = []
    for name, thing in things.items():
        stray = (thing.role == "lamp" and name in rigged and name not in kept
                 and _inside(thing.box, view.frame))
        words.append(Word(name, "in frame" if stray else "", thing.box, thing.anchor,
                          above=thing.role == "figure", caution=stray))
    words += _out_of_frame(view, image, things)
    return words, _where(hits, things, FINE)


def _inside(box, frame):
    return box[0] < frame[2] and frame[0] < box[2] and box[1] < frame[3] and frame[1] < box[3]


def _out_of_frame(view, image, things):
    """Mark at the edge on which side lamps stand that are ahead but out of the drawing."""
    pen, words = ImageDraw.Draw(image), []
    centres: dict[str, list] = {}
    for emitter in view.stage.emitters:
        centres.setdefault(emitter.name, []).append(np.asarray(emitter.vertices).mean(axis=0))
    middle = np.array([view.width, view.height]) / 2
    for name, points in centres.items():
        centre = np.mean(points, axis=0)
        pixel, depth = view.project(centre)
        far = np.linalg.norm(centre - view.camera.position)
        offset = pixel - middle
        outside = np.max(np.abs(offset) / middle)
        if name in things or depth <= ASIDE * far or outside < 1:
            continue
        edge = middle + offset / outside * (1 - 14 / middle.min())
        towards = offset / np.linalg.norm(offset)
        side = np.array([-towards[1], towards[0]])
        corners = [edge + towards * 8, edge - towards * 3 + side * 5, edge - towards * 3 - side * 5]
        pen.polygon([tuple(c * FINE) for c in corners], fill=shade.ROLE_COLOURS["lamp"],
                    outline=shade.OUTLINE)
        box = (*(edge - 7), *(edge + 7))
        words.append(Word(name, "", tuple(map(float, box)), tuple(map(float, edge))))
    return words


def _draw_above(view, image, hits, things):
    """Draw what goes over the plan; return the names to write and the pixels not to cover."""
    plan, stage = Plan(view, image), view.stage
    _walls(plan, image, hits)
    for camera in stage.cameras:
        plan.field(camera)
    plan.sheets()
    plan.facings()
    plan.lamps(set(things))
    for camera in stage.cameras:
        plan.camera(camera)
    busy = _where(hits, things, FINE)
    words = _camera_words(plan) + _thing_words(plan, things)
    for word in words:
        left, top, right, bottom = (int(x) for x in word.box)
        busy[max(0, top):max(0, bottom) + 1, max(0, left):max(0, right) + 1] = True
    words += _disc(plan, image)
    _scale(plan, words)
    return words, busy


def _walls(plan, image, hits):
    """Draw the walls as cut; what stands above the cut or sticks into a wall stays on top."""
    roles = shade.roles_of(plan.stage)
    openings = {guide.name for guide in plan.stage.guides if guide.opening}
    standing = {name for name in hits.names
                if roles[name] not in ("room", "outside") and name not in openings}
    before = image.copy()
    plan.walls()
    image.paste(before, mask=Image.fromarray(_where(hits, standing)))


def _camera_words(plan):
    words = []
    for camera in plan.stage.cameras:
        x, y = plan.at(camera.position)[0] / FINE
        words.append(Word(camera.name, f"{camera.focal * 1000:g} mm",
                          (x - 6, y - 6, x + 6, y + 6), (x, y)))
    return words


def _thing_words(plan, things):
    """Return the names of all that stands in the scene, seen or hidden, with lamps' heights."""
    roles = shade.roles_of(plan.stage)
    bodies: dict[str, list] = {}
    for body in (*plan.stage.meshes, *plan.stage.emitters):
        if roles[body.name] in NAMED:
            bodies.setdefault(body.name, []).append(np.asarray(body.vertices, float))
    heights, hung = lamp_heights(plan.stage), hung_by(plan.stage)
    words = []
    for name in sorted(bodies, key=lambda n: NAMED.index(roles[n])):
        pixels = plan.at(np.concatenate(bodies[name])) / FINE
        low, high = pixels.min(axis=0), pixels.max(axis=0)
        anchor = things[name].anchor if name in things else tuple((low + high) / 2)
        notes = [f"{heights[name]:.1f} m up"] if name in heights else []
        note = ", ".join(notes + ([hung[name]] if name in hung else []))
        words.append(Word(name, note, (*map(float, low), *map(float, high)), anchor))
    return words


def _disc(plan, image):
    """Mark at the edge where the sun or the moon stands."""
    mark = sky_mark(plan.stage)
    if mark is None:
        return []
    name, direction, height = mark
    middle = np.array([plan.view.width, plan.view.height]) / 2
    offset = direction * [1, -1]
    reach = (middle - 24) / np.maximum(np.abs(offset), 1e-9)
    place = middle + offset * (reach.min() if np.any(offset) else 0)
    pen = ImageDraw.Draw(image)
    (x, y), r = place * FINE, 7 * FINE
    pen.line([(x, y), tuple((place - offset * 34) * FINE)], fill=shade.OUTLINE, width=FINE)
    pen.ellipse([x - r, y - r, x + r, y + r], fill=shade.ROLE_COLOURS["lamp"],
                outline=shade.OUTLINE, width=FINE)
    x, y = map(float, place)
    return [Word(name, f"{height:.0f}° high", (x - 8, y - 8, x + 8, y + 8), (x, y))]


def _scale(plan, words):
    """Draw the scale at the lower left and add its word."""
    scale = plan.view.pixels_per_metre
    length = scale_of(plan.view)
    left, base = 18.0, plan.view.height - 16.0
    right = left + length * scale
    for start, end in (((left, base), (right, base)), ((left, base - 5), (left, base + 5)),
                       ((right, base - 5), (right, base + 5))):
        plan.pen.line([tuple(x * FINE for x in start), tuple(x * FINE for x in end)], fill=INK,
                      width=round(1.5 * FINE))
    words.insert(0, Word(f"{length:g} m", "", (left, base - 6, right, base + 6), (right, base)))


def _caption(canvas, view, size, text, option):
    """Write what the drawing shows under it."""
    width, height = size
    under = height - caption_height(height) - view.height
    base = height - under - caption_height(height) / 2 + text * 0.36
    canvas.fill(0, view.height, width, height, PAPER)
    canvas.rule(0, width, view.height)
    if view.frame is None:
        walled = any(mesh.name == "north wall" for mesh in view.stage.meshes)
        head, details = "From above", "north wall at the top" if walled else ""
    else:
        camera = next(c for c in view.stage.cameras if c.name == view.name)
        across, upwards = field_of_view(camera)
        head = f"Camera {camera.name}"
        details = (f"{camera.focal * 1000:g} mm · T{camera.stop:g} · {camera.aspect:.2f}:1 · "
                   f"sees {across:.0f}° × {upwards:.0f}°")
    left = 14 + canvas.text((14, base), head, text, weight="strong")
    if details:
        left += canvas.text((left + 12, base), details, text, colour=QUIET) + 12
    title = " · ".join(part for part in (view.stage.title, option) if part)
    canvas.text((width - 14, base), title, text, colour=QUIET, align="right",
                room=max(40, width - left - 40))
    if under:
        write_cautions(canvas, view.stage, size)
