"""How cameras' pictures are shown on the page: the shader of each, and its tables, as plain values."""

from __future__ import annotations

import base64

import numpy as np

from previz.deliver.wording import look_texts, optics_texts
from previz.exposure.display_shader import FUNCTION, ViewShader, view_shader
from previz.scene.camera import Camera
from previz.stage.fingerprint import digest_of
from previz.stage.records import Stage


def _seen_by(stage: Stage, camera: Camera) -> tuple:
    """Return what of a camera its view hangs on."""
    own = next(each for each in stage.cameras if each.name == camera.name)
    return own.over, own.under, own.show


def view_key(stage: Stage, camera: Camera) -> str:
    """Return what is the same for cameras whose pictures are shown alike."""
    return digest_of(*_seen_by(stage, camera))[:16]


def view_words(stage: Stage, camera: Camera) -> str:
    """Return in words what a camera's view is beyond the plain one, '' for that."""
    own = next(each for each in stage.cameras if each.name == camera.name)
    taken = optics_texts(own.optics)
    # The browser mixes light pixel by pixel; stills and what the server makes have all of it.
    left = [f"shown without {', '.join(taken)}, which stills have"] if taken else []
    return ", ".join([*look_texts(*_seen_by(stage, camera)), *left])


def view_values(stage: Stage, camera: Camera) -> dict:
    """Return a camera's shader with its tables.

    Raises
    ------
    DataError
        Its show file cannot be used.
    """
    shader: ViewShader = view_shader(*_seen_by(stage, camera))
    return {
        "key": view_key(stage, camera), "function": FUNCTION, "text": shader.text,
        "tables": [{"sampler": table.sampler, "height": table.values.shape[0],
                    "width": table.values.shape[1], "channels": table.values.shape[2],
                    "values": table.values.ravel().tolist()} for table in shader.tables],
        # A cube of 65 steps as text would be three times as long.
        "cubes": [{"sampler": cube.sampler, "edge": len(cube.values),
                   "floats": base64.b64encode(np.ascontiguousarray(cube.values, "<f4").tobytes()).decode()}
                  for cube in shader.cubes]}
