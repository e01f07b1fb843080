"""Frames on disk.

A folder holds one array file a lamp, one for each plane, and `meta.json`. The array files carry a
checksum in their name and `meta.json` is replaced last, so an interrupted write leaves the frames
that were there before, and a file that was torn or swapped is found out when it is read. One
program writes a folder at a time; any number may read it.
"""

from __future__ import annotations

import contextlib
import io
import zlib
from pathlib import Path

import numpy as np

from previz.frames.records import Frames, LampSlices, Probes
from previz.frames.whole import (
    AGAIN,
    FORMAT,
    FramesError,
    plain,
    read_sealed,
    whole_file,
    write_sealed,
)

META_NAME = "meta.json"
PROBES_NAME = "probes.json"

PLANES = {
    "variance": np.dtype("<f4"),
    "albedo": np.dtype("<f4"),
    "normal": np.dtype("<f4"),
    "depth": np.dtype("<f4"),
    "names_index": np.dtype("<i4"),
}
"""Array planes beside the lamps, with the type each is stored in."""

_LAMP_TYPE = np.dtype("<f4")
_BLOCK = 1 << 24


def write(folder, frames):
    """Write frames to a folder, replacing those that are there in one last step.

    A lamp whose file is already there with the same content is not written again.

    Parameters
    ----------
    folder : path-like
        Folder of this camera's frames; made if missing.
    frames : Frames
        What to write.

    Raises
    ------
    ValueError
        The camera's values are not plain finite JSON.
    OSError
        The disk refused.
    """
    folder = Path(folder)
    head = {
        "previz_frames": FORMAT,
        "version": frames.version,
        "transport_hash": frames.transport_hash,
        "lights": list(frames.lights),
        "names": list(frames.names),
        "band_edges_nm": frames.band_edges_nm.tolist(),
        "samples": int(frames.samples),
        "seed": int(frames.seed),
        "camera": frames.camera,
        "shape": [int(size) for size in frames.slices.shape],
    }
    plain(head)  # Refuse bad camera values before the long writing starts.
    folder.mkdir(parents=True, exist_ok=True)
    head["lamp_files"] = [
        _write_array(folder, f"lamp-{number:03d}", frames.slices[number], _LAMP_TYPE)
        for number in range(len(frames.lights))
    ]
    head["plane_files"] = {
        label: _write_array(folder, label, getattr(frames, label), kind)
        for label, kind in PLANES.items()
    }
    write_sealed(folder / META_NAME, head)
    _sweep(folder, head)


def read(folder, *, verify=True):
    """Read frames from a folder; lamps are mapped from disk and read when used.

    Parameters
    ----------
    folder : path-like
        Where `write` put them.
    verify : bool
        Check every byte against its checksum; else only sizes and shapes are checked.

    Returns
    -------
    Frames
        With `slices` as `LampSlices`.

    Raises
    ------
    FramesError
        There are no frames, or a file is missing, torn, or of another kind.
    """
    folder = Path(folder)
    head = read_sealed(folder / META_NAME, "previz_frames")
    try:
        light, band, row, column = head["shape"]
        planes = {
            "variance": (light, row, column),
            "albedo": (3, row, column),
            "normal": (3, row, column),
            "depth": (row, column),
            "names_index": (row, column),
        }
        lamps = [
            _read_array(folder, entry, (band, row, column), _LAMP_TYPE, verify)
            for entry in head["lamp_files"]
        ]
        arrays = {
            label: _read_array(folder, head["plane_files"][label], shape, PLANES[label], verify)
            for label, shape in planes.items()
        }
        facts = {key: head[key] for key in ("version", "transport_hash", "samples", "seed")}
        return Frames(
            slices=LampSlices(lamps) if lamps else np.zeros((0, band, row, column), _LAMP_TYPE),
            lights=tuple(head["lights"]),
            names=tuple(head["names"]),
            band_edges_nm=np.array(head["band_edges_nm"], dtype=float),
            camera=head["camera"],
            **arrays,
            **facts,
        )
    except (KeyError, TypeError, ValueError) as error:
        raise FramesError(f"{folder / META_NAME} contradicts itself: {error}.", AGAIN) from error


def write_probes(folder, probes):
    """Write what the meters received to `probes.json` in a folder.

    Parameters
    ----------
    folder : path-like
        Made if missing.
    probes : Probes
        What to write.
    """
    edges = probes.band_edges_nm
    head = {
        "previz_probes": FORMAT,
        "version": probes.version,
        "transport_hash": probes.transport_hash,
        "names": list(probes.names),
        "lights": list(probes.lights),
        "band_edges_nm": None if edges is None else edges.tolist(),
        "samples": int(probes.samples),
        "shape": list(probes.illuminance.shape),
        "illuminance": probes.illuminance.ravel().tolist(),
        "stderr": probes.stderr.ravel().tolist(),
    }
    write_sealed(Path(folder) / PROBES_NAME, head)


def read_probes(folder):
    """Read what `write_probes` wrote.

    Parameters
    ----------
    folder : path-like
        Where it lies.

    Returns
    -------
    Probes

    Raises
    ------
    FramesError
        There is no such file, or it is torn or of another kind.
    """
    path = Path(folder) / PROBES_NAME
    head = read_sealed(path, "previz_probes")
    try:
        shape = tuple(head["shape"])
        return Probes(
            names=tuple(head["names"]),
            illuminance=np.array(head["illuminance"], dtype=float).reshape(shape),
            stderr=np.array(head["stderr"], dtype=float).reshape(shape[:3]),
            samples=head["samples"],
            lights=tuple(head["lights"]),
            band_edges_nm=head["band_edges_nm"],
            transport_hash=head["transport_hash"],
            version=head["version"],
        )
    except (KeyError, TypeError, ValueError) as error:
        raise FramesError(f"{path} contradicts itself: {error}.", AGAIN) from error


def _file_sum(path):
    total = 0
    with open(path, "rb") as file:
        while block := file.read(_BLOCK):
            total = zlib.crc32(block, total)
    return total


def _write_array(folder, label, values, kind):
    # The name holds the checksum, so a new array never lands on one that a reader still trusts.
    array = np.ascontiguousarray(values, dtype=kind)
    head = io.BytesIO()
    np.lib.format.write_array_header_1_0(head, np.lib.format.header_data_from_array_1_0(array))
    total = zlib.crc32(array.data, zlib.crc32(head.getvalue()))
    size = head.tell() + array.nbytes
    path = folder / f"{label}.{total:08x}.npy"
    # A reader may have the same content mapped under this name; then it is left in place.
    if not (path.is_file() and path.stat().st_size == size and _file_sum(path) == total):
        with whole_file(path) as part, open(part, "wb") as file:
            file.write(head.getvalue())
            file.write(array.data)
    return {"file": path.name, "bytes": size, "crc32": total}


def _read_array(folder, entry, shape, kind, verify):
    path = folder / entry["file"]
    if path.parent != folder:
        raise FramesError(f"{folder / META_NAME} names a file outside its folder.", AGAIN)
    try:
        size = path.stat().st_size
        if size != entry["bytes"]:
            raise FramesError(
                f"{path} has {size} bytes and should have {entry['bytes']}: it is torn.", AGAIN
            )
        if verify and _file_sum(path) != entry["crc32"]:
            raise FramesError(f"{path} does not match its checksum.", AGAIN)
        array = np.load(path, mmap_mode="r", allow_pickle=False)
    except FileNotFoundError:
        raise FramesError(f"{path} is missing.", AGAIN) from None
    except (OSError, ValueError) as error:
        raise FramesError(f"{path} cannot be read: {error}.", AGAIN) from error
    if array.shape != shape or array.dtype != kind:
        raise FramesError(
            f"{path} holds {array.dtype} {array.shape} and should hold {kind} {shape}.", AGAIN
        )
    return array


def _sweep(folder, head):
    """Remove arrays of earlier frames and leavings of interrupted writes."""
    kept = {entry["file"] for entry in head["lamp_files"]}
    kept |= {entry["file"] for entry in head["plane_files"].values()}
    labels = ("lamp-*", *PLANES)
    old = {path for label in labels for path in folder.glob(f"{label}.????????.npy")}
    old |= {path for label in (*labels, "meta") for path in folder.glob(f".{label}.*.part")}
    for path in old:
        if path.name not in kept:
            # A reader on Windows may still hold it open; the next write tries again.
            with contextlib.suppress(OSError):
                path.unlink()
