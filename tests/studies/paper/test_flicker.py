"""Lines of lamps before cameras: what is stated, what is taken, what is advised."""

import pytest

from previz.plans.lines import LampLine
from previz.scene.camera import Camera
from previz.scene.lamp import Flicker, OwnSpectrum
from previz.scene.light import LIGHTS
from previz.scene.mains import Generator, Mains
from previz.scene.records import Target
from previz.scene.scene import Scene
from previz.studies.paper.flicker import flicker_lines


def camera(name="A", **more):
    aim = Target(point=(0, 1, 1))
    return Camera(name=name, at=(0, 0, 1), aim=aim, lens=0.035, stop=2.8, iso=800.0, **more)


def bulb(name="lamp", kind="bulb", **more):
    return LIGHTS[kind](name=name, at=(0, 0, 2), output=None, **more)


def line(light, hertz=50.0, **more):
    scene = Scene(mains=Mains(frequency=hertz), lights=(light,), cameras=(camera(**more),))
    found, = flicker_lines(scene, {"lamp": "7"})
    return found


TUBE = {"spectrum": "fluorescent"}


# Check value 3.6: 172.8° at 24 fps is 1/50 s, 144° 1/60 s; 180° at 25 fps 1/50 s.
@pytest.mark.parametrize(("hertz", "fps", "shutter", "risk", "words"), [
    (50, 24, 180, "pulse", "172.8° (1/50 s, -0.06 stops), or 25 fps at 180°"),
    (50, 24, 172.8, "none", ""), (50, 25, 180, "none", ""), (60, 24, 144, "none", ""),
    (60, 30, 180, "none", ""),
    (60, 24, 180, "bands", "216° (1/40 s, +0.26 stops), or 144° (1/60 s, -0.32 stops)"),
    (50, 25, 45, "bands", "90° (1/100 s, +1.00 stops)"),
    (50, 500, 180, "pulse", "no shutter at 500 fps is open for a whole ripple"),
    (50, 0.1, 180, "none", ""), (50, 50, 360, "none", ""),
])  # fmt: skip
def test_a_tube_on_a_magnetic_ballast(hertz, fps, shutter, risk, words):
    """By the mains' frequency, the rate and the shutter; what is safe has nothing to do."""
    found = line(bulb(**TUBE), hertz, fps=float(fps), shutter=float(shutter))
    assert found.risk == risk and found.advice.startswith(words)
    assert bool(found.advice) == (risk != "none")
    assert found.shutter == pytest.approx(shutter / 360 / fps)
    assert found.frequency == 2 * hertz and found.tag == "7" and found.fps == fps
    if risk != "none":
        assert "magnetic ballast, from memory" in found.advice


def test_what_is_stated_counts():
    """A depth of 0 % is steady at any shutter; a frequency of its own goes before the mains'."""
    steady = line(bulb(flicker=Flicker(depth=0.0), **TUBE), fps=24.0, shutter=11.0)
    assert (steady.risk, steady.depth, steady.swing, steady.advice) == ("none", 0, 0, "")
    quick = line(bulb(flicker=Flicker(depth=1.0, frequency=1000.0)), fps=24.0, shutter=20.0)
    # 24 fps at 20° is 1/432 s, 2.3 ripples; the nearest whole are two: 17.28°.
    assert quick.risk == "bands" and quick.frequency == 1000 and quick.advice.startswith("17.28° (1/500 s")
    assert line(bulb(flicker=Flicker(depth=1.0, frequency=20_000.0))).risk == "none"


def test_filaments():
    """A bulb is harmless at usual shutters and pulses at quick ones; large lamps less, dimmed ones more."""
    assert line(bulb(), fps=24.0).risk == "none"
    assert line(bulb(), fps=24.0, shutter=11.0).risk == "pulse"
    small, large = line(bulb(watts=60.0)), line(bulb(watts=5000.0))
    assert large.depth < small.depth and large.swing < small.swing
    assert line(bulb(dimmer=0.5)).depth == 2 * line(bulb()).depth
    told, = flicker_lines(Scene(lights=(bulb(),), cameras=(camera(),)),
                          lamps=[LampLine("1", "lamp", "bulb", (0, 0, 2), watts=5000.0)])
    assert told.depth == large.depth and told.tag == ""


def test_leds_are_not_known():
    """An LED's line says what to do, and how bad it were at twice the mains; a safe shutter is told so."""
    led = line(bulb(spectrum="led"), fps=24.0)
    assert (led.risk, led.depth, led.frequency) == ("unknown", 1.0, 100)
    assert "172.8°" in led.advice and "state its flicker" in led.advice and "from 2.2 kHz on" in led.advice
    safe = line(bulb(spectrum="led"), fps=25.0)
    assert safe.risk == "unknown" and safe.swing == 0
    assert "steady at 1/50 s if it follows the mains" in safe.advice
    # No lamp ripples slower than the mains: an exposure of a second is even for all.
    assert line(bulb(spectrum="led"), fps=0.5).risk == "none"


@pytest.mark.parametrize(("spectrum", "risk"), [
    (OwnSpectrum(cie="FL11"), "pulse"), (OwnSpectrum(cie="HP1"), "pulse"),
    (OwnSpectrum(cie="LED-B1"), "unknown"), (OwnSpectrum(warm=2700.0), "unknown"),
    ("metal halide", "pulse"), ("daylight", "unknown"),
    ("multi-emitter led", "unknown"), ("tungsten", "none"),
])  # fmt: skip
def test_what_makes_the_light(spectrum, risk):
    """Tubes and arcs by the CIE's tables or by name; LEDs of all sorts are unknown."""
    assert line(bulb(spectrum=spectrum), fps=24.0).risk == risk


def test_what_has_no_ripple():
    """Flames, and filaments on a battery."""
    assert line(bulb(kind="candle"), fps=24.0, shutter=5.0).risk == "none"
    headlamp = LIGHTS["headlamp"](name="lamp", at=(0, 0, 1), aim=Target(point=(0, 3, 1)), output=None,
                                  spectrum="tungsten")
    assert line(headlamp, fps=24.0, shutter=5.0).risk == "none"


def test_each_camera_has_each_lamp_that_is_lit():
    """Cameras in their order, lamps in theirs; what is off or at nothing is left out."""
    lights = (bulb("a"), bulb("off", on=False), bulb("zero", dimmer=0.0), bulb("b"))
    scene = Scene(lights=lights, cameras=(camera("B"), camera("A", fps=50.0)))
    assert [(each.camera, each.lamp) for each in flicker_lines(scene)] == [
        ("B", "a"), ("B", "b"), ("A", "a"), ("A", "b")]
    assert flicker_lines(Scene(lights=lights)) == ()


def test_a_generator_wanders():
    """A shutter that is safe at 50 Hz is not where a governor lets it go by 4 %; a steady lamp is."""
    scene = Scene(mains=Mains(generator=Generator(rating=20_000.0)), lights=(bulb("a", **TUBE), bulb(
        "b", flicker=Flicker(depth=1.0, frequency=20_000.0))), cameras=(camera(fps=25.0),))
    tube, led = flicker_lines(scene)
    # 96 Hz for 1/50 s are 1.92 ripples: 0.4 · |sin(1.92 pi)| / (1.92 pi) = 0.0165, 0.0476 stops.
    assert tube.risk == "pulse" and tube.swing == pytest.approx(0.0476, abs=2e-4)
    # 25 fps are whole at 100 Hz; at 96 Hz they are 4 Hz off.
    assert tube.beat == pytest.approx(4)
    assert "hold the generator at 50 Hz" in tube.advice and led.risk == "none"
