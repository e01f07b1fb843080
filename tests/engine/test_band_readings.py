"""Meters in light that came off a strong colour: the reading, and what is stated of it."""

import numpy as np
import pytest

from previz.checks.validation import stages
from previz.engine.probe import ProbeJob
from previz.engine.render import open_stage
from previz.exposure import metering
from previz.physics.bands import DEFAULT_BANDS
from previz.physics.lamps import illuminant
from previz.physics.light import LampLight
from previz.physics.spectra import normalise, xyz_of
from previz.physics.uplift import reflectance_from_rgb
from previz.stage import shapes
from previz.stage.colours import stage_colours

CASES = {"red under a tri-band tube": ("FL11", (0.6, 0.01, 0.01)),
         "deep blue under a three-colour LED": ("LED-RGB1", (0.01, 0.01, 0.4))}
"""Source of the lamps: CIE 15:2018."""


@pytest.fixture(scope="module", params=CASES)
def bounced(request, engine):
    """A lamp over a coloured board: stage, what its meter gathered, the 5 nm sum of it."""
    name, rgb = CASES[request.param]
    colour, light = reflectance_from_rgb(np.array(rgb)), normalise(illuminant(name))
    paint = stages.Surface(stages.GREY, colour, 0 * colour, 0 * colour)
    lamp = LampLight("lamp", "lm", 5000.0, light, stages.ONES)
    ball = stages.emitter(shapes.ball(0.05, subdivisions=2), (0, 0, 2), symmetric=True)
    board = stages.sheet(2.0, 2.0, (0, 0, 0), stages.UP, "board")
    # One meter faces down at the board, one up at the lamp.
    probes = [stages.probe((0.5, 0, 1), stages.DOWN, "off the board"),
              stages.probe((0.5, 0, 1), stages.UP, "straight")]
    built = stages.stage([ball], [board], paint, lamp, probes)
    job = ProbeJob(open_stage(built, DEFAULT_BANDS), built)
    job.run(0.01, 20)
    # The board is all that there is to bounce off, so every band holds its reflectance times the
    # same sum over directions; white light through that sum gives the reading at 5 nm.
    white = open_stage(stages.stage([ball], [board], stages.grey(1.0), lamp, probes), 1)
    plain = ProbeJob(white, built)
    plain.run(0.001, 60)
    transfer = plain.batches.means[0, :, 0, 1, 0]
    exact = lamp.output * xyz_of(light * colour)[1] * transfer
    return built, job, exact


def test_stated_error_covers_what_is_off(bounced):
    """Off the board the meter is within its stated error of the 5 nm sum; it states the bands' part."""
    built, job, exact = bounced
    mixed = metering.mix(job.batches, built.lamps, stage_colours(built))["off the board"]
    found = mixed.light(part=1)
    noise = np.hypot(found.paths, exact.std(ddof=1) / np.sqrt(exact.size))
    assert abs(found.value - exact.mean()) < found.bands + 4 * noise
    assert found.error == pytest.approx(np.hypot(found.paths, found.bands))
    assert 0 < found.bands < 0.02 * found.value


def test_straight_light_has_no_part_for_bands(bounced):
    """Towards the lamp nothing has met the board: the error is that of the paths alone."""
    built, job, _ = bounced
    mixed = metering.mix(job.batches, built.lamps, stage_colours(built))["straight"]
    assert mixed.light(part=0).value > 0
    assert mixed.light(part=0).bands == 0
