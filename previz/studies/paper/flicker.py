"""Which lamps flicker before which camera, and the shutter or the rate that evens it out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from previz.physics import flicker
from previz.physics.mains import FILAMENTS
from previz.plans.lines import FlickerLine, LampLine
from previz.scene.camera import Camera
from previz.scene.lamp import Light, OwnSpectrum
from previz.scene.scene import Scene

TUBES, ARCS = ("FL",), ("HP",)
"""How the CIE's names of fluorescent tubes, and of high-pressure lamps, begin (CIE 15:2018)."""


SMALL = 0.15
"""A safe angle that changes the exposure by no more is told alone. [stops]"""

NEAR = 0.1
"""A safe rate is told where it is within so much of what is set. [1]"""


def flicker_lines(scene: Scene, tags: Mapping[str, str] | None = None,
                  lamps: Sequence[LampLine] = ()) -> tuple[FlickerLine, ...]:
    """Return a line for each lamp that is lit before each camera, cameras in the order written.

    Ripples are taken as the lamps state them, or by what makes their light; those of LEDs are not known until
    they are stated: such a line has risk 'unknown', and the swing of light that goes out twice a cycle. On a
    generator the swing is the most while its frequency wanders.

    Parameters
    ----------
    scene : Scene
        With its option applied.
    tags : dict of str to str, optional
        Name -> number on the plan.
    lamps : sequence of LampLine
        Watts of filaments, where the scene does not state them.
    """
    watts = {each.name: each.watts for each in lamps if each.watts is not None}
    return tuple(_line(scene, camera, light, (tags or {}).get(light.name, ""), watts.get(light.name))
                 for camera in scene.cameras for light in scene.lights if light.on and light.dimmer > 0)


def source_of(light: Light) -> str:
    """Return what makes a lamp's light, as far as ripples go: a name of `previz.physics.flicker`."""
    spectrum = light.spectrum
    if isinstance(spectrum, OwnSpectrum):
        if spectrum.cie is not None and spectrum.cie.startswith(TUBES):
            return flicker.FLUORESCENT
        return flicker.DISCHARGE if spectrum.cie is not None and spectrum.cie.startswith(ARCS) else (
            flicker.ELECTRONIC)
    if spectrum in FILAMENTS:
        return flicker.FILAMENT
    return {"fluorescent": flicker.FLUORESCENT, "metal halide": flicker.DISCHARGE}.get(
        spectrum, flicker.ELECTRONIC)


def _ripple(light: Light, watts: float | None) -> flicker.Ripple:
    """Return how a lamp's light ripples."""
    if light.flicker is not None:
        return flicker.Ripple(light.flicker.depth, "as stated")
    source = source_of(light)
    if light.flame or (source == flicker.FILAMENT and not light.mains):
        return flicker.STEADY
    return flicker.usual_ripple(source, light.watts if watts is None else watts, dimmed=light.dimmer < 1)


def _line(scene: Scene, camera: Camera, light: Light, tag: str, watts: float | None) -> FlickerLine:
    ripple = _ripple(light, watts)
    stated = None if light.flicker is None else light.flicker.frequency
    frequency = 2.0 * scene.mains.frequency if stated is None else stated
    depth = 1.0 if ripple.depth is None else ripple.depth
    time = flicker.exposure_time(camera.fps, camera.shutter)
    # A light with a frequency of its own keeps that, whatever feeds it.
    drift = flicker.GENERATOR_DRIFT if stated is None and scene.mains.generator is not None else 0.0
    swing = flicker.stops_between(flicker.swing_within(depth, frequency, time, drift))
    found = flicker.risk(depth, frequency, camera.fps, camera.shutter, drift)
    held = f"; hold the generator at {scene.mains.frequency:g} Hz" if drift else ""
    advice = "" if found == "none" else _cure(camera, frequency) + held
    if ripple.depth is None and flicker.steady_from(time) > frequency:
        found, advice = "unknown", _unknown(camera, frequency, advice)
    elif ripple.depth is None:
        # No lamp ripples slower than the mains, and none so quick shows in so long an exposure.
        depth, swing, found, advice = 1.0, 0.0, "none", ""
    elif light.flicker is None and found != "none":
        advice = f"{advice}; taken for {ripple.source}"
    pulse = 0.0 if found == "none" else min(
        camera.fps / 2, flicker.beat(frequency, camera.fps) + drift * frequency)
    return FlickerLine(camera.name, light.name, tag, camera.fps, time, frequency, depth, swing, pulse, found,
                       advice)


def _cure(camera: Camera, frequency: float) -> str:
    """Return the nearest safe angles of a camera, and its nearest safe rate where that is near or all."""
    rate = flicker.nearest_rate(camera.fps, frequency, camera.shutter)
    rates = f"{_number(rate)} fps at {camera.shutter:g}°"
    angles = flicker.nearest_angles(camera.fps, frequency, camera.shutter)
    if not angles:
        return (f"no shutter at {_number(camera.fps)} fps is open for a whole ripple: a lamp that is steady, "
                f"or {rates}")
    changes = [math.log2(angle / camera.shutter) for angle in angles]
    ways = [f"{_number(angle)}° ({_time(flicker.exposure_time(camera.fps, angle))}"
            f"{f', {change:+.2f} stops' if abs(change) >= 0.005 else ''})"
            for angle, change in zip(angles, changes, strict=True)]
    if abs(changes[0]) <= SMALL:
        ways = ways[:1]
    if abs(rate / camera.fps - 1) <= NEAR:
        ways.append(rates)
    return ", or ".join(ways)


def _unknown(camera: Camera, frequency: float, cure: str) -> str:
    """Return what to do about a lamp of which nothing is known."""
    time = flicker.exposure_time(camera.fps, camera.shutter)
    least = flicker.steady_from(time)
    mains = f"if it follows the mains ({frequency:g} Hz): {cure}" if cure else (
        f"steady at {_time(time)} if it follows the mains ({frequency:g} Hz)")
    return (f"test it at the level it is used at, or state its flicker; {mains}; harmless from "
            f"{_frequency(least)} on")


def _number(value: float) -> str:
    """Return an angle or a rate to a tenth, finer where it is small."""
    return f"{value:.1f}".removesuffix(".0") if value >= 100 else f"{value:.4g}"


def _time(time: float) -> str:
    return f"1/{1 / time:.4g} s" if time < 1 else f"{time:.4g} s"


def _frequency(value: float) -> str:
    return f"{value / 1000:.2g} kHz" if value >= 1000 else f"{math.ceil(value):.0f} Hz"
