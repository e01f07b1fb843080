"""What a lamp's holder takes of its light, against closed answers."""

import numpy as np
import pytest

from previz.scene.light import Fire
from previz.stage import shapes
from previz.stage.lights import flames, own_body
from previz.stage.lights.fixture import Setting
from previz.stage.lights.own_body import share_lost


def disc(height, radius, sides=96):
    """A flat disc of a regular polygon, as large as the circle, at a height over the origin."""
    turn = 2 * np.pi * np.arange(sides) / sides
    grown = radius * np.sqrt(2 * np.pi / sides / np.sin(2 * np.pi / sides))
    rim = np.stack([grown * np.cos(turn), grown * np.sin(turn), np.full(sides, height)], axis=1)
    here = 1 + np.arange(sides)
    faces = np.stack([np.zeros(sides, int), here, 1 + here % sides], axis=1)
    return np.concatenate([[[0, 0, height]], rim]), faces


@pytest.mark.parametrize(("height", "radius"), [(0.08, 0.06), (-0.08, 0.20), (0.30, 0.05)])
def test_a_black_disc_takes_its_solid_angle(height, radius):
    """Outside a ball that glows evenly light flows as from a point, by symmetry, so that a disc that
    no part of the ball is behind takes the share (1 - cos a) / 2, with tan a = radius / height.
    """
    ball = shapes.ball(0.05, subdivisions=3)
    expected = (1 - abs(height) / np.hypot(height, radius)) / 2
    # 8192 evenly spread rays, and a ball of 1280 faces: 0.2 % of all light.
    assert share_lost(ball, disc(height, radius), 0.0) == pytest.approx(expected, abs=2e-3)


def test_a_white_disc_takes_what_falls_back_on_the_ball():
    """What a white disc scatters either falls back on the ball or gets away, so it takes less than a
    black one; far off next to nothing falls back.
    """
    ball = shapes.ball(0.05, subdivisions=3)
    near, far = disc(0.06, 0.06), disc(2.0, 2.0)
    assert 0 < share_lost(ball, near, 1.0) < 0.6 * share_lost(ball, near, 0.0)
    # From 2 m and more the ball fills at most (0.05 / 2)² = 6e-4 of what a disc sends out.
    assert share_lost(ball, far, 1.0) < 1e-3


def test_a_holder_out_of_reach_takes_nothing():
    """A triangle without an area meets no ray."""
    ball = shapes.ball(0.05, subdivisions=3)
    line = np.array([[0, 0, 0.2], [0.1, 0, 0.2], [0.2, 0, 0.2]]), np.array([[0, 1, 2]])
    assert share_lost(ball, line, 0.0) == 0


@pytest.mark.parametrize(("width", "height"), [(0.35, 0.5), (0.8, 0.4)])
def test_what_a_fire_keeps_is_as_its_rays_say(width, height):
    """The tables that fires go by, against rays through tongues, coals and logs of that size."""
    parts, under = flames._fire((width, height))
    counted = flames._lost(parts, flames._FIRE, under, flames.WOOD, rays=16_384)
    light = Fire(name="fire", at=(0.0, 0.0, 1.0), output=None, flame=(width, height))
    setting = Setting(np.array(light.at), None, None, lambda at: 0.0, lambda surface: "")
    fire = flames.build_fire(light, setting)
    share = fire.emitters[0].share
    # 0.4 of the light gets away; 16 384 rays leave 2 % of it open, its shares by width and height 1 %, and
    # the engine finds 2 % more.
    assert 1 / share == pytest.approx(1 - counted.lost, rel=0.05)
    assert fire.peak == pytest.approx(counted.side / (1 - counted.lost), rel=0.05)


def test_a_thin_gas_is_as_bright_as_its_chords():
    """A ball alone keeps nothing, and its intensity is Phi / 4 pi to every side."""
    far = shapes.moved(shapes.box((0, 0, 0), (1, 1, 1)), [0, 0, -50])
    round_one = shapes.ball(1.0, subdivisions=3)
    ball = own_body.of_flames([round_one], lambda points: np.ones(len(points)), far, 0.1)
    assert ball.lost < 1e-3 and ball.side == pytest.approx(1 / (4 * np.pi), rel=0.01)
