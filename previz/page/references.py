"""Reference pictures of a page: taken in through the gate of all pictures, kept small beside the scene."""

from __future__ import annotations

import hashlib
import io
import re
from pathlib import Path

from PIL import Image

from previz.errors import DataError
from previz.frames.whole import whole_file
from previz.page.desk import Desk
from previz.page.looks import MOST_REFERENCES, SHUT
from previz.stage.picture_files import decode
from previz.stage.plain_files import FileError, read_plain

LARGEST_SENT = 32 * 2**20
"""Largest file that is taken. [bytes]"""

LARGEST_KEPT = 2 * 2**20
"""Largest file that is kept. [bytes]"""

WIDEST = 1536
"""Width and height that a larger picture is brought down to. [px]"""

ENDINGS = (".png", ".jpg", ".jpeg")
"""Of pictures beside a scene that are offered."""

MOST_BESIDE = 60
"""Pictures beside a scene that are offered."""

_NAME = re.compile(r"[0-9a-f]{16}\.jpg")


def _folders(desk: Desk) -> tuple[Path, Path]:
    """Return the folder beside the scene, and what stands in where that may not be written to."""
    return desk.path.with_name(f"{desk.path.stem}.looks"), desk.folder / "references"


def keep_reference(desk: Desk, data: bytes) -> dict:
    """Keep a picture; return {file, width, height}, which the page keeps with its name under 'reference|'.

    Raises
    ------
    DataError
        It is no PNG or JPEG, damaged, too large, or cannot be written.
    """
    try:
        image = decode(data, upright=True)
    except FileError as error:
        raise DataError(f"the picture cannot be used: {error.message}", error.advice) from None
    if image.mode == "RGBA":
        # What shows through is dark, as all round a picture is.
        ground = Image.new("RGB", image.size)
        ground.paste(image, mask=image.getchannel("A"))
        image = ground
    image.thumbnail((WIDEST, WIDEST), Image.Resampling.LANCZOS)
    packed = _packed(image)
    name = f"{hashlib.sha256(packed).hexdigest()[:16]}.jpg"
    _write(desk, name, packed)
    return {"file": name, "width": image.width, "height": image.height}


def pictures_beside(desk: Desk) -> list[str]:
    """Return the names of pictures that lie beside the scene, by their endings, so many at most.

    A link that leads out of the folder is none: a scene reads files of its own folder, and nothing else.
    """
    try:
        folder = desk.path.parent.resolve()
        names = sorted(path.name for path in folder.iterdir()
                       if path.suffix.lower() in ENDINGS and not path.name.startswith(".")
                       and path.resolve().is_relative_to(folder))
    except (OSError, RuntimeError):
        return []
    return names[:MOST_BESIDE]


def keep_named(desk: Desk, name: str) -> dict:
    """Keep a picture that lies beside the scene; see `keep_reference`.

    Raises
    ------
    DataError
        No such picture lies there, or it cannot be used.
    """
    # Only what was listed: a name is no way to elsewhere.
    if name not in pictures_beside(desk):
        raise DataError(f"no picture '{name[:80]}' lies beside the scene", "Reload the page.")
    try:
        data = read_plain(desk.path.with_name(name), LARGEST_SENT)
    except FileError as error:
        raise DataError(f"the picture '{name}' cannot be used: {error.message}", error.advice) from None
    return keep_reference(desk, data)


def _packed(image: Image.Image) -> bytes:
    """Return a picture as JPEG, as good as its size allows."""
    for quality in (92, 80, 60, 30):
        packed = io.BytesIO()
        image.save(packed, format="JPEG", quality=quality)
        if packed.tell() <= LARGEST_KEPT:
            break
    return packed.getvalue()


def _write(desk: Desk, name: str, packed: bytes) -> None:
    fault: OSError | None = None
    for folder in _folders(desk):
        try:
            with whole_file(folder / name) as part:
                part.write_bytes(packed)
            _sweep(desk, folder, name)
            return
        except OSError as error:
            fault = error
            if error.errno not in SHUT:
                break
    raise DataError(f"the picture cannot be written: {fault.strerror or fault}" if fault else "",
                    "Look at the folder's permissions and at the space that is left.")


def _sweep(desk: Desk, folder: Path, newest: str) -> None:
    """Remove pictures that no reference names any more, once they are many: a drop may be undone."""
    there = [path for path in folder.iterdir() if _NAME.fullmatch(path.name)]
    if len(there) > 4 * MOST_REFERENCES:
        named = {newest, *(value.get("file") for key, value in desk.changes.items()
                           if key.startswith("reference|") and isinstance(value, dict))}
        for path in there:
            if path.name not in named:
                path.unlink(missing_ok=True)


def reference_picture(desk: Desk, name: object) -> bytes:
    """Return the picture of a reference, a JPEG, by the name of its file.

    By that and not by the reference's key: a page shows what it has just sent before its key is kept.

    Raises
    ------
    DataError
        There is none, or it is not the picture that was kept.
    """
    if isinstance(name, str) and _NAME.fullmatch(name):
        for folder in _folders(desk):
            try:
                data = read_plain(folder / name, LARGEST_KEPT)
                decode(data)
                return data
            except FileError:
                continue
    raise DataError("there is no such reference picture any more", "Choose the picture again.")


def reference_image(desk: Desk, key: str) -> Image.Image:
    """Return the picture of a reference decoded, by the last part of its key; see `reference_picture`."""
    value = desk.changes.get(f"reference|{key}")
    name = value.get("file") if isinstance(value, dict) else None
    return decode(reference_picture(desk, name)).convert("RGB")
