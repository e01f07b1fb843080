"""The colours of a stage: every spectrum that light may be changed by on its path."""

from __future__ import annotations

import numpy as np

from previz.stage.records import Stage


def stage_colours(stage: Stage) -> np.ndarray:
    """Return the reflectances and transmissions of a stage, each once, shape (colours, 81). [1]"""
    found = [pane.tint for pane in stage.panes]
    if stage.haze is not None:
        found.append(stage.haze.albedo)
    for surface in stage.surfaces.values():
        found += [surface.reflectance, surface.transmission]
        found += [surface.specular] if surface.gloss > 0 else []
        found += [surface.pattern.second] if surface.pattern is not None else []
    unlike = {np.asarray(each, float).tobytes(): each for each in found if np.any(each)}
    return np.array(list(unlike.values()), float).reshape(len(unlike), 81)
