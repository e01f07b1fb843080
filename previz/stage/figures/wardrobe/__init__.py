"""What stand-in figures wear: garments cut from the body's own suit, layer over layer.

`cloth` is the suit, finer and in its pose; `cutting` cuts garments out of it and turns their rims in;
`pinned` lays things on it; `hung` is skirts and tails; `worn` puts an outfit together. Each garment is
a module of its own, named in `garments`.
"""
