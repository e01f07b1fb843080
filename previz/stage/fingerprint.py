"""Fingerprints of what a render depends on: levels and colours are left out, as they cost none.

The same scene has the same fingerprint in any thread, process and on any machine. So numbers are
taken by their value alone, not by how a library prints them (numpy's printing changes with its
options, which differ from thread to thread), and rounded, as the last bits of a sine or a dot
product depend on the processor.
"""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import numbers
import weakref

import numpy as np

from previz.stage.records import WHERE_SET, Camera, Pattern, Relief, Stage

DIGITS = 12
"""Significant digits of a single number that count."""

STEP_BITS = 22
"""Numbers of an array count to 2^-22 of one, or of their own size where that is above one.

Of a place in metres that is a quarter of a micrometre. Coarser than any rounding noise by nine
orders, so that of the millions of corners of a stage hardly one lies where noise could tip it.
"""


def _number(value) -> str:
    """Return a number as text: 3, 3.0, numpy's 3 and (for 0) minus zero are alike."""
    if isinstance(value, numbers.Integral):
        return str(int(value))
    # Adding 0 takes the sign off minus zero.
    return format(float(value) + 0.0, f".{DIGITS}g")


def _rounded(array: np.ndarray) -> np.ndarray:
    """Return numbers rounded to the grid of `STEP_BITS`, without minus zeros."""
    values = np.asarray(array, dtype=np.float64)
    exponent = np.frexp(np.where(np.isfinite(values), values, 0.0))[1]
    step = np.ldexp(1.0, np.maximum(exponent, 0) - STEP_BITS)
    return np.where(np.isfinite(values), np.rint(values / step) * step + 0.0, values)


def _text(value: str) -> bytes:
    return f"text {len(value)} {value};".encode()


@functools.cache
def _fields(kind: type) -> tuple[tuple[str, bytes], ...]:
    """Return the fields of a kind of record, each with its name as it is fed."""
    return tuple((field.name, _text(field.name)) for field in dataclasses.fields(kind))


@functools.cache
def _where_set(kind: type) -> frozenset[str]:
    """Return the fields of a kind of record that count only where they are set."""
    return frozenset(field.name for field in dataclasses.fields(kind) if field.metadata.get(WHERE_SET))


_TILES: dict[int, tuple[weakref.ref, bytes]] = {}
"""Digests of patterns and reliefs by their identity, as surfaces and stages share them: each is made once."""


def _tile(value: Pattern | Relief) -> bytes:
    """Return the digest of a pattern or relief. 32 bytes"""
    kept, found = _TILES.get(id(value), (None, b""))
    if kept is None or kept() is not value:
        digest = hashlib.sha256()
        for name, encoded in _fields(type(value)):
            digest.update(encoded)
            _feed(digest, getattr(value, name))
        found = digest.digest()
        key = id(value)
        _TILES[key] = weakref.ref(value, lambda gone: _TILES.pop(key, None)), found
    return found


def _feed(digest, value) -> None:
    """Add any value of the stage's records to a digest, distinct by kind and shape."""
    if isinstance(value, Pattern | Relief):
        digest.update(f"record {type(value).__name__};".encode() + _tile(value))
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        digest.update(f"record {type(value).__name__};".encode())
        for name, encoded in _fields(type(value)):
            held = getattr(value, name)
            if held is not None or name not in _where_set(type(value)):
                digest.update(encoded)
                _feed(digest, held)
    elif isinstance(value, np.ndarray) and value.ndim:
        digest.update(f"array {value.shape};".encode())
        if value.dtype.kind == "f":
            digest.update(_rounded(value).astype("<f8").tobytes())
        else:
            digest.update(np.ascontiguousarray(value, dtype="<i8").tobytes())
    elif isinstance(value, dict):
        digest.update(f"dict {len(value)};".encode())
        for key, entry in value.items():
            _feed(digest, key)
            _feed(digest, entry)
    elif isinstance(value, list | tuple):
        digest.update(f"list {len(value)};".encode())
        for entry in value:
            _feed(digest, entry)
    elif isinstance(value, str):
        digest.update(_text(value))
    elif isinstance(value, bytes):
        digest.update(f"bytes {len(value)};".encode() + value)
    elif value is None or isinstance(value, bool | np.bool_):
        digest.update(f"{'none' if value is None else 'yes' if value else 'no'};".encode())
    elif isinstance(value, numbers.Real) or (isinstance(value, np.ndarray) and not value.ndim):
        digest.update(f"number {_number(value.item() if hasattr(value, 'item') else value)};".encode())
    else:
        raise TypeError(f"{type(value).__name__} has no fingerprint: {value!r}")


def digest_of(*values) -> str:
    """Return the fingerprint of plain values, arrays and records. 64 hexadecimal digits"""
    digest = hashlib.sha256()
    for value in values:
        _feed(digest, value)
    return digest.hexdigest()


def light_path_hash(stage: Stage) -> str:
    """Return the fingerprint of everything that the paths of the light depend on."""
    return digest_of(stage.surfaces, stage.meshes, stage.emitters, stage.sun, stage.sky,
                     stage.panes, stage.guides, stage.haze,
                     [(lamp.name, lamp.unit) for lamp in stage.lamps])


def seen_by(camera: Camera) -> tuple:
    """Return what of a camera its rays depend on.

    Exposure settings do not count; the lens opening does, as it sets the blur.
    """
    pupil = () if camera.iris is None or not camera.lens_radius else (camera.iris,)
    return (camera.position, camera.world_from_camera, camera.tan_half, camera.aspect,
            camera.lens_radius, camera.focus, *pupil)


def frame_hash(paths: str, camera: Camera, *settings) -> str:
    """Return the fingerprint of one camera's frames of a stage with that `light_path_hash`.

    Settings are size, samples, seed, bands, version: whatever else the numbers depend on.
    """
    return digest_of(paths, seen_by(camera), list(settings))[:32]


def probe_hash(paths: str, probes, *settings) -> str:
    """Return the fingerprint of a stage's meters."""
    return digest_of(paths, tuple(probes), list(settings))[:32]
