"""Open a glTF file: the library gets its description with every address in it replaced by one of ours.

Sources: glTF 2.0, 3.6.1.1 (addresses: data in them, or files beside it), 3.9.3 (images are PNG or JPEG;
profiles and animation in them are ignored), 4.4 (binary container).
"""

from __future__ import annotations

import base64
import io
import json
import struct
import urllib.parse
from typing import Any

from previz.scene.piece import MESH_BYTES
from previz.scene.surface import TEXTURE_BYTES
from previz.stage.mesh_sources import AGAIN, MOST_PICTURES, Source, shown
from previz.stage.picture_heads import head
from previz.stage.plain_files import FileError

MOST_CONVERTED = 1 << 22
"""Most pixels of a picture of an older material, of which the library works out colours: 1.5 GB. [1]"""

SLOTS = (("pbrMetallicRoughness", "baseColorTexture"), ("", "emissiveTexture"), ("", "normalTexture"),
         ("pbrMetallicRoughness", "metallicRoughnessTexture"))
"""Where a material names the pictures that are used: under which of its records, and as what."""

OLDER = "KHR_materials_pbrSpecularGlossiness"
OLDER_SLOTS = ("diffuseTexture", "specularGlossinessTexture")
INSTEAD = ("EXT_texture_webp", "KHR_texture_basisu")
"""Extensions by which a texture names a picture of another kind beside its own."""


class GltfSource(Source):
    """A glTF file, as text or in its binary container."""

    def _look(self) -> None:
        text, self._chunk = _container(self._data) if self.kind == "glb" else (self._data, None)
        try:
            tree = json.loads(bytes(text).decode("utf-8-sig"))
        except (ValueError, RecursionError) as error:
            raise FileError("its description is no JSON", AGAIN) from error
        if not isinstance(tree, dict):
            raise FileError("its description is no record", AGAIN)
        for section in ("buffers", "bufferViews", "images", "textures", "materials"):
            listed = tree.get(section, [])
            if not isinstance(listed, list) or not all(isinstance(each, dict) for each in listed):
                raise FileError(f"its {section} are no list of records", AGAIN)
        images = tree.get("images", [])
        if len(images) > MOST_PICTURES:
            raise FileError(f"it names more than {MOST_PICTURES} pictures", AGAIN)
        self._tree = tree
        self.materials = list(tree.get("materials", ()))
        self._buffers: dict[int, memoryview] = {}
        textures = [_plain_texture(each) for each in tree.get("textures", ())]
        used, self._older = self._used(textures, len(images))
        for number, image in enumerate(images):
            label = str(image.get("name") or _place(image) or number)
            data = None
            if number in used:
                try:
                    data = self._picture_bytes(image)
                except FileError as fault:
                    self._note_fault(label, fault)
            self._pictures.append((label, data))
        self._look_at_pictures()
        self._look_at_older()
        buffers = range(max(len(tree.get("buffers", ())), self._chunk is not None))
        for number in buffers:
            self._buffer(number)
        self._served = {**tree, "textures": textures,
                        "buffers": [{"uri": f"buffer {n}"} for n in buffers],
                        "images": [{"uri": f"picture {n}"} for n in range(len(images))]}

    def described(self) -> tuple[dict, list[memoryview]]:
        """As `Source.described`."""
        return self._tree, [self._buffers[number] for number in sorted(self._buffers)]

    def _reader(self) -> str:
        return "gltf"

    def _stream(self):
        return io.BytesIO(json.dumps(self._served).encode())

    def get(self, name: str) -> bytes | memoryview:
        """As `Source.get`; all names are those that it was given."""
        what, _, number = name.partition(" ")
        if what == "buffer":
            return self._buffer(int(number))
        return self._stand_in(int(number))

    def _stand_in(self, number: int) -> bytes:
        label, data = self._pictures[number]
        if number not in self._older or data is None:
            return super()._stand_in(number)
        # The library makes other pictures of these, so that it has to have the true ones.
        made = io.BytesIO()
        self._decoded(label, data).save(made, format="PNG", compress_level=1)
        return made.getvalue()

    # Pictures

    def _used(self, textures: list[dict], images: int) -> tuple[set[int], set[int]]:
        """Return (numbers of the pictures that materials use, those of them of older materials)."""
        used: set[int] = set()
        older: set[int] = set()
        for material in self.materials:
            extensions = _record(material.get("extensions"))
            spots = [(used, material.get(under) if under else material, slot) for under, slot in SLOTS]
            spots += [(older, extensions.get(OLDER), slot) for slot in OLDER_SLOTS]
            for into, where, slot in spots:
                texture = _item(textures, _record(_record(where).get(slot)).get("index"))
                source = _record(texture).get("source")
                if isinstance(source, int) and 0 <= source < images:
                    into.add(source)
        return used | older, older

    def _look_at_older(self) -> None:
        for number in sorted(self._older):
            label, data = self._pictures[number]
            if data is None or self._faults:
                continue
            about = head(data)
            if about.width * about.height > MOST_CONVERTED:
                self._note_fault(label, FileError(
                    f"it is {about.width} x {about.height} pixels large, and its material is of the older "
                    "sort with specular and glossiness", "Export it with metallic-roughness materials."))

    def _picture_bytes(self, image: dict) -> bytes | memoryview | None:
        if "bufferView" not in image:
            return self._at(image.get("uri"), TEXTURE_BYTES, "picture")
        view = _record(_item(self._tree.get("bufferViews", []), image["bufferView"]))
        buffer, start, length = (view.get(key, 0) for key in ("buffer", "byteOffset", "byteLength"))
        if not view or not all(isinstance(each, int) and each >= 0 for each in (buffer, start, length)):
            raise FileError("it is not where it should be in the file", AGAIN)
        whole = self._buffer(buffer)
        if start + length > len(whole):
            raise FileError("it is cut off", AGAIN)
        return whole[start:start + length]

    # Addresses

    def _buffer(self, number: int) -> memoryview:
        if number not in self._buffers:
            listed = _record(_item(self._tree.get("buffers", []), number))
            found = self._at(listed["uri"], MESH_BYTES, "file of data") if "uri" in listed else self._chunk
            if found is None:
                raise FileError(
                    self.notes[-1] if "uri" in listed else f"there is no data for its buffer {number}",
                    "Put it there, or export the mesh with everything in it, as GLB.")
            # Views of it take no room of their own, however many there are.
            self._buffers[number] = memoryview(found)
        return self._buffers[number]

    def _at(self, address: Any, most: float, what: str) -> bytes | None:
        """Return what an address leads to: data in it, or a file beside; None, with a note, for none."""
        if not isinstance(address, str):
            raise FileError(f"it has a {what} without an address", AGAIN)
        if address.startswith("data:"):
            try:
                return base64.b64decode(address.partition(",")[2])
            except ValueError as error:
                raise FileError(f"it has a {what} that is no base64", AGAIN) from error
        if "://" in address[:16] or address.startswith(("//", "file:")):
            raise FileError(f"it names a {what} elsewhere, '{shown(address)}'",
                            "Export it with everything in it, as GLB.")
        return self._named(urllib.parse.unquote(address), most, what)


def _record(value: Any) -> dict:
    return value if isinstance(value, dict) else {}


def _item(listed: list, index: Any) -> Any:
    return listed[index] if isinstance(index, int) and 0 <= index < len(listed) else None


def _place(image: dict) -> str:
    address = image.get("uri")
    return address if isinstance(address, str) and not address.startswith("data:") else ""


def _plain_texture(texture: dict) -> dict:
    """Return a texture with its PNG or JPEG; where it has none, with what it has, which is refused."""
    extensions = _record(texture.get("extensions"))
    other = next((_record(extensions[name]).get("source") for name in INSTEAD if name in extensions), None)
    source = texture.get("source", other)
    return {} if source is None else {"source": source}


def _container(data: bytes) -> tuple[memoryview, memoryview | None]:
    """Return (description, binary chunk or None) of a binary container."""
    if len(data) < 20:
        raise FileError("it is cut off", AGAIN)
    version, = struct.unpack_from("<I", data, 4)
    if version != 2:
        raise FileError(f"it is glTF {version}, and glTF 2 is read", AGAIN)
    whole, at = memoryview(data), 12
    chunks: list[tuple[bytes, memoryview]] = []
    while at + 8 <= len(data) and not (chunks and chunks[-1][0] == b"BIN\0"):
        length, name = struct.unpack_from("<I4s", data, at)
        if at + 8 + length > len(data):
            raise FileError("it is cut off", AGAIN)
        chunks.append((name, whole[at + 8:at + 8 + length]))
        at += 8 + length
    if not chunks or chunks[0][0] != b"JSON":
        raise FileError("it does not begin with its description", AGAIN)
    return chunks[0][1], next((body for name, body in chunks[1:] if name == b"BIN\0"), None)
