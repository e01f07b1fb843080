"""Figures: people as meshes, posed, dressed and with hair, and the places at them that are metered.

`build` puts one together; `data`, `body`, `pose`, `stance` make the body, `dress`, `folds`, `shoes` its
clothes, `hair`, `scalp`, `strands` its hair, `eyes`, `skin`, `appearance` its head. `data/` is baked by
`bake_figure` from the sources it names, and touched by nothing else. Who uses the package takes
`build.build_figure` and `build.head_places`; the scene's figures come in by `stage.people`.
"""
