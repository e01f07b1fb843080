"""Lower every kind of lamp to emitters; `LIGHTS` names the function for each."""

from previz.stage.lights.beams import lower_ellipsoidal, lower_fresnel
from previz.stage.lights.bulbs import lower_bulb, lower_practical, lower_tube
from previz.stage.lights.lowered import Lowered
from previz.stage.lights.soft import lower_panel, lower_soft_box

LIGHTS = {
    "soft box": lower_soft_box,
    "panel": lower_panel,
    "tube": lower_tube,
    "bulb": lower_bulb,
    "practical": lower_practical,
    "ellipsoidal": lower_ellipsoidal,
    "fresnel": lower_fresnel,
}
"""Kind of lamp in the scene -> function(light, aim, support, add_surface) -> Lowered."""

__all__ = ["LIGHTS", "Lowered"]
