"""A camera's picture through its show file: by hand, by OpenColorIO on its own, and back."""

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import PyOpenColorIO
import pytest
import shows

from previz.errors import DataError
from previz.exposure import viewing
from previz.exposure.display import CONFIG, show, show_8bit
from previz.exposure.viewing import can_be_undone, held_apart, light_behind, seen_8bit
from previz.physics.exposure import CameraSettings
from previz.physics.viewing import ShowFile
from previz.scene.camera import ENCODINGS, SCREENS

PLAIN = CameraSettings(2.8, 800, 1 / 48)


def through(text, takes="acescct", gives="srgb", ending=".cube", decision=""):
    """Settings of a camera that looks through a file."""
    return replace(PLAIN, show=ShowFile("look", text.encode(), ending, takes, gives, decision))


def colours(count=400):
    """ACEScg from 8 stops under grey to 5 over, grey and coloured."""
    random = np.random.default_rng(7)
    return (0.18 * 2.0 ** random.uniform(-8, 5, (3, 1, count))).astype(np.float32)


def acescct(linear):
    """The curve of S-2016-001 (check value 6.10)."""
    linear = np.asarray(linear, float)
    return np.where(linear > 0.0078125, (np.log2(np.maximum(linear, 1e-9)) + 9.72) / 17.52,
                    10.5402377416545 * linear + 0.0729055341958355)


def bt709(linear):
    """The camera's curve of BT.709 (check value 6.11)."""
    linear = np.asarray(linear, float)
    return np.where(linear < 0.018, 4.5 * linear, 1.099 * np.maximum(linear, 1e-9) ** 0.45 - 0.099)


def codes(values):
    return np.round(np.clip(np.moveaxis(np.asarray(values, float), 0, -1), 0, 1) * 255)


def test_without_a_file_it_is_the_plain_view():
    """To the bit."""
    assert np.array_equal(seen_8bit(colours(), PLAIN), show_8bit(colours()))


def test_a_cube_of_two_steps_gives_back_what_it_is_fed():
    """What a file that changes nothing shows is the encoding itself."""
    picture = colours()
    assert acescct([0.18, 0.002]) == pytest.approx([0.413588, 0.093986], abs=1e-6)
    assert np.abs(seen_8bit(picture, through(shows.cube())) - codes(acescct(picture))).max() <= 1
    grey = np.full((3, 1, 2), 0.18) * [1, 0.01 / 0.18]
    assert bt709([0.18, 0.01]) == pytest.approx([0.409008, 0.045], abs=1e-6)
    assert np.abs(seen_8bit(grey, through(shows.cube(), "bt.709")) - codes(bt709(grey))).max() <= 1
    assert np.abs(seen_8bit(grey, through(shows.cube(), "acescg")) - codes(grey)).max() <= 1


@pytest.mark.parametrize("name", ENCODINGS)
def test_every_encoding_leads_there_and_back(name):
    """A file that changes nothing, between an encoding and itself, is the plain view."""
    assert set(viewing.SPACES) | {viewing.CAMERA_709} == set(ENCODINGS)
    assert {viewing.SRGB, viewing.BT1886} == set(SCREENS)
    # Held to what a table of 0 to 1 lets through, and to colours that all the encodings have.
    picture = np.broadcast_to(0.18 * 2.0 ** np.linspace(-6, 2.4, 60), (3, 1, 60)).astype(np.float32)
    found = seen_8bit(picture, through(shows.cube(), name, name)).astype(int)
    assert np.abs(found - show_8bit(picture)).max() <= 1


def test_a_bt1886_screen_is_made_an_srgb_one():
    """Code 0.5 of L = V^2.4 is code 0.4725 of sRGB (check value 6.12)."""
    def even(code):
        return shows.cube(made=lambda r, g, b: (code, code, code))

    made = through(even(0.5), gives="bt.1886")
    assert np.all(seen_8bit(colours(4), made) == round(0.4725 * 255))
    assert np.all(seen_8bit(colours(4), through(even(0.502))) == 128)


def test_a_decision_is_the_formula_in_acescct():
    """ASC CDL by hand on hand-made ACEScct (check value 6.9), then the plain view."""
    picture = np.array([0.5, 0.4, 0.3])
    # The ACEScg whose ACEScct is (0.5, 0.4, 0.3).
    light = 2.0 ** (17.52 * picture - 9.72)
    out = np.array([0.455244, 0.401804, 0.344376])
    graded = 2.0 ** (17.52 * out - 9.72)
    settings = through(shows.CDL, gives="acescct", ending=".ccc", decision="evening")
    found = seen_8bit(light[:, None, None], settings).astype(int)
    assert np.abs(found - show_8bit(graded[:, None, None])).max() <= 1
    assert np.abs(found - show_8bit(light[:, None, None]).astype(int)).max() > 5
    neutral = through(shows.CDL, gives="acescct", ending=".ccc", decision="plain")
    assert np.abs(seen_8bit(colours(), neutral).astype(int) - show_8bit(colours())).max() <= 1


def test_a_decision_holds_light_beyond_one():
    """ACEScct above 1 and below 0 is not cut off (check value 6.10), as the formula of ASC CDL 1.2 would."""
    show = through(shows.CDL, gives="acescct", ending=".ccc", decision="plain").show
    pixels = np.array([[[1.2, 1.1, -0.1]]], np.float32)
    with show.on_disk() as path:
        transform = PyOpenColorIO.FileTransform(src=str(path), cccId="plain")
        viewing.processor_of(transform).getDefaultCPUProcessor().applyRGB(pixels)
    assert pixels.ravel() == pytest.approx([1.2, 1.1, -0.1], abs=1e-6)


def test_a_cube_is_what_the_library_makes_of_it(tmp_path):
    """Step by step with OpenColorIO's own colour spaces and table, a cube with all channels mixed."""
    def mixed(r, g, b):
        return (r**1.3 * 0.9 + 0.05 * b, 0.8 * g + 0.1 * r * r, 0.5 * b + 0.3 * g + 0.05)

    (tmp_path / "mixed.cube").write_text(shows.cube(9, mixed), encoding="utf-8")
    picture = colours()
    pixels = np.moveaxis(picture, 0, -1).astype(np.float32).copy()
    config = PyOpenColorIO.Config.CreateFromBuiltinConfig(CONFIG)
    for step in (config.getProcessor("ACEScg", "ACEScct"), config.getProcessor(PyOpenColorIO.FileTransform(
            src=str(tmp_path / "mixed.cube"), interpolation=PyOpenColorIO.INTERP_TETRAHEDRAL))):
        step.getDefaultCPUProcessor().applyRGB(pixels)
    found = seen_8bit(picture, through(shows.cube(9, mixed)))
    assert np.abs(found - np.round(np.clip(pixels, 0, 1) * 255)).max() <= 1
    # And near the function itself, which is smooth.
    exact = np.stack(mixed(*acescct(picture)))
    assert np.abs(found / 255 - np.moveaxis(exact, 0, -1)).max() < 0.01


def test_a_common_lut_works_too():
    """1 - x of ACEScct."""
    found = seen_8bit(colours(), through(shows.OVER, ending=".clf"))
    assert np.abs(found - codes(1 - acescct(colours()))).max() <= 1


def test_latitude_comes_before_the_file():
    """What clips is fed as it clips."""
    settings = replace(through(shows.cube()), over=3.0, under=5.0)
    picture = np.array([[50.0, 0.18, 0.18 / 40]] * 3)[:, None]
    expected = codes(acescct([[0.18 * 8, 0.18, 0.0]] * 3)[:, None])
    assert np.abs(seen_8bit(picture, settings) - expected).max() <= 1
    assert np.array_equal(seen_8bit(picture, replace(PLAIN, over=3.0)),
                          show_8bit(np.minimum(picture, np.float32(1.44))))


def test_other_content_under_the_same_name_is_another_picture():
    """The library keeps files by their paths; a file that was written anew is read anew."""
    dark = through(shows.cube(made=lambda r, g, b: (0.1, 0.1, 0.1)))
    light = through(shows.cube(made=lambda r, g, b: (0.9, 0.9, 0.9)))
    assert seen_8bit(colours(3), dark).max() < seen_8bit(colours(3), light).min()


def test_a_file_that_was_not_looked_over_is_refused_in_words():
    """No exception of the library gets out."""
    with pytest.raises(DataError, match="the file 'look' cannot be put on a picture"):
        seen_8bit(colours(3), through("nothing"))


def test_show_gives_codes_between_0_and_1():
    """A table may give anything."""
    wild = through(shows.cube(made=lambda r, g, b: (5.0, -3.0, g)))
    found = seen_8bit(colours(5), wild)
    assert np.all(found[..., 0] == 255) and np.all(found[..., 1] == 0)
    assert show(colours(5)).max() <= 1


def test_light_is_told_from_what_a_decision_shows():
    """There and back within what a code is of the light; a table cannot be undone."""
    settings = through(shows.CDL, gives="acescct", ending=".ccc", decision="evening")
    picture = np.broadcast_to(0.18 * 2.0 ** np.linspace(-3, 2, 40), (3, 1, 40)).astype(np.float32)
    assert can_be_undone(settings) and can_be_undone(PLAIN)
    still = seen_8bit(picture, settings)
    found = np.moveaxis(light_behind(still / 255, settings), -1, 0)
    # A code of 8 bits is a sixth of a stop three under grey, and a fortieth two over.
    off = np.abs(np.log2(found / picture)).max(axis=0).ravel()
    assert off.max() < 0.2 and off[-10:].max() < 0.03
    assert np.abs(seen_8bit(found, settings).astype(int) - still).max() <= 1
    assert not can_be_undone(through(shows.cube()))
    with pytest.raises(ValueError, match="cannot be undone"):
        light_behind(np.zeros((1, 1, 3)), through(shows.cube()))


def test_what_is_at_an_end_of_the_latitude_is_known():
    """Clipped channel by channel; dark, with the last stop before it, all channels at once."""
    settings = replace(PLAIN, over=3.0, under=5.0)
    picture = np.array([[[9.0, 0.18, 0.18], [0.18, 0.18, 0.18], [0.007, 0.007, 0.007]]])
    held = np.moveaxis(viewing.within(np.moveaxis(picture, -1, 0), settings), 0, -1)
    below, above = held_apart(held, settings)
    assert below.tolist() == [[[False, True, True], [True] * 3, [True] * 3]]
    assert above.tolist() == [[[True] * 3, [True] * 3, [False] * 3]]


def test_the_look_of_the_engine_shed_is_as_it_is_made():
    """The file that lies there is what its maker writes."""
    folder = Path(__file__).parents[2] / "scenes" / "looks"
    spec = importlib.util.spec_from_file_location("make_late_shift", folder / "make_late_shift.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    assert (folder / "late-shift.cube").read_text(encoding="utf-8") == made.cube()
