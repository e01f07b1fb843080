"""The scene file: its words, its reading and its checks. Nothing here computes light, or imports numpy.

Records (`light`, `camera`, `figure`, `room`, ...) are plain frozen dataclasses on `fields`, the one table of
what may be written; `read` makes them of a file, `rules`, `lamp_rules` and `check` refuse, `doubts` points
out, `schema` and `previz list` follow. A new field is a line in its record. A word that goes has its new one
in `words`. Who uses the package takes `read.load`, the records and `schema.schema`.
"""
