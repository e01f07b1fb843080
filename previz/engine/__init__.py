"""Light transport: a Stage in, Frames and Batches out; nothing outside knows the renderer's library.

`render` and `gather` run pictures and meters; `kernel` is the transport loop, with `step`,
`next_event`, `image_sample`, `trail` and `special` for one leg of a path, `lighting` and `shading`
for lamps and BSDFs, `panes`, `glass`, `haze` and `subsurface` for the rest; `tables` and `upload`
lay a stage out. The library comes from `jit`, started. Touch the order of random numbers or of
arithmetic only with reason: renders are the same bit for bit, and fingerprints do not know.

Within the kernel a name is always of one kind: `buffers` is a stage on the device (`upload.Buffers`),
`stage` the `Stage`; `active` is a mask (Bool), `point` and `origin` are Point3f [m], a direction is a unit
Vector3f, `hit` a `hit.Hit` and `vertex` a `shading.Vertex`; `lamp`, `emitter`, `surface` and `cell` are
numbers of rows (UInt), `u` and `number` random numbers from 0 to 1 (Float); `values`, `factors` and
`throughput` are lists of Float over the bands.
"""
