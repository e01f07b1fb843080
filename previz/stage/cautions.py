"""The cautions that a scene calls for; reminders only, the law and the people in charge decide."""

from __future__ import annotations

PLANNING_AID = (
    "Planning aid only. Local electrical, fire, rigging and working-at-height law, the venue, and "
    "the licensed or competent person in charge decide."
)

OVERHEAD = 2.0
"""Height above which a lamp counts as hung overhead. [m]"""

HOT_KINDS = ("ellipsoidal", "fresnel")

NEAR_CLOTH = 1.0
"""A hot lamp nearer to cloth than this is pointed out (common practice, no source). [m]"""


def for_scene(scene) -> tuple[str, ...]:
    """Return the cautions of a scene, the general one first.

    Parameters
    ----------
    scene : scene.scene.Scene
    """
    lines = [PLANNING_AID]
    high = [light.name for light in scene.lights if light.at[2] > OVERHEAD]
    if high:
        lines.append(f"Overhead: {', '.join(high)}. Secure lamp and accessories with a second "
                     "suspension that does not depend on the clamp.")
    for light in scene.lights:
        for cloth in (*scene.diffusion, *scene.flags):
            gap = sum((a - b) ** 2 for a, b in zip(light.at, cloth.at, strict=True)) ** 0.5
            if light.spectrum == "tungsten" and light.kind in HOT_KINDS and gap < NEAR_CLOTH:
                lines.append(f"Heat: {light.name} is {gap:.1f} m from {cloth.name}. Keep the "
                             "lamp's marked distance and use flame-retardant cloth.")
    if scene.haze is not None:
        lines.append("Haze: tell cast and crew, ventilate, keep the data sheet on hand, and ask "
                     "about fire detectors; exposure limits apply.")
    return tuple(lines)
