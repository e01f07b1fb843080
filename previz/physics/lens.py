"""Lenses: angle of view, depth of field and blur of an ideal thin lens. Lengths in m.

A thin lens of focal length f that is sharp at s stands s' = f s / (s - f) before the sensor. A lens
that breathes sees the angle of that distance; one that does not keeps the angle that it has at
infinity. In either case the disc that a point out of focus makes on the sensor is that of the thin
lens, (f / N) m |d - s| / d, so depth-of-field tables hold. The T-stop is what reaches the sensor: the
light that extension costs, a factor of (1 + m)², is taken to be in it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from previz.physics.arrays import FloatArray


def _positive(**values: ArrayLike) -> None:
    for label, value in values.items():
        if not np.all(np.asarray(value, dtype=float) > 0):
            raise ValueError(f"{label} must be above 0, got {value!r}")


def hyperfocal(focal: float, *, f_number: float, circle: float) -> float:
    """Return the nearest focus that keeps infinity sharp: f² / (N c) + f.

    Parameters
    ----------
    focal : float
        f. [m]
    f_number : float
        N, not the T-stop. [1]
    circle : float
        c, largest blur that passes for sharp. [m]

    Returns
    -------
    float
        H. [m]

    Raises
    ------
    ValueError
        A number is not above 0.
    """
    _positive(focal=focal, f_number=f_number, circle=circle)
    return focal**2 / (f_number * circle) + focal


def depth_of_field(focal: float, *, f_number: float, circle: float, focus: float) -> tuple[float, float]:
    """Return the near and the far end of what is sharp.

    near = s (H - f) / (H + s - 2f), far = s (H - f) / (H - s).

    Parameters
    ----------
    focal : float
        f. [m]
    f_number : float
        N, not the T-stop. [1]
    circle : float
        c, largest blur that passes for sharp. [m]
    focus : float
        s, distance of sharp focus, beyond the focal length. [m]

    Returns
    -------
    (float, float)
        near and far, far inf from the hyperfocal distance on. [m]

    Raises
    ------
    ValueError
        A number is not above 0, or the focus is inside the focal length.
    """
    _positive(focus=focus)
    if focus <= focal:
        raise ValueError(f"a {focal:g} m lens cannot focus at {focus:g} m")
    reach = hyperfocal(focal, f_number=f_number, circle=circle)
    near = focus * (reach - focal) / (reach + focus - 2 * focal)
    far = np.inf if focus >= reach else focus * (reach - focal) / (reach - focus)
    return float(near), float(far)


def image_distance(focal: float, focus: float) -> float:
    """Return how far behind the lens a distance is sharp: 1/f = 1/s + 1/s'.

    Parameters
    ----------
    focal, focus : float
        f and s. [m]

    Returns
    -------
    float
        s'. [m]

    Raises
    ------
    ValueError
        The focus is inside the focal length.
    """
    if not focus > focal > 0:
        raise ValueError(f"a {focal:g} m lens cannot focus at {focus:g} m")
    return 1 / (1 / focal - 1 / focus)


def view_distance(focal: float, focus: float, *, breathing: bool = False) -> float:
    """Return the distance before the sensor by which a lens sees its angle of view.

    Parameters
    ----------
    focal, focus : float
        f and s. [m]
    breathing : bool
        Whether the angle narrows as the lens comes forward.

    Returns
    -------
    float
        s' = f s / (s - f) with breathing, else f. [m]

    Raises
    ------
    ValueError
        The focus is inside the focal length.
    """
    extended = image_distance(focal, focus)
    return extended if breathing else focal


def drawn_pupil(focal: float, *, f_number: float, focus: float, breathing: bool = False) -> float:
    """Return the diameter of the pupil whose pinhole pictures have the blur of the thin lens.

    Rays from a disc of diameter D that meet on the plane at s, in a picture whose angle of view is
    that of a distance p, blur a point at d to D (p / s) |d - s| / d on the sensor. With
    D = (f / N) s' / p that is (f / N) m |d - s| / d, as m = s' / s.

    Parameters
    ----------
    focal, focus : float
        f and s. [m]
    f_number : float
        N, not the T-stop. [1]
    breathing : bool
        See `view_distance`, which is p.

    Returns
    -------
    float
        D. [m]

    Raises
    ------
    ValueError
        The focus is inside the focal length.
    """
    _positive(f_number=f_number)
    plane = view_distance(focal, focus, breathing=breathing)
    return focal / f_number * image_distance(focal, focus) / plane


def cos_fourth(angle_deg: ArrayLike) -> FloatArray:
    """Return the fall-off of an ideal lens from the middle: cos⁴ of the field angle.

    Parameters
    ----------
    angle_deg : float array, shape (...)
        From the axis. [deg]

    Returns
    -------
    float array, shape (...)
        [1]

    Limits
    ------
    Real wide lenses do better; pictures here are radiance and carry no fall-off.
    """
    return np.cos(np.radians(np.asarray(angle_deg, dtype=float))) ** 4
