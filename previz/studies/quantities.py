"""Every number that a study tells, by a name that does not change, with its unit and meaning."""

from __future__ import annotations

from typing import NamedTuple


class Quantity(NamedTuple):
    """What a number is.

    Parameters
    ----------
    unit : str
        'lx', 'stops', 'K', ...; '1' for a ratio, '' for a word.
    meaning : str
        One line, in a crew's words.
    """

    unit: str
    meaning: str


QUANTITIES: dict[str, Quantity] = {
    # Light at a face or a meter.
    "illuminance": Quantity("lx", "light on a meter"),
    "direct": Quantity("lx", "of that, straight from the lamp"),
    "bounced": Quantity("lx", "of that, by way of anything else"),
    "band_error": Quantity("lx", "what wavelength bands may leave it off"),
    "stops_from_working": Quantity("stops", "over (+) or under (-) the light that meters at the stop"),
    "lit_side": Quantity("lx", "flat meter on the brighter cheek"),
    "shadow_side": Quantity("lx", "flat meter on the darker cheek"),
    "lit_to_shadow": Quantity("1", "ratio of the two sides as metered"),
    "key_to_fill": Quantity("1", "ratio of the key alone to the fill"),
}
"""By name; `result.row` takes no other. A name here is never given another meaning or unit."""

QUANTITIES |= {
    # What a blocking drawing says.
    "focal_length": Quantity("m", "focal length of the lens"),
    "camera_stop": Quantity("1", "T-stop that the lens is set to"),
    "frame_aspect": Quantity("1", "width of the delivered frame over its height"),
    "field_across": Quantity("deg", "angle that a camera sees across"),
    "field_upwards": Quantity("deg", "angle that a camera sees upwards"),
    "lamp_in_frame": Quantity("", "whether a lamp that is not left in shot stands in the frame"),
    "lamp_height": Quantity("m", "how high the middle of a lamp's face hangs"),
    "hung": Quantity("", "what a thing hangs by"),
    "sky_height": Quantity("deg", "how high the sun or moon stands over the level"),
    "plan_scale": Quantity("m", "length that the scale on the view from above stands for"),
}
