"""Numbers in, numbers out: light, colour, exposure, lamps and materials. Needs only numpy.

Each function says its equation, units, limits and source. Spectra are 81 samples (`spectra`), bands are
`bands` with what they count (`band_weights`) and leave off (`band_error`); `data/` is written by
`bake_tables` from the sources named in each file, and by nothing else. Values here are held to published
ones by `tests/published`: change one only with its source.
"""
