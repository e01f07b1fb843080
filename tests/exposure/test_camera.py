from dataclasses import replace

import numpy as np
import pytest

from previz.exposure import camera
from previz.physics.chromatic_adaptation import acescg_from_xyz
from previz.physics.colourtemp import cct_duv, uv_from_xy, xyz_from_xy
from previz.physics.exposure import CameraSettings
from tests.oracles.light import signal_luminance

# ACEScg luminance weights: SMPTE / S-2014-004, check value 6.7.
AP1_Y = np.array([0.27222872, 0.67408177, 0.05368952])


def grey_card(illuminance, reflectance, white_xy):
    """XYZ of a Lambertian card: L = rho E / pi (check value 1.16)."""
    xyz = xyz_from_xy(white_xy) * reflectance * illuminance / np.pi
    return np.broadcast_to(xyz[:, None, None], (3, 2, 3))


def test_the_grey_card_lands_on_018():
    """1000 lx at the stop it meters puts an 18 % card at 0.18 in all three channels.

    Stop: T = sqrt(E t S / C) = sqrt(1000 · 800 / 48 / 250) = 8.165 (check value 9.3).
    """
    settings = CameraSettings(
        stop=np.sqrt(1000 * 800 / 48 / 250), iso=800, shutter_s=1 / 48, white_balance=5600
    )
    white = camera.balance_white_xy(5600)
    picture = camera.expose(grey_card(1000, 0.18, white), settings)
    # 1e-6 is the bound; float32 itself holds 0.18 to 1e-8.
    np.testing.assert_allclose(picture, 0.18, atol=1e-6)
    signal = signal_luminance(grey_card(1000, 0.18, white), settings)
    np.testing.assert_allclose(signal, 0.18, atol=1e-12)


@pytest.mark.parametrize(
    ("change", "factor"),
    [
        ({"stop": 2.8 * np.sqrt(2)}, 1 / 2),
        ({"iso": 1600}, 2),
        ({"shutter_s": 1 / 24}, 2),
        # ND 0.3 loses 0.997 stop: 10^-0.3 (check value 3.8).
        ({"nd_density": 0.3}, 10**-0.3),
    ],
)
def test_settings_scale_the_picture(settings, change, factor):
    """Stop, ISO, shutter and neutral filters act as factors, as the equation says."""
    xyz = grey_card(120, 0.18, camera.balance_white_xy(5600))
    before = camera.expose(xyz, settings)
    after = camera.expose(xyz, replace(settings, **change))
    np.testing.assert_allclose(after, before * factor, rtol=1e-6)


@pytest.mark.parametrize("kelvin", [2000, 2700, 3200, 4000, 4300, 4700, 5000, 5600, 6500, 12000])
@pytest.mark.parametrize("tint", [0.0, 0.01, -0.01])
def test_the_balance_makes_its_own_light_white(kelvin, tint):
    """A card in the light that the camera is balanced for has R = G = B = Y."""
    white = camera.balance_white_xy(kelvin, tint)
    rgb = camera.balanced_acescg_from_xyz(kelvin, tint) @ (0.18 * xyz_from_xy(white))
    np.testing.assert_allclose(rgb, 0.18, rtol=1e-9)


@pytest.mark.parametrize(
    ("kelvin", "xy", "tolerance"),
    [
        # Black bodies, check value 2.1; tolerance as printed there.
        (2700, (0.45986, 0.41060), 2e-4),
        (3200, (0.42336, 0.39895), 2e-4),
        # CIE D, check value 2.2.
        (5000, (0.34574, 0.35867), 1e-4),
        (5600, (0.33016, 0.34555), 1e-4),
        (6500, (0.31278, 0.32918), 1e-4),
    ],
)
def test_the_balance_follows_the_two_scales(kelvin, xy, tolerance):
    """Tungsten balances are black bodies, daylight balances are CIE daylight."""
    np.testing.assert_allclose(camera.balance_white_xy(kelvin), xy, atol=tolerance)


def test_the_balance_has_no_step():
    """From 3900 to 5100 K the white moves evenly: no jump where the scales meet."""
    whites = np.array([camera.balance_white_xy(kelvin) for kelvin in np.arange(3900, 5101, 10)])
    steps = np.linalg.norm(np.diff(uv_from_xy(whites), axis=0), axis=1)
    # The D series lies 0.003 off the black bodies; a jump would be a single step of that size.
    assert steps.max() < 4e-4


@pytest.mark.parametrize("kelvin", [3200, 4500, 6000])
def test_tint_is_duv(kelvin):
    """Tint moves the white by so much Duv, plus to green, and leaves its temperature."""
    cct, duv = cct_duv(camera.balance_white_xy(kelvin))
    tinted_cct, tinted_duv = cct_duv(camera.balance_white_xy(kelvin, 0.008))
    # The normal is taken at the dial's temperature; on the D series it leans by a few 1e-5.
    assert tinted_duv - duv == pytest.approx(0.008, abs=1e-4)
    assert tinted_cct == pytest.approx(cct, rel=0.01)


def test_tint_against_a_green_light_is_neutral():
    """A camera tinted for a greener light takes the green out: green falls against red and blue."""
    green = xyz_from_xy(camera.balance_white_xy(5600, 0.01))
    plain = camera.balanced_acescg_from_xyz(5600) @ green
    tinted = camera.balanced_acescg_from_xyz(5600, 0.01) @ green
    assert plain[1] > 1.02 * plain[0] and plain[1] > 1.02 * plain[2]
    np.testing.assert_allclose(tinted, 1.0, rtol=1e-9)


def test_acescg_luminance_is_the_metered_luminance(settings):
    """The Y weights of AP1 give back the signal luminance of a light the balance is set for."""
    xyz = grey_card(77, 0.4, camera.balance_white_xy(5600))
    picture = camera.expose(xyz, settings)
    got = np.tensordot(AP1_Y, picture, 1)
    # The weights are printed to 8 digits, the picture is float32.
    np.testing.assert_allclose(got, signal_luminance(xyz, settings), rtol=1e-6)


def test_the_meter_does_not_care_for_the_balance(settings):
    """A coloured thing keeps its exposure under any white balance."""
    red = np.array([30.0, 18.0, 2.0])[:, None, None]
    warm, cold = replace(settings, white_balance=3200), replace(settings, white_balance=9000)
    assert signal_luminance(red, warm) == signal_luminance(red, cold)
    assert not np.allclose(camera.expose(red, warm), camera.expose(red, cold), rtol=0.05)


def test_acescg_matrix_is_the_published_one():
    """The second row of ACEScg to XYZ holds the published luminance weights."""
    np.testing.assert_allclose(np.linalg.inv(acescg_from_xyz())[1], AP1_Y, atol=1e-8)


# check value 3.5: lux for a stop at 24 fps, 180°, C = 250.
@pytest.mark.parametrize(
    ("iso", "stop", "lux"), [(100, 2.8, 960), (100, 4, 1920), (800, 2, 60), (800, 2.8, 120)]
)
def test_the_working_light_is_the_published_one(settings, iso, stop, lux):
    """The light that meters at the working stop follows the ISO 2720 table."""
    exact = 2 * np.log2(stop)
    settings = replace(settings, iso=iso, stop=2 ** (round(exact) / 2))
    assert camera.working_illuminance(settings) == pytest.approx(lux, rel=1e-9)


def test_neutral_filters_ask_for_more_light(settings):
    """ND 0.6 loses 1.993 stops (check value 3.8), so the working light is so much more."""
    more = replace(settings, nd_density=0.6)
    ratio = camera.working_illuminance(more) / camera.working_illuminance(settings)
    assert np.log2(ratio) == pytest.approx(1.993, abs=5e-4)


def test_the_stop_a_meter_shows(settings):
    """1000 lx at ISO 800 and 1/48 s is T8.16 (check value 9.3), whatever the lens is set to."""
    assert camera.stop_of(1000, settings) == pytest.approx(8.16, abs=0.005)
    assert camera.stop_of(1000, replace(settings, stop=1.4)) == pytest.approx(8.165, abs=5e-4)
    # Two stops of neutral filter halve the number.
    filtered = replace(settings, nd_density=2 * np.log10(2))
    assert camera.stop_of(1000, filtered) == pytest.approx(8.165 / 2, abs=5e-4)
