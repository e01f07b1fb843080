"""Furniture and dressing as triangles, kind by kind.

`scene/furniture.py` says which kinds there are, how large they usually are, and of which parts; the
modules here build them, by `kinds.builds`. `build` is all that others need.
"""

from previz.stage.furniture import (  # noqa: F401
    beds,
    bottles,
    carried,
    cases,
    crockery,
    doors,
    heating,
    kettles,
    papers,
    plants,
    plumbing,
    seats,
    stores,
    tables,
    tools,
    wall_things,
)
from previz.stage.furniture.kinds import BUILDERS, build

__all__ = ["BUILDERS", "build"]
