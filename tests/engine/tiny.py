"""Stages made by hand, small enough to be checked against a closed form, and pictures of them.

Lengths in m; every lamp is grey and gives out 1 lm (sun and sky: 1 lx) unless given otherwise.
"""

import importlib.util
from pathlib import Path
from types import SimpleNamespace

import numpy as np
from PIL import Image

from previz.engine.device import on_device
from previz.engine.jit import dr, mi
from previz.engine.kernel import Transport
from previz.engine.probe import ProbeJob
from previz.engine.render import CameraJob, Limits, Sampling, luminance_weights, open_stage
from previz.physics.light import LampLight
from previz.physics.spectra import normalise
from previz.stage import shapes
from previz.stage.records import Camera, Emitter, Mesh, Probe, Stage, Sun, Surface


def _oracle():
    """The general-purpose renderer's own pictures, from the file that starts it in a process too."""
    path = Path(__file__).parent / "oracles" / "plain_pictures.py"
    spec = importlib.util.spec_from_file_location("plain_pictures", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


plain_passes = _oracle().plain_passes

ONES = np.ones(81)
X, Y, Z = np.eye(3)
EQUAL_ENERGY = normalise(ONES)


def surface(name="grey", reflectance=0.5, *, transmission=0.0, f0=0.04, gloss=0.0, roughness=0.3,
            texture=None):
    """A grey surface."""
    return Surface(name, reflectance * ONES, transmission * ONES, f0 * ONES, gloss, roughness,
                   texture)


def lamp(name="lamp", unit="lm", output=1.0, spectrum=EQUAL_ENERGY):
    """The light of a grey lamp."""
    return LampLight(name, unit, output, spectrum, ONES)


def facing(direction, centre=(0, 0, 0)):
    """Axes and place of a thing whose own z points along a direction."""
    return shapes.aimed(direction), np.asarray(centre, float)


def disc_lamp(radius, centre=(0, 0, 0), direction=(0, 0, -1), *, index=0, sides=48, **more):
    """A Lambertian disc."""
    placed = shapes.place(shapes.disc(radius, sides=sides), *facing(direction, centre))
    return Emitter(index, f"lamp {index}", *placed, flat=True, **more)


def rectangle_lamp(width, height, centre=(0, 0, 0), direction=(0, 0, -1), *, index=0, **more):
    """A Lambertian rectangle; its width lies level."""
    face = shapes.rectangle((0, 0, 0), (width / 2, 0, 0), (0, height / 2, 0))
    return Emitter(index, f"lamp {index}", *shapes.place(face, *facing(direction, centre)),
                   flat=True, **more)


def ball_lamp(radius, centre=(0, 0, 0), *, index=0, subdivisions=3, **more):
    """A Lambertian ball."""
    vertices, faces = shapes.ball(radius, subdivisions=subdivisions)
    return Emitter(index, f"lamp {index}", vertices + np.asarray(centre, float), faces,
                   symmetric=True, **more)


def tube_lamp(radius, length, centre=(0, 0, 0), along=(1, 0, 0), *, index=0, sides=48):
    """A Lambertian open cylinder of the area 2 pi r l."""
    grown = radius * (np.pi / sides) / np.sin(np.pi / sides)
    body = shapes.frustum(grown, grown, length, sides=sides, closed=False)
    body = (body[0] - [0, 0, length / 2], body[1])
    return Emitter(index, f"lamp {index}", *shapes.place(body, *facing(along, centre)),
                   symmetric=True)


def patch(width, height, centre, direction, surface="grey", name="patch"):
    """A flat rectangle."""
    face = shapes.rectangle((0, 0, 0), (width / 2, 0, 0), (0, height / 2, 0))
    return Mesh(name, surface, *shapes.place(face, *facing(direction, centre)))


def closed_box(low, high, surface="grey", name="box"):
    """A closed box that is seen from inside."""
    vertices, faces = shapes.box(low, high)
    return Mesh(name, surface, vertices, faces[:, ::-1])


def probe(at, normal=(0, 0, 1), *, dome=False, name=None):
    """A meter."""
    normal = np.asarray(normal, float)
    at = np.asarray(at, float)
    return Probe(name or f"{at} {normal} {dome}", at, normal / np.linalg.norm(normal), dome)


def sun(towards, index=0, angle_deg=0.533):
    """A sun."""
    towards = np.asarray(towards, float)
    return Sun(index, towards / np.linalg.norm(towards), angle_deg)


def stage(*meshes, emitters=(), surfaces=(), lamps=None, probes=(), **more):
    """A stage; it has a lamp for each index that the emitters, the sun and the sky name."""
    if lamps is None:
        count = 1 + max([e.lamp for e in emitters]
                        + [s.lamp for s in (more.get("sun"), more.get("sky")) if s is not None])
        lamps = [lamp(f"lamp {i}") for i in range(count)]
    surfaces = surfaces or (surface(),)
    return Stage("tiny", {each.name: each for each in surfaces}, tuple(meshes), tuple(lamps),
                 tuple(emitters), probes=tuple(probes), **more)


def camera(at, target, *, tan_half=(0.2, 0.2), lens_radius=0.0, focus=1.0, axes=None):
    """A camera; a pinhole unless it is given a lens."""
    at = np.asarray(at, float)
    if axes is None:
        ahead = np.asarray(target, float) - at
        left, up, ahead = shapes.aimed(ahead).T
        axes = np.stack([-left, up, ahead], axis=1)
    return Camera("A", axes, at, tuple(tan_half), tan_half[0] / tan_half[1], lens_radius, focus,
                  stop=2.8, iso=800, shutter_s=1 / 48, nd_density=0.0, white_balance=5600.0,
                  tint=0.0, focal=0.05, sensor=(0.1 * tan_half[0], 0.1 * tan_half[1]))


def measure(stage, precision=0.002, *, bands=1, most_rounds=400, seed=1, buffers=None, **limits):
    """Run the stage's meters, on the stage's buffers if it is on the device already.

    Returns a namespace: `each` (probe, lamp, [direct, bounced]) and `each_error`, light per unit
    lamp and its standard error; `total` (probe,) and `total_error`, with all lamps as they are set.
    """
    job = ProbeJob(buffers or open_stage(stage, bands), stage, seed, Limits(**limits))
    job.run(precision, most_rounds)
    illuminance = job.batches.means.mean(axis=1)
    each = illuminance @ luminance_weights(bands)
    batches = job.batches.means @ luminance_weights(bands)
    each_error = batches.std(axis=1, ddof=1) / np.sqrt(batches.shape[1])
    lumens = np.array([each_lamp.output for each_lamp in stage.lamps])
    total = np.einsum("plk,l->p", each, lumens)
    return SimpleNamespace(each=each, each_error=each_error, total=total, illuminance=illuminance,
                           total_error=job.relative_error() * total)


class RayStart:
    """Paths that begin with given rays; `batches` threads for each, for their spread."""

    has_receptor = False
    slots = 1

    def __init__(self, origins, directions, batches):
        self.batches = batches
        self.data = on_device(mi.Float, np.hstack([origins, directions]))

    def ray(self, whole, sample, rng):
        at = whole // self.batches * 6
        numbers = [dr.gather(mi.Float, self.data, at + k) for k in range(6)]
        return mi.Point3f(*numbers[:3]), mi.Vector3f(*numbers[3:])

    def slot(self, thread, bounced):
        return thread


def radiance(stage, origins, directions, samples=256, *, batches=64, bands=1, seed=1, buffers=None,
             **limits):
    """Return what comes back along rays: (ray, lamp, band) mean radiance and its standard error.

    Samples of each batch are one number, or one for each ray.
    """
    buffers = buffers or open_stage(stage, bands)
    start = RayStart(origins, directions, batches)
    each = samples if np.ndim(samples) == 0 else np.repeat(samples, batches)
    sums = Transport(buffers, start, Limits(**limits)).run(0, len(origins) * batches, each, seed)
    shape = (len(origins), batches, buffers.lamps, bands)
    values = np.array(sums, float).reshape(shape) / np.reshape(samples, (-1, 1, 1, 1))
    return values.mean(axis=1), values.std(axis=1, ddof=1) / np.sqrt(batches)


def agree(measured, error, expected, part=0.01):
    """Hold rendered numbers to closed forms: within `part` or 4 standard errors (class MC).

    A measurement too noisy to show a deviation of `part` is itself a failure.
    """
    measured, error, expected = np.broadcast_arrays(measured, error, expected)
    room = np.maximum(part * np.abs(expected), 4 * error)
    off = np.abs(measured - expected)
    report = "\n".join(f"measured {m:.6g} ± {e:.2g}, expected {x:.6g} ({m / x - 1 if x else m:+.3%})"
                       for m, e, x in zip(measured.ravel(), error.ravel(), expected.ravel(),
                                          strict=True))
    assert np.all(4 * error <= 2 * part * np.abs(expected) + 1e-12), f"too noisy to tell:\n{report}"
    assert np.all(off <= room + 1e-12), report


def picture(stage, camera, width, height, samples=64, *, passes=8, seed=1, bands=1, buffers=None,
            **limits):
    """Render a camera of the stage to Frames."""
    job = CameraJob(buffers or open_stage(stage, bands), stage, camera, width, height,
                    Sampling(samples, passes, seed, Limits(**limits)))
    while not job.finished:
        job.step()
    return job.frames()


def luminance(frames):
    """Return (lamp, row, column): luminance per unit of each lamp of equal-energy light."""
    return np.einsum("lbrc,b->lrc", np.asarray(frames.slices, float),
                     luminance_weights(frames.slices.shape[1]))


def tiles(image, size):
    """Return the means over square tiles. Shape (rows // size, columns // size)"""
    rows, columns = (n // size * size for n in image.shape)
    return image[:rows, :columns].reshape(rows // size, size, columns // size, size).mean((1, 3))


def z_test(folder, image_a, var_a, image_b, var_b, *, size=4, significance=1e-3):
    """Hold two noisy pictures of the same thing against each other, tile by tile.

    Each tile's difference over its standard error is a normal variate if the pictures agree; the
    worst one is judged with Sidak's correction for their number, and their sum of squares as a
    chi-square. A failing pair is saved to the folder and named in the message.
    """
    from scipy import stats  # Takes longer to import than most of what else is done with these stages.

    a, b = tiles(image_a, size), tiles(image_b, size)
    spread = (tiles(var_a, size) + tiles(var_b, size)) / size**2
    seen = spread > 0
    assert np.array_equal(a[~seen], b[~seen]), "pictures differ where neither has any noise"
    z = np.zeros_like(a)
    z[seen] = (a - b)[seen] / np.sqrt(spread[seen])
    count = int(seen.sum())
    assert count >= 16, "too few tiles to judge"
    single = 1 - (1 - significance) ** (1 / count)
    worst = 2 * stats.norm.sf(np.abs(z).max())
    whole = stats.chi2.sf(np.sum(z**2), count)
    if worst < single or whole < significance:
        high = max(a.max(), b.max())
        shown = [a / high, b / high, 0.5 + z / 20]
        path = folder / "z_test.png"
        wide = np.kron(np.clip(np.concatenate(shown, axis=1), 0, 1), np.ones((8, 8)))
        Image.fromarray((255 * wide ** (1 / 2.2)).astype(np.uint8)).save(path)
        raise AssertionError(
            f"pictures differ: worst |z| {np.abs(z).max():.2f} of {count} tiles (chance "
            f"{worst:.1e}, allowed {single:.1e}), chi-square {np.sum(z**2):.0f}, means "
            f"{a.mean():.6g} and {b.mean():.6g}; see {path}")
    return z
