"""Renders in units of work that many share, each unit a file that merges bit for bit.

A unit is what no other has to wait for: light of some lamps in some rows of one picture by some of its
passes; what a camera sees; a scene's meters; a picture put together of the rest. Whoever does it, and
however often, the same file comes out. Call `planning`, `light` and `merge`; who does what is a matter of
`leases`.
"""
