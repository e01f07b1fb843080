"""Measured lamps: intensity against direction as a photometric laboratory tabulates it.

A file counts its angles in one of three systems. All become a table about the lamp's beam: theta
from the beam's axis, phi counter-clockwise for whoever the lamp shines at, from the lamp's left
(seen from behind it) over its top.

- Type C (and EULUMDAT): vertical angles from straight down, the axis of the beam; planes C counted
  counter-clockwise seen from above. With the lamp hanging straight down, C 0 lies to the east, C
  90 to the north. Tilted up to shine north, C 0 is to its right, C 90 up.
- Type B: planes share the horizontal axis across the lamp. V is the tilt of the plane, plus
  upwards; H lies within it, plus to the right.
- Type A: planes share the vertical axis. H turns them, plus to the right; V is the height, plus
  upwards. In both the axis of the beam is H 0, V 0.

Source: ANSI/IESNA LM-63-02, section 3 (definitions of photometric zero, photometric horizontal,
and the sense of horizontal angles; opening pages read), CIE 121 as quoted for EULUMDAT. That C 90
and not C 0 is the lamp's upper side is our own choice; the files leave it open.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray
from previz.physics.beam import AngularTable
from previz.physics.text_file import TextFileError

FINEST_STEP = 0.05
"""Finest step of theta to which a type A or B file is put on the beam's own angles. [deg]"""

AZIMUTH_STEP = 1.0
"""Step of phi of such a table. [deg]"""


NO_BEAM = "its angles and planes cannot be put together to one beam"
"""What is said of a file whose numbers are each right."""

LEAST_LUMENS, GREATEST_LUMENS = 1e-6, 1e9
"""Of a lamp, as a scene may write it too. [lm]"""

GREATEST_WATTS = 1e6
"""As a scene may write it too. [W]"""


def lit(table: AngularTable) -> tuple[float, AngularTable]:
    """Return the lumens of a file's intensities, and its table at one lumen.

    Raises
    ------
    TextFileError
        They are no amount of light that a lamp gives.
    """
    lumens = table.flux()
    if not table.peak > 0:
        raise TextFileError(0, "all of its intensities are 0")
    if not LEAST_LUMENS <= lumens <= GREATEST_LUMENS:
        raise TextFileError(0, f"its intensities make {lumens:.3g} lm in all")
    return lumens, table.normalised()


def drawn(watts: float) -> float | None:
    """Return a file's watts, None where it says 0 or less. [W]

    Raises
    ------
    TextFileError
        No lamp draws as much.
    """
    if watts > GREATEST_WATTS:
        raise TextFileError(0, f"the lamp draws {watts:g} W by it")
    return watts if watts > 0 else None


@dataclass(frozen=True, eq=False)
class Photometry:
    """What a photometric file says of a lamp.

    Parameters
    ----------
    table : AngularTable
        Intensity of one lumen, about the beam.
    lumens : float
        Integral of the file's intensities. [lm]
    watts : float or None
        Power drawn; None where the file says 0. [W]
    size : (float, float, float)
        Width, length and height of the luminous opening; 0 where there is none. [m]
    round : bool
        True where the opening is round.
    tilt_deg, tilt_factor : float array, shape (n,)
        What the light is multiplied by when the luminaire is tilted from straight down. [deg, 1]
    """

    table: AngularTable
    lumens: float
    watts: float | None = None
    size: tuple[float, float, float] = (0.0, 0.0, 0.0)
    round: bool = False
    tilt_deg: np.ndarray = field(default_factory=lambda: np.zeros(1))
    tilt_factor: np.ndarray = field(default_factory=lambda: np.ones(1))

    def at_tilt(self, angle_deg: float) -> float:
        """Return the lumens of the luminaire tilted from straight down. [lm]"""
        return self.lumens * float(np.interp(angle_deg, self.tilt_deg, self.tilt_factor))


def halves(table: AngularTable) -> tuple[tuple[AngularTable, float], tuple[AngularTable, float]]:
    """Return what a beam sends ahead, and what it sends back, each with its share of the lumens.

    The second table counts theta from straight back; phi as the first. Each is at one lumen, or
    dark where its share is 0.
    """
    parts = []
    for keep, turn in ((table.theta_deg < 90, False), (table.theta_deg > 90, True)):
        theta = table.theta_deg[keep]
        values = table.values[keep]
        if table.theta_deg[-1] >= 90:
            middle = table.intensity(90.0, table.phi_deg)[None]
            theta = np.append(90.0, theta) if turn else np.append(theta, 90.0)
            values = np.concatenate([middle, values] if turn else [values, middle])
        if turn:
            theta, values = 180.0 - theta[::-1], values[::-1]
            if theta.size and theta[0] > 0:
                # The file ends before straight back.
                theta = np.concatenate([[0.0, theta[0] * (1 - 1e-6)], theta])
                values = np.concatenate([np.zeros((2, values.shape[1])), values])
        if theta.size < 2:
            theta, values = np.array([0.0, 90.0]), np.zeros((2, table.phi_deg.size))
        half = AngularTable(theta, table.phi_deg, values)
        flux = half.flux()
        parts.append((half.normalised() if flux > 0 else half, flux / table.flux()))
    return parts[0], parts[1]


def table_from_planes(vertical_deg: ArrayLike, c_deg: ArrayLike, candela: ArrayLike) -> AngularTable:
    """Return the beam of a type C file.

    Parameters
    ----------
    vertical_deg : float array, shape (n,)
        Rising angles within 0 to 180, 0 along the beam. [deg]
    c_deg : float array, shape (m,)
        Rising planes. One: the same all round. From 0 to 90: the same in each quadrant; from 0 to
        180, or from 90 to 270: mirrored in its first and last plane; else all round, the last
        plane being the first again or not.
    candela : float array, shape (m, n)
        [cd]

    Returns
    -------
    AngularTable
        In candela, not in candela for each lumen.

    Raises
    ------
    TextFileError
        The planes cover another part of the circle.
    """
    theta = np.asarray(vertical_deg, float)
    candela = np.asarray(candela, float)
    if theta[0] > 0:
        # Nothing below the first angle: an uplight's table begins at 90.
        theta = np.concatenate([[0.0, theta[0] * (1 - 1e-6)], theta])
        candela = np.concatenate([np.zeros((len(candela), 2)), candela], axis=1)
    if len(candela) == 1:
        return AngularTable(theta, np.zeros(1), candela.T)
    c, rows = _whole_circle(np.asarray(c_deg, float), candela)
    # phi 0 is C 180: a plane must stand there.
    if not np.any(np.isclose(c, 180.0)):
        at = int(np.searchsorted(c, 180.0))
        share = (180.0 - c[at - 1]) / (c[at] - c[at - 1])
        row = rows[at - 1] * (1 - share) + rows[at] * share
        c, rows = np.insert(c, at, 180.0), np.insert(rows, at, row, axis=0)
    phi = np.mod(180.0 - c[:-1], 360.0)
    order = np.argsort(phi)
    phi = np.concatenate([phi[order], [360.0]])
    phi[0] = 0.0
    values = rows[:-1][order]
    return AngularTable(theta, phi, np.concatenate([values, values[:1]]).T)


def _whole_circle(c: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return planes from 0 to 360, both given, and their intensities."""
    first, last = float(c[0]), float(c[-1])
    if first == 0 and last == 90:
        c, rows = _mirrored(c, rows)
        c, rows = _mirrored(c, rows)
    elif first == 0 and last == 180:
        c, rows = _mirrored(c, rows)
    elif first == 90 and last == 270:
        c, rows = _mirrored(c, rows)
        c, rows = _turned(c[:-1], rows[:-1])
    elif first == 0 and 180 < last <= 360:
        if last < 360:
            c, rows = np.append(c, 360.0), np.concatenate([rows, rows[:1]])
    else:
        raise TextFileError(
            0, f"its planes run from {first:g} to {last:g} deg, and should from 0 to 0, 90, 180 or 360, or "
               "from 90 to 270"
        )
    return c, rows


def _mirrored(c: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return planes and their mirror images in the last of them."""
    return (np.concatenate([c, 2 * c[-1] - c[-2::-1]]), np.concatenate([rows, rows[-2::-1]]))


def _turned(c: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return planes all round, given once each from any start, from 0 to 360."""
    c = np.mod(c, 360.0)
    order = np.argsort(c)
    c, rows = c[order], rows[order]
    if c[0] > 0:
        share = c[0] / (c[0] + 360 - c[-1])
        c = np.concatenate([[0.0], c])
        rows = np.concatenate([[rows[0] * (1 - share) + rows[-1] * share], rows])
    return np.append(c, 360.0), np.concatenate([rows, rows[:1]])


def table_from_globe(kind: str, vertical_deg: ArrayLike, horizontal_deg: ArrayLike,
                     candela: ArrayLike) -> AngularTable:
    """Return the beam of a type A or B file, put on angles about the beam.

    Parameters
    ----------
    kind : str
        'A' or 'B'.
    vertical_deg, horizontal_deg : float array, shape (n,) and (m,)
        Rising angles, at most -90 to 90 (type A: H to ±180); where one begins at 0, the other
        side is its mirror image. [deg]
    candela : float array, shape (m, n)
        [cd]

    Returns
    -------
    AngularTable
        In candela.

    Limits
    ------
    That vertical angles which begin at 0 are mirrored is our reading; LM-63 says so only of
    horizontal ones.
    """
    up, across = np.asarray(vertical_deg, float), np.asarray(horizontal_deg, float)
    values = np.asarray(candela, float).T
    if up[0] == 0 and len(up) > 1:
        up, values = np.concatenate([-up[:0:-1], up]), np.concatenate([values[:0:-1], values])
    if across[0] == 0 and len(across) > 1:
        across = np.concatenate([-across[:0:-1], across])
        values = np.concatenate([values[:, :0:-1], values], axis=1)
    steps = [np.diff(each).min() for each in (up, across) if len(each) > 1]
    step = float(np.clip(min(steps, default=1.0) / 2, FINEST_STEP, 1.0))
    reach = np.hypot(np.abs(up).max(), np.abs(across).max())
    last = float(min(180.0, max(reach, step)))
    theta = np.linspace(0.0, last, int(np.ceil(last / step)) + 1)
    phi = np.linspace(0.0, 360.0, int(round(360 / AZIMUTH_STEP)) + 1)
    a, p = np.radians(theta)[:, None], np.radians(phi)[None, :]
    right, high, ahead = -np.sin(a) * np.cos(p), np.sin(a) * np.sin(p), np.cos(a) + 0 * p
    if kind == "B":
        turn, along = np.degrees(np.arctan2(high, ahead)), np.degrees(np.arcsin(np.clip(
            right, -1, 1)))
        return AngularTable(theta, phi, _bilinear(up, across, values, turn, along))
    turn, along = np.degrees(np.arctan2(right, ahead)), np.degrees(np.arcsin(np.clip(high, -1, 1)))
    return AngularTable(theta, phi, _bilinear(up, across, values, along, turn))


def _bilinear(rows_at: FloatArray, columns_at: FloatArray, values: FloatArray, row: FloatArray,
              column: FloatArray) -> FloatArray:
    """Return a table between its points, 0 outside them (one row or column: the same all over)."""
    result: FloatArray = np.zeros(row.shape)
    inside = np.ones(row.shape, bool)
    parts = []
    for at, place in ((rows_at, row), (columns_at, column)):
        if len(at) == 1:
            parts.append((np.zeros(place.shape, int), np.zeros(place.shape, int), 0 * place))
            continue
        # Rounding puts the last angle a hair outside itself.
        inside &= (place >= at[0] - 1e-9) & (place <= at[-1] + 1e-9)
        low = np.clip(np.searchsorted(at, place, side="right") - 1, 0, len(at) - 2)
        part = np.clip((place - at[low]) / (at[low + 1] - at[low]), 0, 1)
        parts.append((low, low + 1, part))
    (r0, r1, rp), (c0, c1, cp) = parts
    for r, rw in ((r0, 1 - rp), (r1, rp)):
        for c, cw in ((c0, 1 - cp), (c1, cp)):
            result = result + values[r, c] * rw * cw
    return np.where(inside, result, 0.0)
