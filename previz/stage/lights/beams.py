"""Lamps that throw a beam: ellipsoidal, Fresnel, open-face, parallel, big daylight, headlamp."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from previz.errors import SceneError
from previz.physics.framing import Shutters, framed
from previz.physics.headlamp import dipped_beam, full_beam
from previz.physics.profiles import flooding_angles, hard_edged, open_face_angles, soft_edged
from previz.scene.light import DaylightLamp, Ellipsoidal, Fresnel, Headlamp, OpenFace, ParallelBeam
from previz.stage import shapes
from previz.stage.lights.fixture import Beam, Fixture, Setting, beam_of, builds
from previz.stage.lights.fronts import fronted

FIELD_PER_BEAM = 1.6
"""Field angle over beam angle of a soft-edged beam where only the beam is given
(common practice, no source)."""

WIDEST_FIELD = 175.0
"""[deg]"""


def _barrel(radius: float, length: float, grown: float = 1.08) -> shapes.Triangles:
    """Return a closed barrel behind a lens, its rim a little proud of the glass."""
    return shapes.moved(shapes.frustum(radius * grown, radius * grown, length), [0, 0, -length])


def _round(light, setting: Setting, bare: Beam, housing, depth: float, **more) -> Fixture:
    """Return a lamp with a lens, and what `fronted` takes more of it."""
    radius = light.lens / 2
    return fronted(light, setting, setting.axes(light.turn), shapes.disc(radius), (radius, radius), bare,
                   housing, depth, **more)


@builds(Ellipsoidal)
def build_ellipsoidal(light: Ellipsoidal, setting: Setting) -> Fixture:
    """Build an ellipsoidal spot: a lens that throws a sharp-edged disc of light.

    The edge is sharp at the focus, by default where the lamp is aimed, and blurs before and
    behind by as much as the lens is wide. Iris and shutters cut the disc; the lumens stated are
    those of the lamp wide open.

    Raises
    ------
    SceneError
        Iris and shutters leave nothing.
    """
    throw = float(np.linalg.norm(setting.aim - setting.at))
    whole = beam_of(setting, hard_edged(light.field, light.edge))
    radius = light.lens / 2
    barrel = [_barrel(radius, 0.35), shapes.moved(_barrel(radius * 1.35, 0.25), [0, 0, -0.33])]
    return _round(light, setting, whole, barrel, 0.58, focus=light.focus or throw,
                  beam=_cut(light, whole) if setting.photometry is None else whole)


def _cut(light, beam: Beam) -> Beam:
    """Return the beam of an ellipsoidal after its iris and shutters."""
    blades = light.shutters
    shutters = None if blades is None else Shutters(
        top=blades.top, bottom=blades.bottom, left=blades.left, right=blades.right)
    if light.iris == 1 and shutters is None:
        return beam
    try:
        table, share = framed(beam.table, light.field, light.edge, iris=light.iris,
                              shutters=shutters)
    except ValueError as error:
        raise SceneError([light.where("shutters").problem(
            f"{light.label}: {error}", "Open the iris, or draw the shutters back.")]) from error
    return replace(beam, table=table, share=share)


def _angles(light, beam: float, field: float) -> tuple[float, float]:
    """Return beam and field angle: those of the flood unless they are written. [deg]"""
    if light.beam is not None:
        beam, field = light.beam, light.beam * FIELD_PER_BEAM
    if light.field is not None:
        field = light.field
        beam = light.beam or min(beam, field / FIELD_PER_BEAM)
    return beam, min(field, WIDEST_FIELD)


def _build_spot(light, setting: Setting, angles, case, depth: float) -> Fixture:
    """Build a lamp with a soft-edged beam of some beam and field angle [deg], and its case."""
    return _round(light, setting, beam_of(setting, soft_edged(*angles)), [case], depth)


@builds(Fresnel)
def build_fresnel(light: Fresnel, setting: Setting) -> Fixture:
    """Build a Fresnel spot: a round face with a smooth beam between spot and flood."""
    r = light.lens / 2
    case = shapes.box((-r * 1.15, -r * 1.25, -r * 2.4), (r * 1.15, r * 1.25, 0))
    return _build_spot(light, setting, _angles(light, *flooding_angles(light.flood)), case, r * 2.4)


@builds(OpenFace)
def build_open_face(light: OpenFace, setting: Setting) -> Fixture:
    """Build an open-face lamp: a shallow reflector's mouth with a wide smooth beam."""
    r = light.lens / 2
    case = shapes.box((-r * 1.1, -r * 1.1, -r * 1.2), (r * 1.1, r * 1.1, 0))
    angles = _angles(light, *open_face_angles(light.flood))
    return _build_spot(light, setting, angles, case, r * 1.2)


@builds(ParallelBeam)
def build_parallel_beam(light: ParallelBeam, setting: Setting) -> Fixture:
    """Build a lamp with a large mirror: a wide face with a narrow beam."""
    r = light.lens / 2
    angles = _angles(light, light.beam, light.beam * FIELD_PER_BEAM)
    return _build_spot(light, setting, angles, _barrel(r, r * 1.4, 1.05), r * 1.4)


@builds(DaylightLamp)
def build_daylight_lamp(light: DaylightLamp, setting: Setting) -> Fixture:
    """Build a big daylight source: a wide round face with a given beam."""
    r = light.lens / 2
    angles = _angles(light, light.beam, light.beam * FIELD_PER_BEAM)
    return _build_spot(light, setting, angles, _barrel(r, r * 2.2, 1.12), r * 2.2)


@builds(Headlamp)
def build_headlamp(light: Headlamp, setting: Setting) -> Fixture:
    """Build a car's headlamp; an output in cd, or lux, is that of its brightest direction."""
    own = dipped_beam(light.traffic) if light.beam == "dipped" else full_beam()
    beam = beam_of(setting, own)
    if setting.photometry is None:
        beam = replace(beam, peak=own.peak)
    r = light.lens / 2
    bowl = shapes.moved(shapes.frustum(r * 0.5, r * 1.1, r * 1.6), [0, 0, -r * 1.6])
    # Its brightest direction is not the middle of its beam.
    return replace(_round(light, setting, beam, [bowl], r * 1.6), ahead=None)
