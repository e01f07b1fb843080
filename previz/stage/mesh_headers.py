"""What the head of an STL or PLY file says, held against the file's length before anything is read by it.

Sources: the STL format's binary form, 80 bytes, a count, 50 bytes a triangle (from memory); Turk, "The PLY
Polygon File Format", 1994 (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from previz.stage.mesh_faults import AGAIN, COPY, MOST_FACES, Fault, few

if TYPE_CHECKING:
    from previz.stage.mesh_sources import Source

HEAD, TRIANGLE = 84, 50
"""Of a binary STL. [bytes]"""

HEADER_BYTES = 64 * 1024
"""Longest header of a PLY. [bytes]"""

KINDS = {"char": 1, "uchar": 1, "int8": 1, "uint8": 1, "short": 2, "ushort": 2, "int16": 2, "uint16": 2,
         "int": 4, "uint": 4, "int32": 4, "uint32": 4, "float": 4, "float32": 4, "double": 8, "float64": 8}
"""Kinds of numbers of a PLY with their length. [bytes]"""

CORNERS = ("vertex_indices", "vertex_index")


def head_faults(source: Source) -> list[Fault]:
    """Return what is wrong with the head of a mesh file; nothing, of formats without one."""
    look = {"stl": _stl, "ply": _ply}.get(source.kind)
    return [] if look is None else list(look(bytes(source.data[:HEADER_BYTES]), len(source.data)))


def _stl(head: bytes, size: int) -> Iterator[Fault]:
    count = int.from_bytes(head[80:HEAD], "little") if len(head) >= HEAD else 0
    if len(head) >= HEAD and size == HEAD + TRIANGLE * count:
        if count > MOST_FACES:
            yield f"has {count} triangles, and {MOST_FACES} are the most", "Export a simpler mesh."
        if count == 0:
            yield "has no faces", "Export it as triangles; points and curves cannot be lit."
        return
    # Binary files may begin with 'solid' too, but have zeros or other bytes that no text has.
    if b"\0" in head or not head.lstrip().lower().startswith(b"solid"):
        yield (f"is cut short or no STL: it counts {few(count, 'triangle')} and has room for "
               f"{max(0, size - HEAD) // TRIANGLE}"), COPY
    elif size <= len(head) and b"vertex" not in head.lower():
        yield "has no faces", "Export it as triangles; points and curves cannot be lit."


@dataclass(eq=False)
class Element:
    """A list of a PLY: how many, the least bytes of one, and its fields with their kinds."""

    count: int
    bytes: int = 0
    fields: dict[str, str] = field(default_factory=dict)


def ply_header(head: bytes) -> tuple[str, dict[str, Element], str]:
    """Return (format, elements, name of a picture) of a PLY's header.

    Raises
    ------
    ValueError
        It is none.
    """
    lines, elements, form, picture = head.partition(b"end_header")[0].splitlines(), {}, "", ""
    if b"end_header" not in head or not lines or lines[0].strip() != b"ply":
        raise ValueError
    for raw in lines[1:]:
        word, *rest = raw.decode("utf-8", "replace").split() or [""]
        if word == "format":
            form = rest[0]
        elif word == "element":
            elements[rest[0]] = Element(int(rest[1]))
        elif word == "property":
            last = elements[list(elements)[-1]]
            listed = rest[0] == "list"
            last.bytes += KINDS[rest[1] if listed else rest[0]]
            if listed and rest[2] not in KINDS:
                raise ValueError
            last.fields[rest[-1]] = "list" if listed else rest[0]
        elif word == "comment" and rest and rest[0].lower() == "texturefile":
            picture = " ".join(rest[1:])
    return form, elements, picture


def _ply(head: bytes, size: int) -> Iterator[Fault]:
    try:
        form, elements, _ = ply_header(head)
    except (ValueError, IndexError, KeyError):
        yield "is no PLY, or has a header that is cut short or broken", COPY
        return
    if form not in ("ascii", "binary_little_endian", "binary_big_endian"):
        yield f"is a PLY of the unknown form '{form[:30]}'", AGAIN
    points, faces = elements.get("vertex"), elements.get("face")
    if points is None or not {"x", "y", "z"} <= set(points.fields) or "list" in points.fields.values():
        yield "has no points of three numbers", AGAIN
        return
    if min(each.count for each in elements.values()) < 0:
        yield "counts fewer than no points or faces", AGAIN
        return
    if points.count == 0 or faces is None or faces.count == 0:
        yield "has no faces", "Export it as triangles; points and curves cannot be lit."
    elif not any(faces.fields.get(name) == "list" for name in CORNERS):
        yield "has faces without corners", AGAIN
    elif faces.count > MOST_FACES:
        yield f"has {faces.count} faces, and {MOST_FACES} are the most", "Export a simpler mesh."
    # A number in text takes a digit and a blank at least, and an element a line.
    text = form == "ascii"
    least = sum(each.count * (2 * len(each.fields) if text else each.bytes) for each in elements.values())
    if least > size:
        yield f"is cut short: what it counts takes {least} bytes at least, and it has {size}", COPY
