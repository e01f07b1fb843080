"""Furniture and dressing as triangles, kind by kind.

`scene/furniture.py` says which kinds there are, how large they usually are, and of which parts; the
modules here build them, by `kinds.builds`. `build` is all that others need.
"""

from previz.stage.furniture import (  # noqa: F401
    beds,
    bottles,
    cases,
    crockery,
    doors,
    heating,
    papers,
    plants,
    seats,
    stores,
    tables,
    wall_things,
)
from previz.stage.furniture.kinds import BUILDERS, build

__all__ = ["BUILDERS", "build"]
