"""Lower every kind of lamp to emitters; `LIGHTS` names the function for each."""

from previz.stage.lights.beams import (
    build_daylight_lamp,
    build_ellipsoidal,
    build_fresnel,
    build_headlamp,
    build_open_face,
    build_parallel_beam,
)
from previz.stage.lights.bulbs import (
    build_bulb,
    build_lantern_ball,
    build_practical,
    build_tube,
)
from previz.stage.lights.fixture import Fixture
from previz.stage.lights.flames import build_candle, build_fire
from previz.stage.lights.glow import build_glow
from previz.stage.lights.soft import (
    build_backdrop,
    build_overhead_soft,
    build_panel,
    build_soft_box,
)

LIGHTS = {
    "soft box": build_soft_box,
    "overhead soft": build_overhead_soft,
    "small box": build_panel,
    "panel": build_panel,
    "tube": build_tube,
    "lantern ball": build_lantern_ball,
    "bulb": build_bulb,
    "practical": build_practical,
    "candle": build_candle,
    "fire": build_fire,
    "ellipsoidal": build_ellipsoidal,
    "fresnel": build_fresnel,
    "open face": build_open_face,
    "parallel beam": build_parallel_beam,
    "daylight lamp": build_daylight_lamp,
    "headlamp": build_headlamp,
    "backdrop": build_backdrop,
    "glow": build_glow,
}
"""Kind of lamp in the scene -> function(light, setting) -> Fixture."""

__all__ = ["LIGHTS", "Fixture"]
