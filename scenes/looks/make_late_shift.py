"""Writes late-shift.cube, the look of the engine shed: it takes ACEScct and gives code values of BT.1886.

    .venv/bin/python scenes/looks/make_late_shift.py

A print of our own: a soft shoulder, deep shadows that lean to blue-green, lights that lean to amber, and
colours a little paler than they are. All its numbers are invented.
"""

from pathlib import Path

import numpy as np

from previz.physics.chromatic_adaptation import (
    ACES_XY,
    D65_XY,
    REC709_XY,
    acescg_from_xyz,
    adaptation_matrix,
    xyz_from_rgb,
)

STEPS = 17
GREY, GREY_SHOWN = 0.18, 0.115
"""Scene grey, and the light of the screen that it is shown by, a little darker than as it is. [1]"""

CONTRAST, PALER = 1.35, 0.82
SHADOWS, LIGHTS = np.array([0.90, 1.02, 1.10]), np.array([1.07, 1.0, 0.86])


def light_of(acescct: np.ndarray) -> np.ndarray:
    """Return ACEScg of ACEScct (S-2016-001)."""
    return np.where(acescct > 0.155251141552511, 2.0 ** (acescct * 17.52 - 9.72),
                    (acescct - 0.0729055341958355) / 10.5402377416545)


def shown(acescct: np.ndarray) -> np.ndarray:
    """Return code values for colours, shape (colour, 3)."""
    to_screen = np.linalg.inv(xyz_from_rgb(REC709_XY, D65_XY)) @ adaptation_matrix(ACES_XY, D65_XY)
    light = np.maximum(light_of(acescct) @ (to_screen @ np.linalg.inv(acescg_from_xyz())).T, 0)
    luma = light @ [0.2126, 0.7152, 0.0722]
    light = luma[:, None] + PALER * (light - luma[:, None])
    # Straight in the middle on logarithms, and never more than white: x^c / (x^c + k).
    raised = np.maximum(light, 0) ** CONTRAST
    screen = raised / (raised + GREY**CONTRAST * (1 / GREY_SHOWN - 1))
    share = np.clip(screen, 0, 1) ** 0.5
    screen = screen * (SHADOWS * (1 - share) + LIGHTS * share)
    return np.clip(screen, 0, 1) ** (1 / 2.4)


def cube() -> str:
    """Return the file."""
    at = np.linspace(0, 1, STEPS)
    blue, green, red = np.meshgrid(at, at, at, indexing="ij")
    rows = shown(np.stack([red, green, blue], axis=-1).reshape(-1, 3))
    head = ['TITLE "Late shift"', "# Takes ACEScct, gives code values of a BT.1886 screen; made by "
            "make_late_shift.py.", f"LUT_3D_SIZE {STEPS}"]
    return "\n".join([*head, *(" ".join(f"{each:.4f}" for each in row) for row in rows)]) + "\n"


if __name__ == "__main__":
    Path(__file__).with_name("late-shift.cube").write_text(cube(), encoding="utf-8")
