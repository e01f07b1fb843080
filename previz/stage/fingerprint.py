"""Fingerprints of what a render depends on: levels and colours are left out, as they cost none."""

from __future__ import annotations

import dataclasses
import hashlib

import numpy as np

from previz.stage.records import Camera, Stage


def _feed(digest, value) -> None:
    """Add any value of the stage's records to a digest, told apart by type and shape."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        digest.update(type(value).__name__.encode())
        for field in dataclasses.fields(value):
            _feed(digest, field.name)
            _feed(digest, getattr(value, field.name))
    elif isinstance(value, np.ndarray):
        digest.update(f"array {value.dtype.str} {value.shape}".encode())
        digest.update(np.ascontiguousarray(value).data)
    elif isinstance(value, dict):
        for key, entry in value.items():
            _feed(digest, key)
            _feed(digest, entry)
    elif isinstance(value, list | tuple):
        digest.update(f"list {len(value)}".encode())
        for entry in value:
            _feed(digest, entry)
    else:
        digest.update(f"{type(value).__name__} {value!r};".encode())


def light_path_hash(stage: Stage) -> str:
    """Return the fingerprint of everything that the ways of the light depend on."""
    digest = hashlib.sha256()
    for part in (stage.surfaces, stage.meshes, stage.emitters, stage.sun, stage.sky, stage.panes,
                 stage.guides, stage.haze, [(lamp.name, lamp.unit) for lamp in stage.lamps]):
        _feed(digest, part)
    return digest.hexdigest()


def frame_hash(paths: str, camera: Camera, *settings) -> str:
    """Return the fingerprint of one camera's frames.

    Parameters
    ----------
    paths : str
        `light_path_hash` of the stage.
    camera : Camera
        Exposure settings do not count; the lens opening does, as it sets the blur.
    *settings
        Size, samples, seed, bands, version: whatever else the numbers depend on.
    """
    digest = hashlib.sha256(paths.encode())
    seen = (camera.position, camera.world_from_camera, camera.tan_half, camera.aspect,
            camera.lens_radius, camera.focus)
    _feed(digest, seen)
    _feed(digest, list(settings))
    return digest.hexdigest()[:32]


def probe_hash(paths: str, probes, *settings) -> str:
    """Return the fingerprint of a stage's meters."""
    digest = hashlib.sha256(paths.encode())
    _feed(digest, tuple(probes))
    _feed(digest, list(settings))
    return digest.hexdigest()[:32]
