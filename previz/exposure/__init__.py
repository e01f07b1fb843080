"""From frames to pictures and readings: mixing, exposure, balance, denoising, display, maps.

`picture.develop` makes a picture, `metering` reads meters with their errors, `faces` a face's sides and
ratios, `comparing` holds shots against each other. Light adds up, so all of it is arithmetic on frames:
nothing here traces a ray, and a reading never comes from a denoised picture. Scene-linear values are
float, (3, row, column). Palettes are derived (`tests/exposure/palette_derivation.py`), never chosen.
"""
