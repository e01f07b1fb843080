"""Files that leave the program: numbers come in, nothing is computed but where they stand.

`map`, `exr`, `meter_card`, `index` are files of a picture or a reading. Sheets are built of the
blocks of `layout` (head, plates, scales, terms, foot) and of `tables`, drawn on a `canvas` and, by the
same code, on pages by `pdf`: a new sheet is a function that returns blocks, and draws nothing itself
that `layout` has. `wording` and `face_values` hold how numbers are written. Whole files, or none, and
stills: `atomic`.
"""
