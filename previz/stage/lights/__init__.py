"""Lamps of the scene as emitters, bodies and guides.

`fixture` has what all share: `Setting` (what a lamp knows of the scene around it), `Fixture` (what it
becomes) and the table of builders. `soft`, `beams`, `bulbs`, `flames`, `shown` and `glow` build the kinds: a
new kind is a function under `builds` in one of them. `fronts` and `ahead` know no kinds.
"""

from __future__ import annotations

from previz.scene.light import Light
from previz.stage.lights import beams, bulbs, flames, glow, shown, soft
from previz.stage.lights.fixture import BUILDERS, Fixture, Setting


def build_fixture(light: Light, setting: Setting) -> Fixture:
    """Return a lamp as light and triangles.

    Raises
    ------
    SceneError
        Its fields leave nothing that could give light.
    """
    return BUILDERS[light.kind](light, setting)


__all__ = ["BUILDERS", "Fixture", "Setting", "beams", "build_fixture", "bulbs", "flames", "glow", "shown",
           "soft"]
