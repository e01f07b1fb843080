"""The depot's own scenes against a general-purpose renderer's spectral path tracer, on the same Stage.

Each scene is held as it is shipped, but for what the other renderer does not have or cannot sample
(`previz.engine.plain_scene` says why): patterns, reliefs, gloss and the light under skin are left off
on both sides, lamps that are wide beams are switched off, a beam's lens is made small and left unfocused, and
there is no glass where it would stand before the sun or a beam. Beams and the sky, which have no
spectrum of their own there, are of equal energy. Both sides get the very same Stage.
"""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from previz.physics.light import lamp_band_xyz
from previz.physics.spectra import normalise
from previz.scene.read import load
from previz.stage.build import build_stage

pytestmark = [pytest.mark.engine, pytest.mark.slow]

SCENES = Path(__file__).parents[2] / "scenes"
WIDTH, HEIGHT, BANDS, RUNS, TILE = 32, 18, 12, 8, 4
SMALL_LENS = 0.02

# What twelve bands leave of a coloured surface's luminance under a coloured lamp (design: mean
# CIEDE2000 0.3, of which 0.5 % of luminance; strong colours twice that).
BAND_ERROR = 0.01

EQUAL_ENERGY = normalise(np.ones(81))


def matt(surface):
    """The surface even, without gloss or light under it; a metal becomes a matt grey of half its own."""
    reflectance = surface.reflectance
    if surface.texture is None and not np.any(reflectance) and not np.any(surface.transmission):
        reflectance = 0.5 * np.asarray(surface.specular)
    return dataclasses.replace(surface, gloss=0.0, reflectance=reflectance, subsurface=0.0, pattern=None,
                               relief=None, across=None, fuzz=None)


def small_lens(emitter):
    """A beam from a lens of a fiftieth of its width, which both renderers take for a point."""
    if emitter.table is None:
        return emitter
    vertices = np.asarray(emitter.vertices, float)
    middle = vertices.mean(axis=0)
    return dataclasses.replace(emitter, vertices=middle + SMALL_LENS * (vertices - middle), focus=np.inf)


def staged(name, option, lamps, *, panes=True):
    """A shipped scene with some of its lamps on, as both renderers get it."""
    stage = build_stage(load(SCENES / f"{name}.yaml").scene(option))
    known = {lamp.name for lamp in stage.lamps}
    assert set(lamps or known) <= known
    plain = {e.lamp for e in stage.emitters if e.table is not None}
    plain |= set() if stage.sky is None else {stage.sky.lamp}
    lit = []
    for number, lamp in enumerate(stage.lamps):
        if number in plain:
            lamp = dataclasses.replace(lamp, spectrum=EQUAL_ENERGY, gel=np.ones(81))
        lit.append(dataclasses.replace(lamp, on=lamp.on and lamp.name in (lamps or known)))
    return dataclasses.replace(
        stage, lamps=tuple(lit), haze=None, panes=stage.panes if panes else (),
        surfaces={key: matt(surface) for key, surface in stage.surfaces.items()},
        emitters=tuple(small_lens(emitter) for emitter in stage.emitters))


def ours(tiny, stage, camera, samples):
    """The mix of the slices, one picture a run: (runs, 3, row, column)."""
    buffers = tiny.open_stage(stage, BANDS)
    weights = np.array([lamp_band_xyz(lamp, BANDS) for lamp in stage.lamps])
    runs = []
    for k in range(RUNS):
        frames = tiny.picture(stage, camera, WIDTH, HEIGHT, samples, passes=1, seed=1 + 100 * k,
                              bands=BANDS, buffers=buffers, max_depth=1000)
        runs.append(np.einsum("lbrc,lbi->irc", np.asarray(frames.slices, float), weights))
    return np.stack(runs)


@pytest.mark.parametrize(("name", "option", "lamps", "panes", "part", "differs", "plain_samples"), [
    # Tubes and soft boxes: area lamps.
    ("canteen", None, ("tube one", "tube two", "tube three", "tube four", "box for fitter",
                       "box for driver", "hatch lamp"), True, 0.03, BAND_ERROR, 256),
    # An ellipsoidal and a spot: beams.
    pytest.param("signal-cabin", "direct", ("key", "lever rim"), False, 0.02, BAND_ERROR, 256,
                 marks=pytest.mark.long),
    # Bulbs in shades, with an imported mesh in their light.
    pytest.param("signal-cabin", "direct", ("desk lamp", "lever lamp", "desk helper"), True, 0.05,
                 BAND_ERROR, 384, marks=pytest.mark.long),
    # The sky through glass, which there mirrors by the mean of both polarisations: up to 3 % off.
    ("signal-cabin", "bounce", ("sky",), True, 0.02, 0.02, 256),
    # Sun and sky by a large opening, on an imported mesh.
    ("engine-shed", None, ("sun", "sky"), False, 0.02, BAND_ERROR, 256),
], ids=["area lamps", "beams", "practicals", "glass", "daylight"])
def test_the_mix_of_slices_is_what_a_spectral_renderer_gets(tiny, tmp_path, name, option, lamps, panes,
                                                            part, differs, plain_samples):
    """Tile by tile within noise in luminance, and the whole picture within a part of it.

    The part is what the noise lets be seen in seconds; `differs` is what differs between the two, as a part.
    The sum of both variances is what counts, and a path of theirs takes five times as long as one
    of ours: it has more of ours where ours are the noisier.
    """
    stage = staged(name, option, lamps, panes=panes)
    camera = stage.cameras[0]
    mine = ours(tiny, stage, camera, 256)[:, 1]
    theirs = tiny.plain_passes(stage, camera, WIDTH, HEIGHT, samples=plain_samples, passes=RUNS, seed=77,
                          spectral=True, max_depth=-1)[:, 1]
    (a, a_var), (b, b_var) = ((x.mean(0), x.var(0, ddof=1) / RUNS) for x in (mine, theirs))
    otherwise = (TILE * differs * b) ** 2  # Of the same sign all over a tile, unlike noise.
    tiny.z_test(tmp_path, a, a_var + otherwise, b, b_var, size=TILE)
    tiny.agree(a.mean(), np.sqrt(a_var.sum() + b_var.sum()) / a.size, b.mean(), part)
