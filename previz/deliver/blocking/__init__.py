"""The blocking view: a camera's frame in flat shades, and the set from above, without light.

`drawing` puts a frame together, `above` the view from above; `hits` finds what each pixel sees.
"""
