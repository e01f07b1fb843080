"""The blocking view: a camera's frame in flat shades, and the set from above, without light.

`views` says what is seen from where, and of what each ray meets there; `gl` finds it by pyrender (the
only module that knows it; the engine's first hits come from `studies.block`). `drawing` puts a frame
together, `above` the view from above; `notes` has every number that is written on them.
"""
