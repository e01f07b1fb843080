"""What mesh files say of glass: glTF's blending and transmission, OBJ's dissolve.

Sources: glTF 2.0, 3.9.4 (alpha coverage); its extensions KHR_materials_transmission,
KHR_materials_volume and KHR_materials_ior; the MTL statements d, Tr, Ni, Tf and illum (from memory).
"""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

import numpy as np

from previz.physics.uplift import linear_from_srgb
from previz.stage.shapes import crosses

SOLID = 0.98
"""Alpha from which on a blended material is taken as solid: exporters write BLEND for those. [1]"""

HALF = 0.5
"""Alpha above which a light colour is no longer taken as that of glass. [1]"""

DARK = 0.25
"""Luminance up to which a colour of more alpha is taken as that of dark glass. [1]"""

EVEN = 0.1
"""Range of a picture's alpha, or of a tint, that is taken as one value, its mean. [1]"""

SAMPLES = 1 << 14
"""Places of a mesh at which its picture is sampled."""

LEAST_TRANSMISSION = 0.8
"""Share of clear transmission under which what is also scattered cannot be left out. [1]"""

GLTF_INDEX = 1.5

REC709_Y = np.array([0.2126, 0.7152, 0.0722])


@dataclass(frozen=True, eq=False)
class FileGlass:
    """How a file has it that light passes through a material.

    Parameters
    ----------
    tint : float array, shape (3,)
        What passes other than what is mirrored, linear Rec. 709. [1]
    ior : float
    roughness : float
        As glTF has it, 0 to 1; of what is mirrored and let through. [1]
    thickness : float
        Of a sheet, in the mesh's own unit; 0 where it is not given.
    volume : bool or None
        Whether the file says that the material bounds a volume; None where it says nothing.
    attenuation : float array, shape (3,)
        What is left after `distance` within the glass, linear Rec. 709. [1]
    distance : float
        [m]
    fault, advice : str
        What of it cannot be rendered, and what to do; '' for none.
    """

    tint: np.ndarray | tuple = (1.0, 1.0, 1.0)
    ior: float = GLTF_INDEX
    roughness: float = 0.0
    thickness: float = 0.0
    volume: bool | None = None
    attenuation: np.ndarray | tuple = (1.0, 1.0, 1.0)
    distance: float = np.inf
    fault: str = ""
    advice: str = ""


def written_as(material, written: list[dict]) -> dict:
    """Return what a file wrote of a material that trimesh read, which keeps no extensions.

    Raises
    ------
    ValueError
        Several materials of one name differ in nothing but their glass.
    """
    def factor(value):
        return None if value is None else [round(255 * float(v)) for v in value]

    def known(each):
        pbr = each.get("pbrMetallicRoughness", {})
        return (each.get("name"), each.get("alphaMode"), pbr.get("metallicFactor"),
                pbr.get("roughnessFactor"), factor(pbr.get("baseColorFactor")))

    def close(a, b):
        if isinstance(a, list) and isinstance(b, list):
            return len(a) == len(b) and max(abs(x - y) for x, y in zip(a, b, strict=True)) <= 1
        return a == b

    colour = material.baseColorFactor
    if colour is not None:
        colour = np.asarray(colour)
        colour = colour.tolist() if colour.dtype.kind in "ui" else factor(colour)
    # A colour that is not opaque is never kept as None, and 4 numbers are kept of 3.
    own = (getattr(material, "name", None), material.alphaMode, material.metallicFactor,
           material.roughnessFactor, colour)
    found = [each for each in written if all(map(close, known(each), own))]
    found = found or [each for each in written if each.get("name") == own[0]]
    glass = {json.dumps([each.get("extensions"), each.get("pbrMetallicRoughness")], sort_keys=True)
             for each in found}
    if len(glass) > 1:
        raise ValueError(f"{len(found)} of its materials are called '{own[0]}', and differ")
    return found[0] if found else {}


def gltf_glass(material, written: dict, image=None, places=None) -> FileGlass | None:
    """Return how light passes a glTF material; None where it does not.

    Parameters
    ----------
    material : trimesh.visual.material.PBRMaterial
    written : dict
        As in the file.
    image : PIL.Image.Image or None
        The picture of its base colour.
    places : float array, shape (n, 2), or None
        Where its mesh samples its picture, v upwards; None for all of it.
    """
    extensions = written.get("extensions", {})
    through = extensions.get("KHR_materials_transmission")
    pbr = written.get("pbrMetallicRoughness", {})
    base = pbr.get("baseColorFactor")
    if base is None and material.baseColorFactor is not None:
        # Of a material written otherwise than by base colour; trimesh gives bytes.
        base = np.asarray(material.baseColorFactor, float) / 255
    colour = np.asarray([*((1, 1, 1) if base is None else base), 1][:4], float)
    blended = material.alphaMode == "BLEND"
    if through is None and not blended:
        return None
    texels = (np.ones((1, 4)) if image is None else _texels(image, places)) * colour
    ior = float(extensions.get("KHR_materials_ior", {}).get("ior", GLTF_INDEX)) or GLTF_INDEX
    share = 0.0 if through is None else float(through.get("transmissionFactor", 0.0))
    if share > 0 and not float(pbr.get("metallicFactor", 0.0)) > 0.5:
        if "transmissionTexture" in through:
            return FileGlass(fault="lets light through by a picture, here more and there less",
                             advice="Give it one transmission, or write a `surface` for the piece.")
        if share < LEAST_TRANSMISSION:
            return FileGlass(
                fault=f"lets {_percent(share)} of the light through clearly and scatters the rest",
                advice="Clear glass has a transmission of 1; for milky glass write the piece's "
                "`surface`, such as opal glass.")
        volume = extensions.get("KHR_materials_volume")
        thickness = float((volume or {}).get("thicknessFactor", 0.0))
        return _tinted(FileGlass(
            ior=ior, roughness=float(pbr.get("roughnessFactor", 0.0)), thickness=thickness,
            volume=None if volume is None else thickness > 0,
            attenuation=np.asarray((volume or {}).get("attenuationColor", (1, 1, 1)), float),
            distance=float((volume or {}).get("attenuationDistance", np.inf)) or np.inf),
            share * texels[:, :3])
    return _blended(texels, ior) if blended else None


def cut_out(material, image, places) -> float:
    """Return the share of a glTF material that its picture cuts away (alpha MASK). [1]"""
    if material.alphaMode != "MASK" or image is None:
        return 0.0
    edge = 0.5 if material.alphaCutoff is None else float(material.alphaCutoff)
    return float(np.mean(_texels(image, places)[:, 3] < edge))


def places_on_picture(vertices, faces, uv) -> np.ndarray | None:
    """Return where points spread evenly over a mesh sample its picture, shape (n, 2)."""
    if uv is None or not len(faces):
        return None
    corners = np.asarray(vertices, float)[faces]
    area = np.linalg.norm(crosses(corners), axis=1)
    if not np.isfinite(area).all() or not area.sum() > 0:
        return None
    rng = np.random.default_rng(0)
    own = np.asarray(faces)[rng.choice(len(faces), SAMPLES, p=area / area.sum())]
    root, other = np.sqrt(rng.random(SAMPLES)), rng.random(SAMPLES)
    shares = np.stack([1 - root, root * (1 - other), root * other], axis=1)
    return np.einsum("nk,nkc->nc", shares, np.asarray(uv, float)[own])


def _texels(image, places) -> np.ndarray:
    """Return some texels of a picture as linear Rec. 709 and alpha, shape (n, 4). [1]"""
    values = np.asarray(image.convert("RGBA"))
    rows, columns = values.shape[:2]
    if places is None or not np.isfinite(places).all():
        values = values.reshape(-1, 4)[:: max(1, rows * columns // SAMPLES)]
    else:
        x, y = np.mod(places[:, 0], 1) * columns, (1 - np.mod(places[:, 1], 1)) * rows
        values = values[np.clip(y.astype(int), 0, rows - 1), np.clip(x.astype(int), 0, columns - 1)]
    shares = values.astype(np.float64) / 255
    return np.concatenate([linear_from_srgb(shares[:, :3]), shares[:, 3:]], axis=1)


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _blended(texels: np.ndarray, ior: float) -> FileGlass | None:
    alpha = texels[:, 3]
    if np.mean(alpha >= SOLID) > 0.99:
        return None
    low, high = np.quantile(alpha, (0.01, 0.99))
    if high - low > EVEN:
        return FileGlass(
            fault=f"is blended by its picture's alpha, from {_percent(low)} to {_percent(high)}",
            advice="Cut its shape out of the mesh and give it one alpha, or write a `surface` for "
            "the piece.")
    mean = float(alpha.mean())
    if mean > HALF and float((texels[:, :3] @ REC709_Y).mean()) > DARK:
        return FileGlass(
            fault=f"is blended with a light colour at an alpha of {_percent(mean)}, neither glass nor "
            "solid",
            advice="Give it an alpha of 1, or of 50 % and less for glass, or write a `surface` for "
            "the piece, such as muslin.")
    # Its colour lies over what is behind: glass lets through all, or its colour, in that share.
    return _tinted(FileGlass(ior=ior), 1 - alpha[:, None] * (1 - texels[:, :3]))


def _tinted(glass: FileGlass, tints: np.ndarray) -> FileGlass:
    """Return glass with the mean of many tints, or the fault that they differ."""
    low, high = np.quantile(tints, (0.01, 0.99), axis=0)
    if np.max(high - low) > EVEN:
        return replace(glass, fault="is glass with a picture in it",
                       advice="Give it one colour, or write a `surface` for the piece.")
    return replace(glass, tint=np.clip(tints.mean(axis=0), 0, 1))


def obj_glass(material) -> FileGlass | None:
    """Return how light passes a material of an OBJ's MTL file; None where it does not."""
    said = getattr(material, "kwargs", None) or {}

    def number(key, default):
        try:
            return float(np.ravel(said[key])[-1])
        except (KeyError, ValueError, IndexError):
            return default

    if "map_d" in said:
        return FileGlass(fault="dissolves by a picture (map_d)",
                         advice="Cut its shape out of the mesh, or write a `surface` for the piece.")
    alpha = number("d", 1 - number("tr", 0.0))
    refracts = int(number("illum", 2)) in (6, 7)
    if alpha >= SOLID and not refracts:
        return None
    colour = np.asarray(material.diffuse, float)[:3] / 255
    ior = number("ni", GLTF_INDEX)
    if refracts:
        try:
            tint = np.asarray([float(v) for v in said.get("tf", (1, 1, 1))], float)
        except ValueError:
            tint = np.ones(3)
        return FileGlass(np.clip(np.resize(tint, 3), 0, 1), ior)
    return _blended(np.array([[*colour, alpha]]), ior)
