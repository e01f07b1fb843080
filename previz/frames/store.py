"""Frames on disk.

A folder holds one array file a lamp, one for each plane, and `meta.json`. The array files carry a
checksum in their name and `meta.json` is replaced last, so an interrupted write leaves the frames
that were there before, and a file that was torn or swapped is found out when it is read. One
program writes a folder at a time; any number may read it.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from previz.frames.abreast import abreast
from previz.frames.arrays import META_NAME, Entry, link_array, read_array, sweep, write_array
from previz.frames.layouts import marked
from previz.frames.records import Frames, LampSlices, plane_shapes
from previz.frames.whole import (
    AGAIN,
    FramesError,
    plain,
    read_sealed,
    write_sealed,
)

PLANES = {
    "variance": np.dtype("<f4"),
    "albedo": np.dtype("<f4"),
    "normal": np.dtype("<f4"),
    "depth": np.dtype("<f4"),
    "names_index": np.dtype("<i4"),
}
"""Array planes that go with the lamps, with the type each is stored in."""

_LAMP_TYPE = np.dtype("<f4")


def write(folder: str | os.PathLike[str], frames: Frames,
          sources: list[tuple[Path, Entry]] | None = None,
          planes: Mapping[str, tuple[Path, Entry]] | None = None) -> None:
    """Write frames to a folder, replacing those that are there in one last step.

    A lamp whose file is already there with the same content is not written again.

    Parameters
    ----------
    folder : path-like
        Folder of this camera's frames; made if missing.
    frames : Frames
        What to write.
    sources : list of (Path, dict), optional
        Where each lamp's slices lie already, and what `write_array` gave back; they are given
        a name in this folder instead of being written again.
    planes : mapping of str to (Path, dict), optional
        The same of planes, by their names; those that are not in it are written.

    Raises
    ------
    ValueError
        The camera's values are not plain finite JSON.
    OSError
        The disk refused.
    """
    folder = Path(folder)
    head = {
        **marked("previz_frames"),
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
    labels = [f"lamp-{number:03d}" for number in range(len(frames.lights))]
    if sources is None:
        head["lamp_files"] = [write_array(folder, label, frames.slices[number], _LAMP_TYPE)
                              for number, label in enumerate(labels)]
    else:
        head["lamp_files"] = [link_array(folder, label, source, entry)
                              for label, (source, entry) in zip(labels, sources, strict=True)]
    there = planes or {}
    head["plane_files"] = {
        label: link_array(folder, label, *there[label]) if label in there
        else write_array(folder, label, getattr(frames, label), kind)
        for label, kind in PLANES.items()
    }
    write_sealed(folder / META_NAME, head)
    files = (*head["lamp_files"], *head["plane_files"].values())
    sweep(folder, ("lamp-*", *PLANES, "meta"), {entry["file"] for entry in files})


def read(folder: str | os.PathLike[str], *, verify: bool = True) -> Frames:
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
        shapes = plane_shapes(light, row, column)
        files = [*((entry, (band, row, column), _LAMP_TYPE) for entry in head["lamp_files"]),
                 *((head["plane_files"][label], shape, PLANES[label]) for label, shape in shapes.items())]
        # Each is summed up, which takes longer than all that comes of it.
        found = abreast(lambda file: read_array(folder, *file, verify), files)
        lamps = found[:len(head["lamp_files"])]
        arrays: dict[str, Any] = dict(zip(shapes, found[len(lamps):], strict=True))
        facts: dict[str, Any] = {key: head[key] for key in ("version", "transport_hash", "samples", "seed")}
        return Frames(
            slices=LampSlices(lamps, (band, row, column)),
            lights=tuple(head["lights"]),
            names=tuple(head["names"]),
            band_edges_nm=np.array(head["band_edges_nm"], dtype=float),
            camera=head["camera"],
            **arrays,
            **facts,
        )
    except (KeyError, TypeError, ValueError) as error:
        raise FramesError(f"{folder / META_NAME} contradicts itself: {error}.", AGAIN) from error
