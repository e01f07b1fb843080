"""Patterns and reliefs of surfaces, drawn from nothing but numbers, at their true size.

`drawn` has what all share: `Drawn` (a tile in metres), `Canvas` (its places), the table of builders. `wood`,
`masonry`, `walls`, `cloth`, `outdoors` and `wear` draw the kinds: a new one is a line of words in
`scene.patterns` and a function under `draws` in one of them. `noise` is the randomness, `held` holds a tile
to what its surface reflects, `shown` puts it on a surface.
"""

from __future__ import annotations

from previz.stage.patterns import cloth, masonry, outdoors, walls, wear, wood
from previz.stage.patterns.drawn import BUILDERS, Drawn

__all__ = ["BUILDERS", "Drawn", "cloth", "masonry", "outdoors", "walls", "wear", "wood"]
