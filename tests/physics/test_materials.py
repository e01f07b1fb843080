"""The library of surfaces: complete, within physics, each with its source."""

import numpy as np
import pytest

from previz.physics.materials import MATERIALS, material
from previz.physics.optics import normal_reflectance

WANTED = """white paint, cream paint, grey paint, black paint, dark oak, pine, plywood, brick,
concrete, plaster, linoleum, steel, brass, aluminium, chrome, white card, foam board, muslin,
unbleached muslin, silver board, mirror, black cloth, grey cloth, wool, leather, canvas, grass,
gravel, tarmac, snow, grey card, white tile, glass, rust, soot"""


def test_all_surfaces_are_there():
    """Names are those a scene may write."""
    assert set(MATERIALS) == {name.strip() for name in WANTED.replace("\n", " ").split(",")}
    assert material("brick") is MATERIALS["brick"]


@pytest.mark.parametrize("name", MATERIALS)
def test_surfaces_keep_energy_and_name_their_source(name):
    """Diffuse and coat together reflect less than one; source and numbers are given."""
    each = MATERIALS[name]
    assert each.name == name
    assert each.source
    assert each.reflectance.shape == (81,)
    coat = 0.0 if each.metal else each.gloss * normal_reflectance(1.5)
    assert each.reflectance.min() > 0
    assert each.reflectance.max() + coat < 0.98
    assert 0 <= each.gloss <= 1
    assert 0 <= each.roughness <= 1
    with pytest.raises(ValueError, match="read-only"):
        each.reflectance[0] = 2.0


def test_colours_are_what_the_names_say():
    """Brick, rust and wood are red-going, grass peaks in the green, paints are neutral."""
    blue, green, red = 14, 34, 54
    for name in ("brick", "rust", "dark oak", "pine", "leather"):
        curve = MATERIALS[name].reflectance
        assert curve[red] > 1.5 * curve[blue]
    grass = MATERIALS["grass"].reflectance
    assert grass[green] > 1.4 * grass[blue]
    assert grass[green] > 1.4 * grass[red]
    assert np.ptp(MATERIALS["grey paint"].reflectance) == 0
    levels = [MATERIALS[n].reflectance[green] for n in ("soot", "black cloth", "tarmac", "snow")]
    assert np.all(np.diff(levels) > 0)
