"""Lower every kind of lamp to emitters; `LIGHTS` names the function for each."""

from previz.stage.lights.beams import (
    lower_daylight_lamp,
    lower_ellipsoidal,
    lower_fresnel,
    lower_headlamp,
    lower_open_face,
    lower_parallel_beam,
)
from previz.stage.lights.bulbs import (
    lower_bulb,
    lower_lantern_ball,
    lower_practical,
    lower_tube,
)
from previz.stage.lights.flames import lower_candle, lower_fire
from previz.stage.lights.glow import lower_glow
from previz.stage.lights.lowered import Lowered
from previz.stage.lights.soft import (
    lower_backdrop,
    lower_overhead_soft,
    lower_panel,
    lower_soft_box,
)

LIGHTS = {
    "soft box": lower_soft_box,
    "overhead soft": lower_overhead_soft,
    "small box": lower_panel,
    "panel": lower_panel,
    "tube": lower_tube,
    "lantern ball": lower_lantern_ball,
    "bulb": lower_bulb,
    "practical": lower_practical,
    "candle": lower_candle,
    "fire": lower_fire,
    "ellipsoidal": lower_ellipsoidal,
    "fresnel": lower_fresnel,
    "open face": lower_open_face,
    "parallel beam": lower_parallel_beam,
    "daylight lamp": lower_daylight_lamp,
    "headlamp": lower_headlamp,
    "backdrop": lower_backdrop,
    "glow": lower_glow,
}
"""Kind of lamp in the scene -> function(light, setting) -> Lowered."""

__all__ = ["LIGHTS", "Lowered"]
