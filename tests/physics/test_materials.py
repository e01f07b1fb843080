"""The library of surfaces: complete, within physics, each with its source."""

import numpy as np
import pytest

from previz.physics.materials import MATERIALS, material
from previz.physics.optics import normal_reflectance
from previz.scene.surface import LIBRARY
from previz.stage.surfaces import library_surface

KINDS = {
    "paints": "white paint, cream paint, grey paint, black paint, gloss white paint, light green "
    "paint, dark green paint, dark blue paint, dark red paint, yellow paint, brown paint, white "
    "enamel",
    "woods": "dark oak, pine, plywood, light oak, walnut, beech, mahogany, old timber, cork",
    "brick": "brick, dark brick, yellow brick",
    "concrete and stone": "concrete, rough concrete, wet concrete, granite, limestone, sandstone, "
    "marble, roof slate",
    "plaster": "plaster, grey plaster, dark plaster",
    "cloths": "muslin, unbleached muslin, black cloth, grey cloth, wool, canvas, white cotton, "
    "linen, denim, red cloth, hessian, satin, black velvet, carpet, tarpaulin",
    "leather": "leather, black leather, tan leather, rubber",
    "paper": "white card, foam board, grey card, white paper, newsprint, cardboard, tracing paper",
    "metals": "steel, brass, aluminium, chrome, silver board, mirror, hard silver, soft silver, "
    "polished aluminium, copper, gold leaf, polished silver, nickel, stainless steel, galvanised steel, "
    "cast iron, bronze, rust, soot",
    "glass": "glass, thin glass, opal glass, candle wax",
    "water": "water, wet asphalt",
    "tiles": "white tile, black tile, green tile, terracotta tile, porcelain, linoleum",
    "foliage and ground": "grass, leaves, ivy, dry grass, moss, bark, soil, dry sand, gravel, asphalt, "
    "snow, ballast, coal",
}
"""What a set is built of, and the names that scenes may write."""


def test_all_surfaces_are_there():
    """Names are those a scene may write, in every kind that a set is built of."""
    expected = [name.strip() for names in KINDS.values() for name in names.split(",")]
    assert len(expected) == len(set(expected))
    assert set(MATERIALS) == set(expected) == set(LIBRARY)
    assert material("brick") is MATERIALS["brick"]


@pytest.mark.parametrize("name", MATERIALS)
def test_surfaces_keep_energy_and_name_their_source(name):
    """Diffuse and coat together reflect less than one; source and numbers are given."""
    each = MATERIALS[name]
    assert each.name == name
    assert each.source
    assert each.reflectance.shape == (81,)
    coat = 0.0 if each.metal else each.gloss * normal_reflectance(each.index)
    through = 0.0 if each.transmission is None else each.transmission
    assert each.reflectance.min() > 0
    assert np.max(each.reflectance + through) + coat < 0.98
    assert 0 <= each.gloss <= 1
    assert 0 <= each.roughness <= 1
    with pytest.raises(ValueError, match="read-only"):
        each.reflectance[0] = 2.0


def test_colours_are_what_the_names_say():
    """Brick, rust and wood are red-going, grass peaks in the green, paints are neutral."""
    blue, green, red = 14, 34, 54
    for name in ("brick", "rust", "dark oak", "pine", "leather", "dark red paint", "bark", "dry sand"):
        curve = MATERIALS[name].reflectance
        assert curve[red] > 1.5 * curve[blue]
    grass = MATERIALS["grass"].reflectance
    assert grass[green] > 1.4 * grass[blue]
    assert grass[green] > 1.4 * grass[red]
    assert np.ptp(MATERIALS["grey paint"].reflectance) == 0
    levels = [MATERIALS[n].reflectance[green] for n in ("soot", "black cloth", "asphalt", "snow")]
    assert np.all(np.diff(levels) > 0)
    assert MATERIALS["dark blue paint"].reflectance[blue] > 2 * MATERIALS[
        "dark blue paint"].reflectance[red]
    for name in ("leaves", "ivy", "dark green paint", "green tile"):
        assert np.argmax(MATERIALS[name].reflectance[:50]) == pytest.approx(green, abs=4)
    # Leaves are bright beyond 700 nm, where chlorophyll takes nothing (from memory).
    assert MATERIALS["leaves"].reflectance[64] > MATERIALS["leaves"].reflectance[green]


def test_what_lets_light_through():
    """Its transmission has the colour of its reflectance, and water the gloss of water."""
    through = {name for name, each in MATERIALS.items() if each.transmission is not None}
    assert through == {"opal glass", "tracing paper", "leaves", "ivy", "candle wax"}
    for name in through:
        each = MATERIALS[name]
        assert np.ptp(each.transmission / each.reflectance) < 1e-9
        surface = library_surface(name)
        np.testing.assert_array_equal(surface.transmission, each.transmission)
    # ((n - 1) / (n + 1))² of 1.333.
    assert library_surface("water").specular[0] == pytest.approx(0.02037, abs=1e-4)
    assert library_surface("white tile").specular[0] == pytest.approx(0.04)
