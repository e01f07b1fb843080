"""The colours that light may meet in a stage."""

import numpy as np

from previz.stage.colours import stage_colours
from previz.stage.records import Pane, Stage, Surface


def test_every_spectrum_of_a_stage_once():
    """Reflectances, cloth that lets light through, coloured metal and tinted glass; no zeros."""
    wall, cloth, gold, tint = (np.linspace(0.1, top, 81) for top in (0.4, 0.5, 0.9, 0.8))
    dark = np.zeros(81)
    surfaces = {
        "wall": Surface("wall", wall, dark, np.full(81, 0.04)),
        "same paint": Surface("same paint", wall.copy(), dark, dark),
        "silk": Surface("silk", wall, cloth, dark),
        "trim": Surface("trim", dark, dark, gold, gloss=1.0),
    }
    edge = np.array([1.0, 0, 0]), np.array([0, 1.0, 0])
    pane = Pane("window", np.zeros(3), *edge, 1.52, 1, tint)
    found = stage_colours(Stage("", surfaces, (), (), (), panes=(pane,)))
    # The wall's specular reflectance plays no part without gloss.
    assert np.array_equal(found, [tint, wall, cloth, gold])


def test_a_stage_without_surfaces_has_no_colours():
    """The shape stays that of spectra."""
    assert stage_colours(Stage("", {}, (), (), ())).shape == (0, 81)
