"""Numbers of a glTF file's nodes and materials: finite, of the right count, within their ranges.

Sources: glTF 2.0, 3.5.2 (transformations) and 5.19 to 5.22 (materials); its extensions
KHR_materials_transmission, KHR_materials_volume and KHR_materials_ior.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

HUGE = 1e12
"""Magnitude from which on a number of a node is no place or scale of anything."""

POSES = {"matrix": 16, "translation": 3, "rotation": 4, "scale": 3}

SINGLE = {"metallicFactor": 1.0, "roughnessFactor": 1.0, "alphaCutoff": math.inf, "transmissionFactor": 1.0,
          "thicknessFactor": math.inf, "ior": math.inf}
"""Numbers of materials from 0 up, with their greatest values."""

LISTS = {"baseColorFactor": (4, 1.0), "emissiveFactor": (3, math.inf), "attenuationColor": (3, 1.0)}

HOLDERS = ("pbrMetallicRoughness", "extensions")

TEXTURES = ("baseColorTexture", "emissiveTexture")


def factor_faults(tree: dict) -> Iterator[str]:
    """Yield what is wrong with the numbers of nodes and materials."""
    nodes = [node for node in tree.get("nodes", ()) if not all(map(_posed, (node,) * 4, POSES.items()))]
    if nodes:
        yield f"has {len(nodes)} node{'s' * (len(nodes) > 1)} whose place, turn or scale is no set of numbers"
    textures, images = (tree.get(key, ()) for key in ("textures", "images"))
    for i, material in enumerate(tree.get("materials", ())):
        name = f"'{str(material.get('name', i + 1))[:60]}'"
        if not all(isinstance(material.get(key, {}), dict) for key in HOLDERS):
            yield f"has material {name} whose values are no list of names and numbers"
            continue
        for holder in _holders(material):
            yield from _material(name, holder)
            for key in TEXTURES:
                if key in holder and not _texture(holder[key], textures, images):
                    yield f"has a picture missing: the {_spoken(key)} of material {name} points to none"


def _posed(node: dict, pose: tuple[str, int]) -> bool:
    key, count = pose
    return key not in node or (numbers(node[key], count) and all(abs(each) < HUGE for each in node[key]))


def numbers(values: object, count: int) -> bool:
    """Return whether a value of a file is a list of so many finite numbers."""
    return isinstance(values, list) and len(values) == count and all(map(number, values))


def number(value: object) -> bool:
    """Return whether a value of a file is a finite number."""
    try:
        return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
    except OverflowError:
        return False


def _holders(material: dict) -> Iterator[dict]:
    yield material
    for each in (material.get("pbrMetallicRoughness", {}), *material.get("extensions", {}).values()):
        if isinstance(each, dict):
            yield each


def _material(name: str, holder: dict) -> Iterator[str]:
    for key, most in SINGLE.items():
        if key in holder and not (number(holder[key]) and 0 <= holder[key] <= most):
            yield f"has material {name} with a {_spoken(key)} of {str(holder[key])[:20]}"
    for key, (count, most) in LISTS.items():
        value = holder.get(key)
        if key in holder and not (numbers(value, count) and all(0 <= each <= most for each in value)):
            yield f"has material {name} with a {_spoken(key)} of {str(value)[:40]}"
    distance = holder.get("attenuationDistance", 1.0)
    if not (number(distance) and distance > 0):
        yield f"has material {name} with an attenuation distance of {str(distance)[:20]}"


def _spoken(key: str) -> str:
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in key)
    return words.removesuffix(" factor")


def _texture(written: object, textures, images) -> bool:
    if not isinstance(written, dict):
        return False
    index = written.get("index")
    if not isinstance(index, int) or not 0 <= index < len(textures):
        return False
    source = textures[index].get("source")
    if source is None:
        # The picture is an extension's, in a format of its own.
        return True
    return isinstance(source, int) and 0 <= source < len(images)
