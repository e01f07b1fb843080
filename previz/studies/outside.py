"""A lamp that is put where a light has to come from: its place, aim, beam, light and colour, metered.

It stands in for the sun at an hour (`times`), or makes a shot's key that of another (`match_lamp`). Place
and beam follow from geometry; its light is then metered on the face and set by what the meter says, since
light is proportional to it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from previz.deliver.wording import lux_text
from previz.errors import RequestError
from previz.exposure.comparing.day import FIXTURE_EFFICACY
from previz.exposure.falsecolour import signed
from previz.exposure.metering import Measured, mix
from previz.physics.colourtemp import cct_duv, xy_from_xyz
from previz.physics.rays import rectangle_reach
from previz.physics.safety import Caution
from previz.rendering.job import StageJob
from previz.rendering.metering import Effort, StageMeters
from previz.rendering.request import Request
from previz.scene.light import DaylightLamp, Fresnel, Light, Output, ParallelBeam, SoftBox
from previz.scene.records import Target
from previz.scene.room import Room
from previz.scene.scene import Scene
from previz.stage.bodies import lit_by
from previz.stage.build import build_stage
from previz.stage.lights.output import lumens_alone
from previz.stage.records import Guide, Stage
from previz.studies.result import Row, row

OFF_WALL = 0.3
"""A lamp inside stands so far off walls and ceiling, for its body. [m]  Common practice, no source."""

NEAREST = 0.6
"""No lamp is put nearer to a face. [m]  Common practice, no source."""

FLOOR = 0.15
"""Nor its middle nearer to the floor. [m]  Common practice, no source."""

ROUND_THE_FACE = 1.0
"""A lamp without an opening to fill lights so much to each side of the face. [m]  Common practice, no
source."""

SLENDER, WIDE = 4.0, 110.0
"""Narrowest and widest beam that it is given. [deg]  Common practice, no source."""

SMALL = 0.5
"""From this width on a source is a soft one. [m]  Common practice, no source."""

ON_A_STAND, ON_A_TOWER = 4.0, 12.0
"""A high stand holds a lamp up to the first height, a scaffold tower to the second; above it takes a
lift. [m]  Common practice, no source."""

PRECISION = 0.01
"""Relative standard error to which the lamp is metered, where no finer one is requested. [1]"""

SECONDS = 60.0
"""It is metered for no longer. [s]"""

HINDERED = 0.3
"""Where less than this of the light that should come straight arrives, something is in its way. [1]"""


@dataclass(frozen=True, eq=False)
class AddedLamp:
    """A lamp in its place, and the scene with it.

    Parameters
    ----------
    scene : Scene
        With the lamp, and without what it stands in for.
    light : Light
        As it is written in that scene.
    instead : str
        What it stands in for, in words.
    opening : str
        That it shines through; '' for none.
    throw : float
        From the lamp to the opening; to the face without one. [m]
    distance : float
        From the lamp to the face, or to the opening where no face is lit by it. [m]
    meter : str
        Where it was metered; '' for nowhere.
    wanted, given : Measured or None
        What it should give there and what it gives. [lx]
    cautions : tuple of Caution
        That the scene with it calls for.
    """

    scene: Scene
    light: Light
    instead: str
    opening: str
    throw: float
    distance: float
    meter: str
    wanted: Measured | None
    given: Measured | None
    cautions: tuple[Caution, ...]

    @property
    def beam(self) -> float | None:
        """Full angle to half of the middle's intensity; None for a soft lamp. [deg]"""
        return getattr(self.light, "beam", None)

    @property
    def lumens(self) -> float:
        """All its light. [lm]"""
        assert self.light.output is not None
        return self.light.output.value

    @property
    def intensity(self) -> float:
        """In the middle of its beam. [cd]"""
        return self.lumens / lumens_alone(replace(self.light, output=Output(value=1.0, unit="cd")))

    @property
    def watts(self) -> float:
        """Of the order of what it draws. [W]"""
        return self.lumens / FIXTURE_EFFICACY

    @property
    def how_many(self) -> int:
        """How many of the strongest of its kind give as much."""
        return int(np.ceil(self.lumens / self.light.usual.lumens[1]))

    def words(self) -> list[str]:
        """Return what it is, where it stands, what holds it and what it was metered at, a line each."""
        at, light = self.light.at, self.light
        size = getattr(light, "size", None)
        face = f"{size[0]:g} x {size[1]:g} m" if size else f"beam {self.beam:.0f}°"
        through = f"{self.throw:.1f} m outside '{self.opening}'" if self.opening else (
            f"{self.distance:.1f} m from the face")
        lines = [f"'{light.name}', for {self.instead}: {light.kind}, {face}, {_thousands(self.lumens)} lm at "
                 f"{light.cct:.0f} K, {through}, at x {at[0]:.2f}, y {at[1]:.2f}, z {at[2]:.2f} m, "
                 f"aimed at {light.aim}.",
                 f"It stands {at[2]:.1f} m over the floor: {lifted(at[2])}."]
        if self.how_many > 1:
            most = light.usual.lumens[1]
            lines.append(f"No single {light.kind} gives so much: {self.how_many} of {_thousands(most)} lm "
                         f"side by side, or one and {np.log2(self.lumens / most):.1f} stops less.")
        if self.wanted is not None and self.given is not None:
            off = np.log2(self.given.value / self.wanted.value)
            if self.opening:
                fall = 2 * np.log2(self.distance / self.throw)
                lines.append(f"From '{self.opening}' to the face its light falls by {fall:.1f} stops more, "
                             "which it makes up for; sunlight would not fall.")
            lines.append(f"Metered at {self.meter}: {lux_text(self.given.value)} lx of "
                         f"{lux_text(self.wanted.value)} lx wanted of it, {signed(off, 2)} stops.")
        elif self.opening:
            lines.append(f"{self.instead[:1].upper()}{self.instead[1:]} is not on the face: the lamp gives "
                         f"'{self.opening}' the level that it has there.")
        return lines

    def rows(self, **of: str) -> list[Row]:
        """Return its numbers as rows."""
        of = {**of, "lamp": self.light.name}
        across, deep, up = self.light.at
        rows = [row("added_lamp_kind", self.light.kind, **of), row("added_lamp_x", across, **of),
                row("added_lamp_y", deep, **of), row("added_lamp_z", up, **of),
                row("added_lamp_distance", self.distance, **of), row("lamp_flux", self.lumens, **of),
                row("added_lamp_intensity", self.intensity, **of),
                row("added_lamp_cct", self.light.cct, **of),
                row("added_lamp_load", self.watts, **of), row("added_lamp_number", self.how_many, **of)]
        if self.beam is not None:
            rows.append(row("added_lamp_beam", self.beam, **of))
        if self.wanted is not None and self.given is not None:
            rows += [row("added_lamp_wanted", self.wanted.value, self.wanted.paths, meter=self.meter, **of),
                     row("added_lamp_gives", self.given.value, self.given.paths, meter=self.meter, **of)]
        return rows


def _thousands(value: float) -> str:
    return f"{float(f'{value:.3g}'):,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}")


def lifted(height: float) -> str:
    """Return what holds a lamp at a height over the floor [m], in words.

    Source: common practice, no source.
    """
    if height < 1.0:
        return "a low stand or the floor"
    if height <= ON_A_STAND:
        return "a stand that is rated for its weight, weighed down"
    if height <= ON_A_TOWER:
        return "a scaffold tower or a platform lift, by licensed hands"
    return "a boom lift or a crane, by licensed hands, and only where the wind allows"


# Where it stands


def opening_towards(stage: Stage, point: np.ndarray, towards: np.ndarray) -> tuple[Guide, float] | None:
    """Return the opening that a line from a point leaves by, and how far it is [m]; None for none.

    Places are in m, `towards` is a unit vector.
    """
    found = []
    for guide in (each for each in stage.guides if each.opening):
        reach, inside = rectangle_reach(point, towards[None], guide.centre, guide.half_u, guide.half_v)
        if inside[0]:
            found.append((guide, float(reach[0])))
    return min(found, key=lambda each: each[1]) if found else None


def wall_reach(room: Room, point: np.ndarray, towards: np.ndarray) -> float:
    """Return how far a line from a point inside a room goes until it meets a wall or the ceiling. [m]"""
    low = np.array([0.0, 0.0, -np.inf])
    high = np.array([*room.size[:2], room.size[2] if room.ceiling else np.inf])
    with np.errstate(divide="ignore", invalid="ignore"):
        ends = np.where(towards == 0, np.inf, (np.where(towards > 0, high, low) - point) / towards)
    return float(ends.min())


def place_along(scene: Scene, stage: Stage, face: np.ndarray, towards: np.ndarray, throw: float,
                inside: float) -> tuple[np.ndarray, Guide | None]:
    """Return where a lamp stands whose light comes to a face from a direction, and the opening it uses.

    Outside an opening that the line leaves by, `throw` from it; else `inside` from the face, or as far as
    there is room for it. [m]

    Raises
    ------
    RequestError
        There is no room for it.
    """
    found = opening_towards(stage, face, towards)
    if found is not None:
        return face + towards * (found[1] + throw), found[0]
    reach = inside
    if scene.room is not None:
        reach = min(reach, wall_reach(scene.room, face, towards) - OFF_WALL)
    if towards[2] < 0:
        reach = min(reach, (face[2] - FLOOR) / -towards[2])
    if reach < NEAREST:
        raise RequestError(f"There is no room for a lamp there: {max(reach, 0):.1f} m from the face is a "
                           "wall or the floor.", "Turn the figure or the camera, or open the wall.")
    return face + towards * reach, None


def beam_over(at: np.ndarray, aim: np.ndarray, opening: Guide | None) -> float:
    """Return the full angle about a lamp's axis that just fills an opening, or what is round a face. [deg]"""
    axis = (aim - at) / np.linalg.norm(aim - at)
    if opening is None:
        half = np.arctan2(ROUND_THE_FACE, np.linalg.norm(aim - at))
    else:
        corners = np.array([opening.centre + a * opening.half_u + b * opening.half_v
                            for a in (-1, 1) for b in (-1, 1)]) - at
        half = np.arccos(np.clip(corners @ axis / np.linalg.norm(corners, axis=1), -1, 1)).max()
    return float(np.clip(2 * np.degrees(half), SLENDER, WIDE))


# What it is


def free_name(scene: Scene, name: str) -> str:
    """Return a name that nothing in a scene has."""
    taken = {each.name for each in scene.all_items()}
    return next(each for each in (name, *(f"{name} {number}" for number in range(2, 999)))
                if each not in taken)


def focused(name: str, at: np.ndarray, aim: Target, *, intensity: float, beam: float, cct: float,
            duv: float = 0.0) -> Light:
    """Return a lamp with a beam, of the kind that usually gives so much in so narrow a beam.

    `intensity` is that in the middle of its beam [cd].
    """
    common: dict[str, Any] = {
        "name": name, "at": _rounded(at, 2), "aim": aim, "cct": round(cct, -1), "duv": round(duv, 4),
        "beam": round(beam, 1), "output": Output(value=intensity, unit="cd")}
    big = DaylightLamp(**common)
    lumens = lumens_alone(big)
    if beam <= 10.0 and lumens <= ParallelBeam.usual.lumens[1]:
        light: Light = ParallelBeam(**common)
    elif lumens < DaylightLamp.usual.lumens[0]:
        light = Fresnel(**common, spectrum="led")
    else:
        light = big
    return in_lumens(light)


def soft(name: str, at: np.ndarray, aim: Target, *, intensity: float, width: float, cct: float,
         duv: float = 0.0) -> Light:
    """Return a soft box of a width [m] that gives so much straight ahead. [cd]"""
    side = round(width, 2)
    return in_lumens(SoftBox(name=name, at=_rounded(at, 2), aim=aim, cct=round(cct, -1), duv=round(duv, 4),
                             size=(side, side), output=Output(value=intensity, unit="cd")))


def _rounded(point: np.ndarray, digits: int) -> tuple[float, float, float]:
    x, y, z = (round(float(each), digits) for each in point)
    return x, y, z


def in_lumens(light: Light, times: float = 1.0) -> Light:
    """Return a lamp with its output in lumens, so many times what it is, to four figures."""
    return replace(light, output=Output(value=float(f"{times * lumens_alone(light):.4g}")))


def colour_of(xyz: np.ndarray) -> tuple[float, float]:
    """Return correlated colour temperature [K] and Duv of a light, within what a lamp may be given.

    Raises
    ------
    RequestError
        No lamp is of that colour.
    """
    try:
        cct, duv = cct_duv(xy_from_xyz(xyz))
    except ValueError:
        raise RequestError("The light that is missing has a colour that no white lamp has.",
                           "Bring the other lamps nearer to the first shot's colour first.") from None
    return float(np.clip(cct, 1600.0, 25_000.0)), float(np.clip(duv, -0.05, 0.05))


# What it gives


def metered(scene: Scene, light: Light, meter: str, request: Request) -> tuple[Measured, float]:
    """Return what a lamp of a scene alone gives at a meter [lx], and how much of that straight [1]."""
    alone = lit_by(build_stage(scene), (light.name,))
    job = StageJob(alone, request.meter_order())
    gathered = StageMeters(job).incident(Effort(min(request.precision, PRECISION), SECONDS), (meter,))
    job.close()
    found = mix(gathered, alone.lamps)[meter]
    whole = found.light()
    straight = found.light(part=0).value / whole.value if whole.value > 0 else 0.0
    return whole, straight


def fitted(scene: Scene, light: Light, *, meter: str, wanted: Measured, straight: float,
           request: Request) -> tuple[Light, Measured]:
    """Return a lamp with the output that gives a meter what is wanted of it, and what it gives.

    Parameters
    ----------
    scene : Scene
        Without the lamp.
    light : Light
        With the output that should do by geometry.
    meter : str
    wanted : Measured
        [lx]
    straight : float
        What of it should come straight. [lx]
    request : Request

    Raises
    ------
    RequestError
        Something stands between the lamp and the meter.
    """
    with_it = replace(scene, lights=(*scene.lights, light))
    found, share = metered(with_it, light, meter, request)
    if found.value * share < HINDERED * straight:
        raise RequestError(
            f"A lamp at x {light.at[0]:.2f}, y {light.at[1]:.2f}, z {light.at[2]:.2f} m does not reach "
            f"{meter}: {found.value * share:.3g} lx of {straight:.3g} lx come straight.",
            "Something stands in its way. Write another --throw, or take it out of the way.")
    by = wanted.value / found.value
    fit = in_lumens(light, by)
    # To four figures, as it is written.
    by = fit.output.value / light.output.value  # type: ignore[union-attr]
    return fit, Measured(found.value * by, found.error * by, found.bands * by)
