"""Independent pictures of a Stage by a general-purpose renderer's own path tracer.

`previz.engine.plain_scene` writes the stage for it in Rec. 709 and says what differs there. Here
colours may be spectra too, by another process, as one process has one variant. A textured surface,
the sky and beams have no spectrum of their own then: textures are turned into one by the renderer,
sky and beams are of equal energy with the right luminance.

In spectral mode the renderer's Y is 1 for a spectrum of 1 W m⁻² sr⁻¹ nm⁻¹, which has
683.002 · 106.750 cd/m².
"""

from __future__ import annotations

import argparse
import pickle
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from previz.engine import backend
from previz.engine.plain_scene import Parts, plain_scene
from previz.physics.chromatic_adaptation import REC709_FROM_XYZ
from previz.physics.spectra import K_M, WAVELENGTHS_NM, xyz_of
from previz.stage.records import Camera, Stage

LUMINANCE_OF_UNIT_Y = K_M * 106.7502593994140625
"""Luminance of a spectral picture's Y = 1. [cd/m²]

Source: `include/mitsuba/core/spectrum.h`, the integral of the observer's y that Y is divided by.
"""


class SpectralParts(Parts):
    """The parts of a stage with spectra in place of Rec. 709."""

    raw = False

    def spectrum(self, values):
        """Return a reflectance or transmission."""
        return _regular(np.clip(values, 0, 1))

    def light(self, lamp: int, factor: float):
        """Return the radiance of a lamp that is `factor` per unit of its output."""
        light = self.stage.lamps[lamp]
        return _regular(light.spectrum * light.gel * light.output * light.level * light.on * factor)

    def of_pictures(self, lamp: int) -> np.ndarray:
        """Return a lamp's output in the renderer's own unit of an equal-energy spectrum."""
        light = self.stage.lamps[lamp]
        lumens = xyz_of(light.spectrum * light.gel)[1] * light.output * light.level * light.on
        return np.array([lumens / LUMINANCE_OF_UNIT_Y])


def _regular(values):
    return {"type": "irregular", "wavelengths": ", ".join(f"{w:g}" for w in WAVELENGTHS_NM),
            "values": ", ".join(f"{float(v):.8g}" for v in values)}


def plain_passes(stage: Stage, camera: Camera, width: int, height: int, *, samples: int = 64,
                 passes: int = 8, seed: int = 1, spectral: bool = False, **depths) -> np.ndarray:
    """Return independent pictures of the stage by the plain path tracer.

    Parameters
    ----------
    stage, camera, width, height
        As in `plain_scene`.
    samples, passes : int
        Paths a pixel of each pass; number of passes.
    seed : int
        Of the first pass.
    spectral : bool
        By spectra, in another process.
    **depths
        As in `plain_scene`.

    Returns
    -------
    float array, shape (passes, 3, height, width)
        XYZ. [cd/m²]

    Raises
    ------
    RuntimeError
        The other process failed.
    """
    task = {"stage": stage, "camera": camera, "width": width, "height": height,
            "samples": samples, "passes": passes, "seed": seed, **depths}
    if not spectral:
        return _run(task, Parts, 1.0)
    with tempfile.TemporaryDirectory() as folder:
        request, made = Path(folder) / "task.pickle", Path(folder) / "passes.npy"
        request.write_bytes(pickle.dumps(task))
        done = subprocess.run([sys.executable, __file__, request, made],
                              capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"the spectral renderer failed: {done.stderr.strip()}")
        return np.load(made)


def _run(task: dict, kind: type[Parts], unit: float) -> np.ndarray:
    task = dict(task)
    samples, passes, seed = (task.pop(key) for key in ("samples", "passes", "seed"))
    scene = plain_scene(**task, kind=kind)
    mi, _ = backend.load()
    xyz_from_rgb = np.linalg.inv(REC709_FROM_XYZ) * unit
    pictures = [np.array(mi.render(scene, spp=samples, seed=seed + k), float)
                for k in range(passes)]
    return np.einsum("ij,prcj->pirc", xyz_from_rgb, np.stack(pictures))


def main() -> None:
    """Render a pickled task (written by `plain_passes`) by spectra and save its passes as npy."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("task", type=Path)
    parser.add_argument("out", type=Path)
    words = parser.parse_args()
    backend.load(backend.variant_of(backend.choose()).replace("rgb", "spectral"))
    np.save(words.out, _run(pickle.loads(words.task.read_bytes()), SpectralParts, LUMINANCE_OF_UNIT_Y))


if __name__ == "__main__":
    main()
