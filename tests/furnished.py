"""A tiny scene with frames made by arithmetic, put into the cache where the engine would have put them.

The scene is read, staged and fingerprinted like any other; only the engine's work is replaced, so whoever
asks for frames and meters finds them, and `previz render` finds the very same.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from previz import frames as fr
from previz.frames.batches import BATCHES, Batches, write_meter
from previz.page.desk import Desk, PageRequest, Picture
from previz.physics.bands import band_edges
from previz.rendering.metering import StageMeters
from previz.rendering.request import Request
from previz.stage.fingerprint import probe_hash

SCENE = """\
# The canteen of the depot, after the last shift.
previz: 1
title: Canteen, last shift   # shown on sheets

room: {size: [4 m, 3 m, 2.5 m]}

daylight: {sky: overcast, illuminance: 40 lx}

lights:
  - {name: counter, kind: bulb, at: [1 m, 1 m, 2 m], output: 900 lm, spectrum: tungsten, cct: 3000 K}
  - name: key            # the one that is moved most
    kind: panel
    at: [3 m, 0.5 m, 2 m]
    aim: table
    size: [0.6 m, 0.3 m]
    output: 4000 lm
    cct: 4300 K
  - {name: rim, kind: panel, at: [0.5 m, 2.5 m, 2.2 m], aim: table, size: [0.3 m, 0.3 m], output: 1500 lm,
     cct: 5600 K, dimmer: 60 %, gel: [quarter cto, {transmission: 80 %}]}

pieces:
  - {name: table, shape: table, at: [2 m, 1.5 m], size: [1 m, 0.6 m, 0.75 m]}

cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: table, lens: 24 mm, stop: T2.8, iso: 800, white_balance: 4300 K}
  - {name: B, at: [3.6 m, 0.4 m, 1.6 m], aim: table, lens: 35 mm, stop: T2.8, iso: 800, white_balance: 4300 K}

meters:
  - {name: place setting, at: [2 m, 1.5 m, 0.8 m]}

options:
  # Nothing is rendered for these: they are levels and colours.
  early: {}
  late:
    lights: {key: {dimmer: 40 %, cct: 3600 K}}
"""

SIZE = (160, 90)
SAMPLES = 4
PLACES = {"counter": (0.2, 0.3), "key": (0.75, 0.4), "rim": (0.4, 0.7), "sky": (0.5, 0.1), "moon": (0.6, 0.2)}


def request_for(folder: Path, **more) -> PageRequest:
    """Return what `previz page` requests for a scene in a folder; `more` goes to its `Request`."""
    out = folder / "renders"
    return PageRequest(
        folder / "canteen.yaml",
        out,
        Request(out / "frames", **{"size": (160, None), "samples": SAMPLES, **more}),
    )


def invented_frames(lights, names, seed: int, size=SIZE, noise=0.35) -> fr.Frames:
    """Return frames of soft pools of light, one for each lamp, on a wall of coloured stripes."""
    columns, rows = size
    random = np.random.default_rng(seed)
    x, y = np.meshgrid(np.linspace(0, 1, columns), np.linspace(0, 1, rows))
    stripe = (np.floor(x * 8) + np.floor(y * 5)).astype(int) % 4
    middle = np.linspace(0, 1, 12)
    paints = 0.08 + 0.6 * np.exp(-(((middle[None, :] - np.array([0.1, 0.4, 0.7, 0.95])[:, None]) / 0.3) ** 2))
    slices = np.empty((len(lights), 12, rows, columns), np.float32)
    for number, name in enumerate(lights):
        at = PLACES[name]
        pool = 0.03 + np.exp(-(((x - at[0]) / 0.25) ** 2 + ((y - at[1]) / 0.35) ** 2))
        grain = random.gamma(1 / noise**2, noise**2, (1, rows, columns))
        strength = 0.05 if name == "sky" else 0.006
        slices[number] = paints[stripe].transpose(2, 0, 1) * pool * grain * strength
    albedo = paints[stripe][:, :, [9, 5, 1]].transpose(2, 0, 1)
    normal = np.zeros((3, rows, columns), np.float32)
    normal[1] = -1
    return fr.Frames(
        slices=slices,
        variance=(slices.mean(axis=1) * noise) ** 2,
        albedo=albedo.astype(np.float32),
        normal=normal,
        depth=np.full((rows, columns), 2.0, np.float32),
        names_index=(stripe % len(names)).astype(np.int32),
        lights=lights,
        names=names,
        band_edges_nm=band_edges(12),
        samples=SAMPLES,
        seed=seed,
        camera={"name": "A"},
        transport_hash="invented",
        version="test",
    )


def put_frames(desk: Desk, picture: Picture, seed: int) -> None:
    """Put invented frames where the engine would have put them."""
    job, camera = desk.job(picture)
    lights = tuple(lamp.name for lamp in job.stage.lamps)
    size = (job.order.width, job.order.height)
    frames = invented_frames(lights, ("table", "north wall"), seed, size)
    fr.write(job.frame_folder(camera), replace(frames, transport_hash=job.frame_folder(camera).name))


def put_meters(desk: Desk, option: str) -> None:
    """Put invented meters into the cache; each lamp gives every meter a light and a noise of its own."""
    camera = desk.cameras(option)[0]
    job, _ = desk.job(Picture(option, camera.name, camera.stop, desk.quality))
    meters = StageMeters(job)
    lights = [lamp.name for lamp in job.stage.lamps]
    for number, probe in enumerate(job.stage.probes):
        batches = Batches.empty([probe.name], lights, 12)
        light = 0.01 * (1 + np.arange(len(lights))[:, None, None] + number) * np.array([1.0, 0.4])[:, None]
        grain = np.random.default_rng(number).standard_normal((BATCHES, len(lights), 1, 1))
        # Under the 1 % that meters are run to, on as many paths as they need, so that none is run.
        paths = meters.least // BATCHES
        noise = 0.01 * (1 + np.arange(len(lights)))[:, None, None]
        batches.sums[0] = paths * light * (1 + noise * grain) * np.ones(12)
        batches.paths[0] = paths
        # Contributions that differ by lamp, many enough that no error is widened much.
        batches.squares[0], batches.fourths[0] = 1.0, 1 / (400 + 100 * np.arange(len(lights)))
        name = probe_hash(job.paths, [replace(probe, name="")], *job.settings)
        write_meter(meters.folder / f"{name}.npz", batches, 0)


def furnished_desk(folder: Path, text: str = SCENE, **more) -> Desk:
    """Write a scene and its frames into a folder and return its desk; `more` goes to its `Request`."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "canteen.yaml").write_text(text, encoding="utf-8")
    desk = Desk(request_for(folder, **more))
    seen = set()
    for option in desk.options:
        for seed, camera in enumerate(desk.cameras(option)):
            each = Picture(option, camera.name, camera.stop, "working")
            job, staged = desk.job(each)
            # Options that only differ in levels and colours share their frames.
            if job.frame_folder(staged) not in seen:
                put_frames(desk, each, 10 + seed)
                seen.add(job.frame_folder(staged))
        put_meters(desk, option)
    return desk
