"""Pieces of yards and streets, built from a size: railway, street, vehicles, fences, trees, water.

Each is a few parts of different surfaces, standing on z = 0 about the origin, its length along x. `YARD`
names them all; a piece's own `surface` is that of the parts that have none of their own.
"""

from previz.stage.yard.build import YARD, yard_meshes

__all__ = ["YARD", "yard_meshes"]
