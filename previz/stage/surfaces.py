"""Turn the surfaces of a scene into lobes with a reflectance per wavelength."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from previz.errors import SceneError
from previz.physics.materials import MATERIALS
from previz.physics.optics import normal_reflectance
from previz.physics.spectra import WAVELENGTHS_NM, observer
from previz.physics.uplift import reflectance_from_rgb
from previz.scene.patterns import PATTERNS, painted, pattern_of, wear_of
from previz.scene.surface import TEXTURE_BYTES
from previz.stage import laying, measured_files
from previz.stage.patterns.shown import Shown, with_pattern
from previz.stage.picture_files import decode, linear_picture
from previz.stage.plain_files import FileError, read_plain
from previz.stage.records import SMOOTH, Surface
from previz.stage.wet import wetted

if TYPE_CHECKING:
    from previz.scene.surface import Surface as Written
    from previz.stage.records import Mesh

ONES = np.ones_like(WAVELENGTHS_NM)

GLOSS_F0 = 0.04
"""Reflectance at normal incidence of varnish, plastic and polish, index 1.5. [1]"""

LIGHTEST = 0.98
"""Most that any painted or coloured surface may send on, reflected and transmitted. [1]"""

SENT_BACK = 0.9
"""Share of what a cloth or a net does not let through that it sends back.
(common practice, no source) [1]"""


class SurfaceRegistry:
    """Collects the surfaces that a stage uses, each once."""

    def __init__(self):
        self.surfaces: dict[str, Surface] = {}
        self.along: dict[str, bool] = {}

    def add(self, surface: Surface) -> str:
        """Keep a surface and return its name; two different ones never share a name."""
        name, count = surface.name, 1
        while name in self.surfaces and not _same(self.surfaces[name], surface):
            count += 1
            name = f"{surface.name} {count}"
        if name not in self.surfaces:
            self.surfaces[name] = dataclasses.replace(surface, name=name)
        return name

    def library(self, name: str) -> str:
        """Keep a library surface and return its name."""
        return self.add(library_surface(name))

    def of(self, record: Written, transmission: float | None = None, *, of_room: bool = False,
           plain: bool = False, level: bool = False) -> str:
        """Keep a scene's surface, its own transmission or another [1], and return its name.

        With `of_room` it is that of a room's floor, ceiling or walls; `plain` leaves its pattern out; on
        what is `level` water can stand.

        Raises
        ------
        SceneError
            A file that it names cannot be used.
        """
        surface = build_surface(record)
        shown = None if plain else shown_by(record, of_room)
        if shown is not None:
            surface = with_pattern(surface, shown, second_of(record, shown))
        if record.wet:
            surface = wetted(surface, record.wet, level)
        name = self.add(_with_transmission(surface, transmission))
        if shown is not None:
            self.along[name] = shown.along
        return name

    def laid(self, mesh: Mesh) -> Mesh:
        """Return a mesh with texture coordinates in metres where its surface needs any; see `laying.laid`."""
        surface = self.surfaces.get(mesh.surface)
        return mesh if surface is None else laying.laid(mesh, surface, self.along.get(mesh.surface, True))


def _same(a: Surface, b: Surface) -> bool:
    curves = ("reflectance", "transmission", "specular")
    return (all(np.array_equal(getattr(a, c), getattr(b, c)) for c in curves)
            and (a.gloss, a.roughness, a.subsurface, a.lobe)
            == (b.gloss, b.roughness, b.subsurface, b.lobe)
            and (a.across, a.fuzz, a.texture_size) == (b.across, b.fuzz, b.texture_size)
            and a.pattern is b.pattern and a.relief is b.relief
            and a.texture is b.texture and _same_glass(a.glass, b.glass))


def _same_glass(a, b) -> bool:
    if a is None or b is None:
        return a is b
    return ((a.ior, a.thickness, a.closed) == (b.ior, b.thickness, b.closed)
            and np.array_equal(a.absorption, b.absorption))


def _with_transmission(surface: Surface, transmission: float | None) -> Surface:
    """Return a surface that lets a share through, in its own colour; it reflects no more than the rest."""
    if transmission is None:
        return surface
    mean = max(luminance(surface.reflectance), 1e-6)
    through = surface.reflectance / mean * transmission
    through = np.minimum(through, LIGHTEST)
    reflect = np.minimum(surface.reflectance, np.maximum(LIGHTEST - through, 0))
    return dataclasses.replace(surface, transmission=through, reflectance=reflect,
                               name=f"{surface.name}, {transmission:.0%} through")


def luminance(reflectance: np.ndarray) -> float:
    """Return the luminous reflectance under equal energy. [1]"""
    bright = observer()[1]
    return float(reflectance @ bright / bright.sum())


def hue_of(colour) -> np.ndarray:
    """Return the spectrum of a colour at a luminance of 1, ones for None. Shape (81,) [1]"""
    if colour is None:
        return ONES
    hue = reflectance_from_rgb(np.asarray(colour, float))
    return hue / max(luminance(hue), 1e-6)


def library_surface(name: str) -> Surface:
    """Return a surface of the library (`physics.materials` says where each comes from)."""
    material = MATERIALS[name]
    metal = bool(material.metal)
    reflectance = np.asarray(material.reflectance, float)
    return Surface(
        name=name,
        reflectance=0 * ONES if metal else reflectance,
        transmission=0 * ONES if material.transmission is None else material.transmission,
        specular=reflectance if metal else normal_reflectance(material.index) * ONES,
        gloss=1.0 if metal else float(material.gloss),
        roughness=float(material.roughness),
    )


def build_surface(record: Written) -> Surface:
    """Return the lobes of one surface of a scene.

    A mapping starts from the library surface it names, or from a matt mid grey; a colour sets the
    hue, and with a reflectance only the hue. A metal of the library stays one.

    Raises
    ------
    SceneError
        A file that it names cannot be used.
    """
    base = library_surface(record.name) if record.name else Surface(
        "plain", 0.18 * ONES, 0 * ONES, GLOSS_F0 * ONES)
    written = (record.reflectance, record.colour, record.gloss, record.roughness, *record.pictures,
               record.transmission, record.file)
    if all(value is None for value in written) and not record.metal:
        return base
    is_metal = record.metal or (record.name is not None and MATERIALS[record.name].metal)
    curve = base.specular if record.name and MATERIALS[record.name].metal else base.reflectance
    if record.file is not None:
        curve = measured_files.curve(record, "measured reflectance")
    if record.colour is not None:
        curve = reflectance_from_rgb(np.asarray(record.colour, float))
    if record.reflectance is not None:
        shape = curve if record.colour is not None or record.name else ONES
        curve = shape * (record.reflectance / max(luminance(shape), 1e-6))
    curve = np.clip(curve, 0, LIGHTEST)
    texture = None if record.texture is None else read_picture(record, "texture", LIGHTEST)
    surface = dataclasses.replace(
        base, name=f"{record.name or 'plain'} (own)", reflectance=curve, texture=texture,
        gloss=base.gloss if record.gloss is None else record.gloss,
        roughness=base.roughness if record.roughness is None else record.roughness)
    if is_metal:
        surface = dataclasses.replace(surface, reflectance=0 * ONES, specular=curve, gloss=1.0)
    return _with_transmission(_with_maps(record, surface), record.transmission)


def _with_maps(record: Written, surface: Surface) -> Surface:
    """Return a surface with the pictures of its normals and its roughness put in, and their size."""
    from previz.stage import picture_maps

    size = record.picture_size or (1.0, 1.0)
    if record.normals is not None:
        surface = dataclasses.replace(surface, relief=picture_maps.relief_of(read_normals(record), size))
    if record.roughness_picture is not None:
        rough = picture_maps.of_few(_stored_picture(record, "roughness_picture"))[..., 1] / np.float32(255)
        width = max(float(np.mean(rough**2)), SMOOTH)
        # What has a shine's width has a shine, if nothing is said of it.
        gloss = surface.gloss or (1.0 if record.gloss is None else 0.0)
        surface = dataclasses.replace(
            surface, gloss=gloss, roughness=width,
            pattern=picture_maps.roughness_pattern(rough, width, size, surface.reflectance))
    if record.texture is not None and record.picture_size is not None:
        surface = dataclasses.replace(surface, texture_size=record.picture_size)
    return surface


def shown_by(record: Written, of_room: bool = False) -> Shown | None:
    """Return the pattern that a scene's surface shows, None where it is plain."""
    if record.pictures and record.pattern is None:
        return None
    found = pattern_of(record.name, record.pattern, record.pattern_size, of_room)
    if found is None and record.worn and record.pattern is None:
        found = "worn paint", record.pattern_size or PATTERNS["worn paint"].size
    if found is None:
        return None
    off = record.worn > 0 and wear_of(record.name, found[0]) == "off"
    return Shown(*found, relief=record.relief, worn=record.worn, off=off,
                 painted=record.second is None and painted(record.name, found[0]))


def second_of(record: Written, shown: Shown) -> np.ndarray | None:
    """Return the reflectance of what a pattern shows beside a surface's own, or None. Shape (81,) [1]

    Raises
    ------
    SceneError
        A file that it names cannot be used.
    """
    if record.second is not None:
        made = build_surface(record.second)
        return made.reflectance if np.any(made.reflectance) else made.specular
    under = "" if shown.painted else PATTERNS[shown.word].second
    if not under and shown.off:
        # Under enamel on wood or metal there is wood; under a wall's paint its plaster.
        under = "grey plaster" if shown.word == "roller" else "old timber"
    return np.asarray(MATERIALS[under].reflectance, float) if under else None


def read_picture(record, field: str, most: float = 1.0) -> np.ndarray:
    """Return a picture that a field names as linear Rec. 709, cut to `most`. Shape (rows, columns, 3) [1]

    Raises
    ------
    SceneError
        It cannot be read.
    """
    return linear_picture(_stored_picture(record, field), most=most)


def read_normals(record) -> np.ndarray:
    """Return the picture of normals of a surface as it is stored, shape (rows, columns, 3).

    Raises
    ------
    SceneError
        It cannot be read, or shows none.
    """
    from previz.stage.picture_maps import NO_NORMALS, shows_normals

    picture = _stored_picture(record, "normals")
    if not shows_normals(picture):
        message, advice = NO_NORMALS
        raise SceneError([record.where("normals").problem(
            f"the picture '{Path(record.normals).name}' {message}", advice)])
    return picture


def _stored_picture(record, field: str) -> np.ndarray:
    """Return a picture that a field names, upright, as bytes of shape (rows, columns, 3)."""
    path = Path(getattr(record, field))
    try:
        image = decode(read_plain(path, TEXTURE_BYTES), upright=True)
    except FileError as error:
        raise SceneError([record.where(field).problem(
            f"the picture '{path.name}' cannot be read: {error.message}", error.advice)]) from error
    return np.asarray(image.convert("RGB"))
