"""Everything of a scene that only its numbers or files can show to be wrong, reported at once.

`build_stage` stops at the first such fault; this goes through all of them: photometric files,
spectra, gels, surfaces, pictures, meshes, what cameras' pictures are looked at through, and colours that no
lamp or sheet can have. Nothing heavy is imported for a scene that names none of them.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Iterator

from previz.errors import Problem, SceneError
from previz.scene.camera import Camera
from previz.scene.gel import NAMES
from previz.scene.lamp import Light
from previz.scene.piece import Piece
from previz.scene.records import Record
from previz.scene.surface import Surface

GLASS = ("glass", "thin glass")
"""Surfaces that may be glass with two faces; `glazing` has them too."""

SURE = ("blackbody", "daylight", "led", "two-colour led", "tungsten")
"""Spectra that reach every colour temperature a scene may write, without a tint."""


def faults(scene: Record, known: Iterable[Problem] = ()) -> tuple[Problem, ...]:
    """Return what is wrong with the files and colours of a scene, and what is known to be, each once."""
    found = [*known]
    for piece in getattr(scene, "pieces", ()):
        if piece.mesh is not None:
            from previz.stage.mesh_check import look_at_mesh

            found += look_at_mesh(piece, scene).problems
    for record in _records(scene):
        for attempt in _attempts(record):
            try:
                attempt()
            except SceneError as error:
                found += error.problems
    return tuple({(each.line, each.column, each.message): each for each in found}.values())


def _records(record: Record) -> Iterator[Record]:
    """Yield a record and all that it holds."""
    yield record
    for each in dataclasses.fields(record):
        value = getattr(record, each.name)
        for part in value if isinstance(value, tuple) else (value,):
            if isinstance(part, Record):
                yield from _records(part)


def _attempts(record: Record) -> Iterator[Callable[[], object]]:
    """Yield what may fail of one record."""
    if getattr(record, "photometry", None) is not None:
        from previz.stage.measured_files import photometry

        yield lambda: photometry(record)
    if isinstance(record, Light) and _may_give_none(record):
        from previz.stage.lights.output import lumens_alone

        yield lambda: lumens_alone(record)
    if isinstance(record, Piece) and _may_be_frosted(record):
        from previz.stage.pieces import check_glass

        yield lambda: check_glass(record)
    if hasattr(record, "spectrum") and _may_fail(record):
        from previz.stage.lamps import lamp_spectrum

        yield lambda: lamp_spectrum(record)
    for sheet in getattr(record, "gel", ()):
        if sheet.name not in NAMES:
            from previz.stage.lamps import filtered

            yield lambda sheet=sheet: filtered([sheet])
    if isinstance(record, Surface) and record.file is not None:
        from previz.stage.measured_files import curve

        yield lambda: curve(record, "measured reflectance")
    if isinstance(record, Camera) and record.show is not None:
        from previz.stage.show_files import shown_through

        yield lambda: shown_through(record)
    if getattr(record, "normals", None) is not None:
        from previz.stage.surfaces import read_normals

        yield lambda: read_normals(record)
    for field in ("texture", "roughness_picture", "picture"):
        if getattr(record, field, None) is not None:
            from previz.stage.surfaces import read_picture

            yield lambda field=field: read_picture(record, field)


def _may_give_none(light) -> bool:
    """Return whether only its beam shows that a lamp has light, or has it where it is measured."""
    if light.kind == "glow":
        return False
    cut = getattr(light, "shutters", None) is not None or getattr(light, "iris", 1.0) < 1
    return cut or getattr(light.output, "unit", "lm") in ("cd", "lx")


def _may_be_frosted(piece) -> bool:
    surface = piece.surface
    return (piece.mesh is None and surface is not None and surface.name in GLASS
            and bool(surface.roughness))


def _may_fail(light) -> bool:
    own = light.spectrum
    return light.duv != 0 or (own not in SURE if isinstance(own, str) else not own.is_two_colour)
