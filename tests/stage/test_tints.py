"""How far a lamp's colour can be moved, as the page is told."""

import numpy as np
import pytest

from previz.physics.colourtemp import xy_from_cct_duv
from previz.physics.lamps import COOLEST_K, KINDS, WARMEST_K, spectrum_of
from previz.scene.read import load
from previz.stage.tints import MOST_DUV, colour_range, greenest, has_tint

SCENE = """\
previz: 1
room: {size: [4 m, 3 m, 2.5 m]}
lights:
  - {name: lamp, kind: bulb, at: [1 m, 1 m, 2 m], output: 900 lm, REST}
cameras:
  - {name: A, at: [2 m, 0.3 m, 1.4 m], aim: lamp, lens: 24 mm, stop: T2.8, iso: 800}
"""


@pytest.fixture
def bulb(tmp_path):
    """Return a function: the rest of its fields -> a lamp of the scene format."""

    def made(rest):
        path = tmp_path / "lamp.yaml"
        path.write_text(SCENE.replace("REST", rest), encoding="utf-8")
        return load(path).scene("").lights[0]

    return made


def most(rows, cct):
    """Return the greenest tint at a colour temperature, as the page reads the rows."""
    after = next((i for i, row in enumerate(rows) if row[0] >= cct), None)
    if after is None:
        return MOST_DUV
    return rows[after][1] if after == 0 else min(rows[after - 1][1], rows[after][1])


@pytest.mark.parametrize("kind", [each for each in KINDS if each != "tungsten"])
def test_all_that_is_offered_can_be_made(bulb, kind):
    """Of a few colours from warm to cool the greenest that is offered, and magenta, are made."""
    light = bulb(f"spectrum: {kind}, cct: 5000 K")
    rows, (warmest, coolest) = greenest(light), colour_range(light)
    assert [row[0] for row in rows] == sorted(row[0] for row in rows)
    for cct in (WARMEST_K, 1650, 1790, 2100, 2500, 2900, 3400, 3900, 5600, COOLEST_K):
        if not warmest <= cct <= coolest:
            continue
        for duv in (most(rows, cct), -MOST_DUV):
            assert np.all(np.isfinite(spectrum_of(kind, cct, duv)))


def test_what_is_not_offered_has_next_to_no_blue_left(bulb):
    """The limit is the edge of all colours: CIE 1931 z = 1 - x - y falls to nothing there (CIE 15:2018)."""
    rows = greenest(bulb("spectrum: led, cct: 3200 K"))
    for cct, duv in rows[:8]:
        x, y = xy_from_cct_duv(cct, duv)
        assert 0 < 1 - x - y < 0.02
        x, y = xy_from_cct_duv(cct, duv + 0.003)
        assert 1 - x - y < 0.012


def test_a_filament_keeps_its_tint_at_every_level(bulb):
    """Tungsten is offered no greener than it can be when it is dimmed, at any colour temperature."""
    light = bulb("spectrum: tungsten, cct: 3200 K")
    assert colour_range(light) == (WARMEST_K, 3695.0)
    (kelvin, duv), = greenest(light)
    assert kelvin == COOLEST_K
    assert np.all(np.isfinite(spectrum_of("tungsten", WARMEST_K, duv)))


def test_two_colours_end_at_their_ends(bulb):
    """A lamp that is mixed from two whites has their temperatures for ends, and no tint."""
    light = bulb("spectrum: {warm: 3000 K, cool: 6000 K}, cct: 4000 K")
    assert colour_range(light) == (3000.0, 6000.0)
    assert not has_tint(light) and greenest(light) == ()
    assert colour_range(bulb("spectrum: two-colour led, cct: 4000 K")) == (2700.0, 6500.0)


def test_a_tabulated_lamp_has_limits_too(bulb):
    """A lamp of the CIE's tables has its own, whether its colour temperature is written or not."""
    assert len(greenest(bulb("spectrum: {cie: FL2}"))) == 1
    rows = greenest(bulb("spectrum: {cie: FL11}, cct: 3000 K"))
    assert rows[0][1] < 0.006 and rows[-1][1] == MOST_DUV
