"""Read mesh files into plain arrays, as they are in the file: no unit, axis or name is changed yet."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from previz.stage.glass_files import (
    FileGlass,
    cut_out,
    gltf_glass,
    obj_glass,
    places_on_picture,
    written_as,
)
from previz.stage.gltf_plain import PlainPart, plain_parts
from previz.stage.gltf_structure import structure_of
from previz.stage.mesh_faults import MeshError, few, refuse
from previz.stage.mesh_gate import material_faults, shape_faults, uv_faults
from previz.stage.mesh_headers import head_faults
from previz.stage.mesh_repair import repaired
from previz.stage.mesh_sources import Source, open_source
from previz.stage.plain_files import FileError

FACELESS = "has no faces", "Export it as triangles; points and curves cannot be lit."

SIZELESS = "has no size", "All of its points are in one place; export it again."


@dataclass(frozen=True, eq=False)
class FileMaterial:
    """A material as a mesh file has it.

    Parameters
    ----------
    name : str or None
        None where the file has colours but no material.
    rgb : float array, shape (3,)
        Base colour, linear Rec. 709. [1]
    gloss : float
        Weight of the gloss, 0 to 1. [1]
    roughness : float
        As glTF has it, 0 to 1. [1]
    metal : bool
    picture : uint8 array, shape (rows, columns, 3), or None
        The base colour's texture, sRGB.
    glow : float array, shape (3,)
        Emissive colour, linear Rec. 709; what it is in cd/m², files leave open. [1]
    glow_picture : uint8 array, shape (rows, columns, 3), or None
        The emissive texture, sRGB.
    glass : FileGlass or None
        How light passes through it; None where it does not.
    cut : float
        Share that its picture cuts away. [1]
    normals : uint8 array, shape (rows, columns, 3), or None
        Its texture of normals, as stored.
    leaning : float
        What red and green of that are multiplied by. [1]
    rough_picture : uint8 array, shape (rows, columns, 3), or None
        Green is the roughness, as stored; `roughness` is then the mean.
    """

    name: str | None = None
    rgb: np.ndarray | tuple = (0.5, 0.5, 0.5)
    gloss: float = 0.0
    roughness: float = 0.5
    metal: bool = False
    picture: np.ndarray | None = None
    glow: np.ndarray | tuple = (0.0, 0.0, 0.0)
    glow_picture: np.ndarray | None = None
    glass: FileGlass | None = None
    cut: float = 0.0
    normals: np.ndarray | None = None
    leaning: float = 1.0
    rough_picture: np.ndarray | None = None

    @property
    def pictures(self) -> tuple[np.ndarray | None, ...]:
        """What it reads by texture coordinates."""
        return self.picture, self.glow_picture, self.normals, self.rough_picture


@dataclass(frozen=True, eq=False)
class MeshPart:
    """One mesh of a file, in the file's own unit and axes.

    Parameters
    ----------
    vertices : float array, shape (v, 3)
    faces : int array, shape (f, 3)
        Of indices of vertices.
    pose : float array, shape (4, 4)
        From the mesh's own axes to the file's.
    normals : float array, shape (v, 3), or None
        The file's own smooth normals.
    uv : float array, shape (v, 2), or None
        Texture coordinates.
    material : FileMaterial
    name : str
        Of the mesh in its file.
    """

    vertices: np.ndarray
    faces: np.ndarray
    pose: np.ndarray
    normals: np.ndarray | None
    uv: np.ndarray | None
    material: FileMaterial
    name: str = ""


def read_parts(path: str, missing: list[str] | None = None,
               notes: list[str] | None = None) -> list[MeshPart]:
    """Return every mesh of a glTF, OBJ, PLY or STL file; curves and points are left out.

    Parameters
    ----------
    missing : list of str, optional
        Takes a clause for each thing that the file names and is not there.
    notes : list of str, optional
        Takes a clause for each thing that is left out or repaired.

    Raises
    ------
    FileError
        It is not what its name says, or names or holds what is not read.
    MeshError
        It is broken, without faces, or has numbers that cannot be rendered; with all that is wrong.
    """
    notes = [] if notes is None else notes
    try:
        source = opened(path, notes)
        parts = _parts(source, notes)
    except (FileError, MeshError):
        raise
    except Exception as error:
        # Readers of mesh files raise nearly anything on a broken file; all of it means this.
        raise MeshError("cannot be read: its contents are damaged, or of a kind that is not read here",
                        "Export it again as GLB, OBJ, PLY or STL, as triangles.") from error
    if missing is not None:
        missing += dict.fromkeys(source.notes)
    made = repaired(parts, notes)
    if not made:
        raise MeshError(*(SIZELESS if parts else FACELESS))
    return made


def opened(path: str | Path, notes: list[str]) -> Source:
    """Return a mesh file whose head and structure are sound, before anything is read by them.

    Raises
    ------
    MeshError, FileError
        They are not.
    """
    source = open_source(path)
    refuse(head_faults(source))
    found = structure_of(source)
    if found is not None:
        refuse(found.faults)
        if not found.uses:
            raise MeshError(*FACELESS)
        notes += found.notes
    return source


def _parts(source: Source, notes: list[str]) -> list[MeshPart]:
    """Return the meshes of a file whose numbers are all sound."""
    notes += source.left_out()
    plain = plain_parts(source)
    if plain is not None:
        return _plain(plain)
    scene = source.load()
    parts, faults, others = [], [], 0
    for node in scene.graph.nodes_geometry:
        matrix, key = scene.graph[node]
        part = scene.geometry[key]
        others += not hasattr(part, "faces")
        if not hasattr(part, "faces") or len(part.faces) == 0:
            continue
        body = np.asarray(part.vertices, float), np.asarray(part.faces, int), np.asarray(matrix, float)
        found = list(shape_faults(*body))
        if not found:
            made = _part(part, source.part_name(key), body, source)
            parts.append(made)
            found = [*material_faults(made.material)]
            if any(each is not None for each in made.material.pictures):
                found += uv_faults(made.uv, len(made.vertices))
        faults += found
    refuse(faults)
    if others:
        notes.append(f"has {few(others, 'part')} of points or curves, which are left out")
    return parts


def _plain(plain: list[PlainPart]) -> list[MeshPart]:
    """Return the meshes of a file that was read by its own numbers, if they are all sound."""
    parts, faults = [], []
    for part in plain:
        found = list(shape_faults(part.vertices, part.faces, part.pose))
        if not found:
            made = MeshPart(part.vertices, part.faces, part.pose, part.normals, part.uv,
                            _plain_material(part.material), part.name)
            parts.append(made)
            found = [*material_faults(made.material)]
        faults += found
    refuse(faults)
    return parts


def _plain_material(written: dict) -> FileMaterial:
    pbr = written.get("pbrMetallicRoughness", {})
    roughness = float(pbr.get("roughnessFactor", 0.8))
    metal = float(pbr.get("metallicFactor", 0.0)) > 0.5
    colour = pbr.get("baseColorFactor")
    # In steps of a byte, as the library has it.
    rgb = None if colour is None else np.clip(np.multiply(colour, 255.0), 0, 255).round().astype(np.uint8)
    return FileMaterial(written["name"], _factor(rgb), 1.0 if metal else max(0.0, 1 - roughness), roughness,
                        metal, glow=np.zeros(3))


def _part(part, name: str, body, source: Source) -> MeshPart:
    vertices, faces, matrix = body
    # Made up where the file has none, which would smooth what is meant to have edges.
    smooth = "vertex_normals" in part._cache.cache
    uv = getattr(part.visual, "uv", None)
    return MeshPart(vertices, faces, matrix, np.asarray(part.vertex_normals, float) if smooth else None,
                    None if uv is None else np.asarray(uv, float), _material(part, uv, source), name)


def _material(part, uv, source: Source) -> FileMaterial:
    visual = part.visual
    material = getattr(visual, "material", None)
    if material is None:
        if visual.kind in ("vertex", "face"):
            return FileMaterial(rgb=np.asarray(visual.main_color, float)[:3] / 255)
        return FileMaterial()
    name = getattr(material, "name", None) or "material"
    simple = material if hasattr(material, "baseColorFactor") else (
        material.to_pbr() if hasattr(material, "to_pbr") else None)
    if simple is None:
        return FileMaterial(name)
    roughness = 0.8 if simple.roughnessFactor is None else float(simple.roughnessFactor)
    metal = simple.metallicFactor is not None and float(simple.metallicFactor) > 0.5
    image = source.picture(simple.baseColorTexture)
    glass, cut = None, 0.0
    if simple is not material:
        glass = obj_glass(material)
    elif source.materials:
        places = None if image is None else places_on_picture(part.vertices, part.faces, uv)
        glass = gltf_glass(simple, written_as(simple, source.materials), image, places)
        cut = cut_out(simple, image, places)
    glow = getattr(simple, "emissiveFactor", None)
    normals, leaning, rough = None, 1.0, None
    if simple is material and source.materials:
        normals, leaning = source.rgb(simple.normalTexture), _leaning(written_as(simple, source.materials))
        rough = source.rgb(simple.metallicRoughnessTexture)
        if rough is not None:
            # With a texture a factor that is not written is 1.
            factor = 1.0 if simple.roughnessFactor is None else roughness
            roughness = factor * float(rough[..., 1].mean()) / 255
    return FileMaterial(
        name, _factor(simple.baseColorFactor), 1.0 if metal else max(0.0, 1 - roughness), roughness, metal,
        # An emissive texture alone is black, as glTF has it.
        source.rgb(simple.baseColorTexture), np.zeros(3) if glow is None else np.asarray(glow, float)[:3],
        source.rgb(getattr(simple, "emissiveTexture", None)), glass, cut, normals,
        leaning, rough)


def _leaning(written: dict | None) -> float:
    """Return the strength of a material's texture of normals, as it is written in its file."""
    texture = (written or {}).get("normalTexture")
    scale = texture.get("scale", 1.0) if isinstance(texture, dict) else 1.0
    return float(scale) if isinstance(scale, (int, float)) and np.isfinite(scale) else 1.0


def _factor(value) -> np.ndarray:
    """Return a material's base colour as linear Rec. 709."""
    if value is None:
        return np.ones(3)
    colour = np.asarray(value, float)[:3]
    # trimesh gives bytes where the file had floats; glTF factors are linear light.
    return colour / 255 if np.asarray(value).dtype.kind in "ui" else colour
