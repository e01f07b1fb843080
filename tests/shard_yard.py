"""A small scene whose day is shared in many ways, and what one process makes of it."""

from pathlib import Path

import numpy as np

from previz.rendering.progress import Progress
from previz.rendering.request import Request
from previz.rendering.shards.planning import Split
from previz.scene.read import load
from previz.studies.render import render
from previz.studies.shard.day import Task, Want
from previz.studies.shard.work import Day, Worker

SCENE = """\
previz: 1
title: The engine shed's office
room: {size: [4 m, 4 m, 2.6 m], surfaces: {walls: {reflectance: 0.5}}}
pieces:
  - {name: stand, shape: box, at: [2 m, 2.6 m], size: [0.4 m, 0.4 m, 1.1 m], surface: grey card}
lights:
  - {name: key, kind: fresnel, at: [0.4 m, 0.4 m, 2.4 m], aim: stand.top, output: 3000 lm}
  - {name: fill, kind: panel, at: [3.6 m, 0.4 m, 1.8 m], aim: stand.top, size: [0.5 m, 0.5 m],
     output: 2000 lm}
  - {name: bulb, kind: bulb, at: [2 m, 0.5 m, 2.2 m], output: 400 lm}
cameras: [{name: A, at: [2 m, 0.6 m, 1.3 m], aim: stand.top, lens: 25 mm, stop: T2.8, iso: 800}]
meters: [{name: desk, at: [2 m, 1 m, 1 m]}]
options:
  plain: {}
  moved: {lights: {bulb: {at: [2.2 m, 0.5 m, 2.2 m]}}}
  low: {lights: {key: {dimmer: 30 %}}}
"""
"""Of its options the second brings one lamp of its own, and the third none."""

ASKED = {"size": (32, None), "samples": 8, "bands": 8, "backend": "processor", "error": 0.2}
"""32 x 18 pixels, 8 paths in 4 passes."""


def office(folder: Path) -> Path:
    """Write the scene."""
    path = folder / "office.yaml"
    path.write_text(SCENE, encoding="utf-8")
    return path


def task(scene: Path, cache: Path, split: Split = Split(), options=(), **more) -> Task:  # noqa: B008
    """Return what is wanted of the scene, into a cache."""
    return Task(scene, cache, (Want(Request(cache, **{**ASKED, **more}), tuple(options)),), split)


def by_one(scene: Path, cache: Path, options=()) -> Path:
    """Have one process render it as it always did, and return the cache."""
    render(load(scene), Request(cache, **ASKED), options=options)
    return cache


def by_a_hand(one: Task, **more) -> Day:
    """Have this process do all units."""
    return Worker([one], Progress(), **more).run()


def arrays(cache: Path) -> dict[str, bytes]:
    """Return what a cache holds of light, planes and meters, to the bit, by place.

    Containers of meters have the time in them, so these are compared by their members.
    """
    found = {}
    for path in cache.rglob("*.np[yz]"):
        if "near" in path.parts:
            continue
        place = path.relative_to(cache).as_posix()
        if path.suffix == ".npy":
            found[place] = path.read_bytes()
        else:
            with np.load(path) as members:
                found |= {f"{place}/{name}": members[name].tobytes() for name in members}
    return found
