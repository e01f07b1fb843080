"""Hair that hangs: to the jaw, to the shoulders, and in curls."""

from __future__ import annotations

import numpy as np

from previz.stage.figures.combed import fringe_of_down, locks, shell, together
from previz.stage.figures.growing import about, follow, march, roots, ruffled, tangent
from previz.stage.figures.mesh import cross, smooth_step, unit
from previz.stage.figures.people import PEOPLE
from previz.stage.figures.scalp import scalp
from previz.stage.figures.skin import head_shape
from previz.stage.figures.strands import scatter, tangents

_UPRIGHT = np.array([0.0, 0.0, -1.0])


def bob(person, down):
    """Return hair to the jaw, its ends turned in."""
    skull = scalp(person)
    cut = skull.eye_height - 0.93 * skull.height
    return _hung(person, np.array(down), cut, strands=6200, points=9, turned_in=0.8, uneven=0.008)


def long(person, down):
    """Return hair to the shoulders."""
    cut = np.min(head_shape(person).points[:, 2]) + 0.040
    return _hung(person, np.array(down), cut, strands=5600, points=12, turned_in=0.25, uneven=0.022)


def _hung(person, down, cut, *, strands, points, turned_in, uneven):
    """Return hair that parts on top, runs over the skull and falls to the height of a cut. [m]"""
    skull, parting = scalp(person), PEOPLE[person].parting
    depth = 9e-3

    def flowing(down, ends):
        def flow(out, ahead, gone, free):
            going = _parted(out, parting, down) + ruffled(out, 0.05)
            if ends is not None:
                near = smooth_step(gone / ends, 0.80, 1.0)
                level = out - (out @ down)[:, None] * down
                going = going - (turned_in * near)[:, None] * unit(level)
            if ahead is None:
                return going
            return np.where(free[:, None], unit(going) + 0.35 * ahead, unit(going) + 0.35 * ahead)
        return flow

    def lift(out, gone):
        # Beside the parting it is at once almost as high as farther down, so that the head stays round.
        return (depth - 3.6e-3 * smooth_step(out[:, 2], 0.6, 0.95)) * (1 - np.exp(-gone / 0.004))

    start = roots(skull, 620, 201, fade=6e-3)
    reach = np.full(len(start), 0.46)
    trial = march(skull, start, reach, flowing(_UPRIGHT, None), lift, 17, hang=True)
    height = trial.paths[..., 2] - cut - uneven * (scatter(len(start), 204)[:, None] - 0.5)
    under = height < 0
    first = np.clip(np.argmax(under, axis=1), 1, 16)
    row = np.arange(len(start))
    before, after = height[row, first - 1], height[row, first]
    part = np.clip(before / np.maximum(before - after, 1e-9), 0, 1)
    whole = (first - 1 + part) / 16 * reach
    length = np.clip(np.where(under.any(axis=1), whole, reach), 0.03, None)
    guides = march(skull, start, length, flowing(down, length), lift, points + 3, hang=True, early=1.6)
    out, lead = about(skull, guides, strands, 211)
    paths, outward = follow(skull, guides, out, lead, 214, points=points, clump=0.62, shorter=0.22,
                            stray=0.035, away=9e-3, level=(0.35, 1.08), least=1e-3)
    width = 2.3e-4 + 2.3e-4 * scatter(len(out), 224)
    pieces = [locks(paths, outward, width, 225, roll=2.4), fringe_of_down(skull, guides, 228, count=1400)]
    made, places = together(pieces)
    return None, made, places


def _parted(out, parting, down):
    """Return where hanging hair goes: aside from the parting and down the skull, off the face, then down."""
    x, y, _ = np.moveaxis(out, -1, 0)
    high = -(out @ down)
    top = smooth_step(high, 0.45, 0.95)
    behind = smooth_step(x, -0.05, -0.50)
    line = 0.24 * parting * smooth_step(x, -0.6, 0.3)
    aside = np.tanh((y - line) / 0.04) * (1 - 0.85 * behind)
    side = np.where(y >= 0, 1.0, -1.0)
    # Below the brows it keeps out of the face.
    face = smooth_step(x, 0.30, 0.62) * smooth_step(out[..., 2], 0.55, 0.10)
    front = smooth_step(x, 0.35, 0.72)
    push = np.stack([-0.35 * top - 0.8 * np.maximum(face, front) - 0.6 * top * behind,
                     aside * np.maximum(0.9 * top, 1.3 * front) + 0.9 * side * face, 0.0 * x], axis=-1)
    # Where the skull holds it up it slides down; below it falls.
    slide = unit(tangent(down + push, out))
    held = smooth_step(high, -0.05, 0.30)[..., None]
    return held * slide + (1 - held) * (down + 0.8 * face[..., None] * push)


def curls(person):
    """Return curls: locks that wind about guides, which stand off the head and bend down."""
    skull = scalp(person)
    man = PEOPLE[person].sex == "male"

    def flow(out, ahead, gone, _):
        bend = smooth_step(gone, 0.004, 0.030)[:, None]
        going = (1 - 0.75 * bend) * out + bend * (tangent(0.9 * _UPRIGHT, out)) + ruffled(out, 0.30)
        return going if ahead is None else unit(going) + 0.6 * ahead

    def lift(out, gone):
        return np.minimum(0.25 * gone, 5e-3)

    start = roots(skull, 620, 301, fade=7e-3)
    over = smooth_step((skull.at(start)[:, 2] - skull.eye_height) / skull.height, -0.3, 0.7)
    length = (0.022 + 0.018 * over if man else 0.034 + 0.010 * over) * (0.75 + 0.5 * scatter(len(start), 304))
    length = length * (0.45 + 0.55 * smooth_step(skull.from_line(start), 0, 16e-3))
    guides = march(skull, start, length, flow, lift, 8, hang=True, ears=False)
    out, lead = about(skull, guides, 5200, 311, fade=9e-3)
    points = 13
    paths, outward = follow(skull, guides, out, lead, 314, points=points, clump=0.88, shorter=0.45,
                            stray=0.10, away=5e-3, level=(0.45, 1.0), ears=False)
    paths = _wound(paths, outward, lead, skull)
    width = 1.5e-4 + 1.5e-4 * scatter(len(out), 325)
    pieces = [locks(paths, outward, width, 326, roll=3.0, tip=0.3)]
    made, places = together(pieces)
    return shell(skull, lambda out: 0.0 * out[..., 0] + (5e-3 if man else 8e-3)), made, places


def _wound(paths, outward, lock, skull):
    """Return paths that wind about themselves, those of a lock together."""
    count, points = paths.shape[:2]
    along = tangents(paths)
    one = unit(cross(along, outward))
    two = cross(one, along)
    gone = np.linalg.norm(np.diff(paths, axis=1), axis=2).cumsum(axis=1)
    gone = np.concatenate([np.zeros((count, 1)), gone], axis=1)
    locks_ = int(lock.max()) + 1
    pitch = (0.012 + 0.007 * scatter(locks_, 331))[lock]
    radius = (2.4e-3 + 2.6e-3 * scatter(locks_, 332))[lock] * (0.8 + 0.4 * scatter(count, 333))
    hand = np.where(scatter(locks_, 334) < 0.5, 1.0, -1.0)[lock]
    phase = 2 * np.pi * scatter(locks_, 335)[lock] + 0.9 * (scatter(count, 336) - 0.5)
    angle = hand[:, None] * 2 * np.pi * gone / pitch[:, None] + phase[:, None]
    size = (radius[:, None] * smooth_step(gone, 0.0, 0.007))[..., None]
    wound = paths + size * (np.cos(angle)[..., None] * one + np.sin(angle)[..., None] * two)
    gap = wound - skull.centre
    distance = np.linalg.norm(gap, axis=-1)
    out = gap / distance[..., None]
    least = skull.reach(out) + 0.6e-3 * np.minimum(gone / 4e-3, 1) - 0.8e-3 * (gone == 0)
    return skull.centre + out * np.maximum(distance, least)[..., None]
