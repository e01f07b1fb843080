"""Open a mesh file so that the library that reads it reads nothing else and decodes no picture.

The library picks a reader by a file's name, fetches what the file names, and opens pictures by guessing
what they are. So what a file is, is decided here by its content, as one of five kinds; what it names
comes only from plain files beside it or below; and every picture is handed over as a stand-in of one
pixel that carries a number. `Source.picture` gives the true one for it, read by `picture_files`.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from previz.errors import SceneError
from previz.scene.piece import MESH_BYTES
from previz.scene.surface import TEXTURE_BYTES
from previz.stage.picture_heads import MOST_TOGETHER, OTHERS, head
from previz.stage.plain_files import FileError, beside, read_plain

# Numbers and pictures take longer to import than a check may take, which only looks at files.
if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    from previz.scene.piece import Piece

MATERIAL_BYTES = 16 * 1024 * 1024
"""Greatest size of an OBJ file's materials. [bytes]"""

MOST_PICTURES = 1000
"""Most pictures that a mesh file may name. [1]"""

AGAIN = "Export it again as GLB, OBJ, PLY or STL."

_STAND_IN = "stand-in"
_OBJ = re.compile(rb"^[ \t]*(?:#|(?:v|vt|vn|vp|f|l|p|o|g|s|mtllib|usemtl)\s)", re.MULTILINE)
_FOREIGN = {**OTHERS, b"Kaydara FBX": "FBX", b"BLENDER": "a project of a 3-D program", b"\x89PNG": "PNG",
            b"\xff\xd8\xff": "JPEG"}


def kind_of(data: bytes) -> str:
    """Return what a mesh file is by its content: 'glb', 'gltf', 'ply', 'stl' or 'obj'.

    Raises
    ------
    FileError
        It is none of these.
    """
    start = data[:1 << 16]
    text = start.removeprefix(b"\xef\xbb\xbf").lstrip()
    if data.startswith(b"glTF"):
        return "glb"
    if text.startswith(b"{"):
        return "gltf"
    if data.startswith((b"ply\n", b"ply\r")):
        return "ply"
    # Binary STL: 80 bytes of anything, a count, 50 bytes a triangle. It may begin as text does.
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    if 84 + 50 * count == len(data) or text[:5].lower() == b"solid":
        return "stl"
    if b"\0" not in start and _OBJ.search(start):
        return "obj"
    name = next((name for mark, name in _FOREIGN.items() if text.startswith(mark)), "")
    raise FileError(f"it is {name or ('of another kind' if text else 'empty')}", AGAIN)


def open_source(path: str | Path) -> Source:
    """Return a mesh file, looked at but not loaded.

    Parameters
    ----------
    path : path-like
        What it names lies in its folder or below, links followed.

    Raises
    ------
    FileError
        It is not of the kind that its name says, is damaged, or has pictures that cannot be used.
    """
    path = Path(path).resolve()
    data = read_plain(path, MESH_BYTES)
    kind, written = kind_of(data), path.suffix.lower().lstrip(".")
    if kind != written:
        raise FileError(f"it is called .{written} and is {kind.upper()} inside",
                        f"Name it .{kind} if that is what it should be, or export it again.")
    if kind in ("glb", "gltf"):
        from previz.stage.gltf_sources import GltfSource

        return GltfSource(path, data, kind)
    return {"obj": ObjSource, "ply": PlySource}.get(kind, Source)(path, data, kind)


def look_at(piece: Piece) -> None:
    """Raise a `SceneError` for a piece's mesh that `open_source` refuses."""
    try:
        open_source(piece.mesh)
    except FileError as fault:
        raise unusable(piece, fault) from fault


def unusable(piece: Piece, fault: FileError) -> SceneError:
    """Return what is wrong with a piece's mesh, at its place in the scene."""
    name = Path(piece.mesh).name
    return SceneError([piece.where("mesh").problem(
        f"the mesh '{name}' cannot be read: {fault.message}", fault.advice)])


def shown(name: str) -> str:
    """Return a name out of a file as messages show it."""
    plain = "".join(letter if letter.isprintable() else "?" for letter in name)
    return plain if len(plain) <= 60 else f"{plain[:57]}..."


class Source:
    """A mesh file that has been looked at, and what it names.

    Parameters
    ----------
    path : Path
        Links followed.
    data : bytes
        The file.
    kind : str
        As of `kind_of`.

    Attributes
    ----------
    materials : list of dict
        Of a glTF file, as written.
    notes : list of str
        What it names and is missing, one clause each.
    """

    def __init__(self, path: Path, data: bytes, kind: str):
        self.path, self.kind = path, kind
        self.materials: list[dict] = []
        self.notes: list[str] = []
        self._data = data
        self._pictures: list[tuple[str, Any]] = []
        self._faults: list[FileError] = []
        self._files: dict[Path, bytes] = {}
        self._made: dict[int, Image.Image | None] = {}
        self._rgb: dict[int, tuple[Any, np.ndarray]] = {}
        self._look()
        self._raise_faults()

    def load(self):
        """Return the library's scene of it.

        Raises
        ------
        Exception
            Of nearly any kind, on a broken file.
        """
        # It takes longer to import than most files to read, and most scenes name none.
        import trimesh

        scene = trimesh.load_scene(self._stream(), file_type=self._reader(), resolver=_Resolver(self),
                                   process=False)
        # The library goes on without a picture that it could not have.
        self._raise_faults()
        return scene

    def part_name(self, key) -> str:
        """Return the name of a part by the library's key; parts of STL and PLY have none but the file's."""
        return self.path.name if self.kind in ("ply", "stl") else str(key)

    def picture(self, image) -> Image.Image | None:
        """Return the true picture for one of the library's; None for none and for one that is missing.

        Raises
        ------
        FileError
            Its pixels cannot be used.
        """
        if image is None or _STAND_IN not in image.info:
            return image
        number = int(image.info[_STAND_IN])
        if number not in self._made:
            label, data = self._pictures[number]
            self._made[number] = None if data is None else self._decoded(label, data)
        return self._made[number]

    def rgb(self, image) -> np.ndarray | None:
        """Return the true picture for one of the library's as sRGB, the same array each time.

        A uint8 array, shape (rows, columns, 3); None and errors as of `picture`.
        """
        import numpy as np

        made = self.picture(image)
        if made is None:
            return None
        if id(made) not in self._rgb:
            self._rgb[id(made)] = made, np.asarray(made.convert("RGB"), np.uint8)
        return self._rgb[id(made)][1]

    # What a kind of file does otherwise

    def _look(self) -> None:
        """Note the pictures that its materials use, as `_pictures`."""

    def _reader(self) -> str:
        return self.kind

    def _stream(self):
        stream = io.BytesIO(self._data)
        stream.name = self.path.name
        return stream

    def get(self, name: str) -> bytes | memoryview:
        """Return what the library asks for by name."""
        raise FileNotFoundError(name)

    # Pictures

    def _look_at_pictures(self) -> None:
        """Note what is wrong with pictures that are there, by their first bytes."""
        total = 0
        for label, data in self._pictures:
            if data is not None:
                try:
                    about = head(data)
                    total += about.width * about.height
                except FileError as fault:
                    self._note_fault(label, fault)
        if total > MOST_TOGETHER:
            self._faults.append(FileError(
                f"its pictures have {total // 10**6} million pixels together, and "
                f"{MOST_TOGETHER // 10**6} million are the most",
                "Make them smaller; twice as wide as the still is enough."))

    def _note_fault(self, label: str, fault: FileError) -> FileError:
        made = FileError(f"its picture '{shown(label)}' is of no use: {fault.message}", fault.advice)
        self._faults.append(made)
        return made

    def _raise_faults(self) -> None:
        if self._faults:
            first, more = self._faults[0], len(self._faults) - 1
            others = f"; so are {more} more of its pictures" if more else ""
            raise FileError(f"{first.message}{others}", first.advice)

    def _decoded(self, label: str, data) -> Image.Image:
        from previz.stage.picture_files import decode

        try:
            return decode(data)
        except FileError as fault:
            raise self._note_fault(label, fault) from fault

    def _stand_in(self, number: int) -> bytes:
        from PIL import Image, PngImagePlugin

        about, made = PngImagePlugin.PngInfo(), io.BytesIO()
        about.add_text(_STAND_IN, str(number))
        Image.new("RGB", (1, 1)).save(made, format="PNG", pnginfo=about)
        return made.getvalue()

    # Files beside it

    def _named(self, name: str, most: float, what: str) -> bytes | None:
        """Return a file that it names; None, with a note, where it is not there.

        All that it names may together be as large as a mesh.
        """
        path = beside(self.path.parent, name)
        if path is None:
            self.notes.append(f"the {what} '{shown(name)}' is not in the folder of '{self.path.name}'")
            return None
        if path not in self._files:
            left = MESH_BYTES - sum(map(len, self._files.values()))
            self._files[path] = read_plain(path, max(min(most, left), 0))
        return self._files[path]

    def _add_named(self, names) -> dict[str, int]:
        """Add the pictures of some names; return their numbers by name."""
        numbers = {name: len(self._pictures) + number for number, name in enumerate(dict.fromkeys(names))}
        if len(numbers) > MOST_PICTURES:
            raise FileError(f"it names more than {MOST_PICTURES} pictures", AGAIN)
        for name in numbers:
            data = None
            try:
                data = self._named(name, TEXTURE_BYTES, "picture")
            except FileError as fault:
                self._note_fault(name, fault)
            self._pictures.append((name, data))
        self._look_at_pictures()
        return numbers


class ObjSource(Source):
    """An OBJ file: its first line of `mtllib` names its materials, and `map_Kd` in them pictures."""

    def _look(self) -> None:
        self._written, self._numbers = b"", {}
        found = re.search(rb"mtllib(.*)", self._data)
        if found is None:
            return
        self._library = _text(found[1])
        self._written = self._named(self._library, MATERIAL_BYTES, "file of materials") or b""
        used = {_text(name) for name in re.findall(rb"^usemtl[ \t]+(.*)", self._data, re.MULTILINE)}
        names, material = [], None
        for line in _text(self._written).splitlines():
            word, _, rest = line.strip().partition(" ")
            if word.lower() == "newmtl":
                material = rest.strip()
            elif word.lower() == "map_kd" and rest.strip() and material in used:
                names.append(rest.strip())
        self._numbers = self._add_named(names)

    def get(self, name: str) -> bytes:
        """As `Source.get`: its materials, and the pictures that they name."""
        if name in self._numbers:
            return self._stand_in(self._numbers[name])
        if name == getattr(self, "_library", None) and self._written:
            return self._written
        raise FileNotFoundError(name)


class PlySource(Source):
    """A PLY file, of which a comment may name one picture."""

    def _look(self) -> None:
        header = self._data[:1 << 16].partition(b"end_header")[0]
        names = re.findall(rb"^comment TextureFile (.*)", header, re.MULTILINE)
        self._numbers = self._add_named([_text(name) for name in names[-1:]])

    def get(self, name: str) -> bytes:
        """As `Source.get`: its picture."""
        return self._stand_in(self._numbers[name.strip()])


class _Resolver:
    """What the library asks for by name; it calls parts without a name after `file_name`."""

    def __init__(self, source: Source):
        self.get = source.get
        self.file_name = source.path.name

    def __getitem__(self, name):
        return self.get(name)


def _text(raw: bytes) -> str:
    try:
        return raw.decode("utf-8").strip()
    except UnicodeDecodeError:
        return raw.decode("latin-1").strip()
