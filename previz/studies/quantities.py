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
    # More of meters and spots: render and meter.
    "footcandles": Quantity("fc", "light on a meter, in foot-candles"),
    "ev100": Quantity("EV", "exposure value at ISO 100 of a light or a luminance"),
    "t_stop": Quantity("1", "T-stop to set for a light, as the camera is set otherwise"),
    "share_of_light": Quantity("1", "part that a lamp has of a meter's reading"),
    "cct": Quantity("K", "colour temperature of the light on a meter"),
    "duv": Quantity("1", "its distance from the black-body line, plus for greener"),
    "ra": Quantity("1", "general colour rendering index, CIE 13.3"),
    "rf": Quantity("1", "fidelity index, ANSI/IES TM-30-18"),
    "rg": Quantity("1", "gamut index, ANSI/IES TM-30-18"),
    "ssi": Quantity("1", "spectral similarity index, SMPTE ST 2122 (from memory)"),
    "luminance": Quantity("cd/m²", "spot meter: mean over what the camera sees of a thing"),
    "luminance_direct": Quantity("cd/m²", "of that, lit straight by the lamp, or the lamp itself"),
    "luminance_bounced": Quantity("cd/m²", "of that, by way of anything else"),
    "luminance_band_error": Quantity("cd/m²", "what wavelength bands may leave it off"),
    "footlamberts": Quantity("fL", "luminance, in foot-lamberts"),
    "stops_from_grey": Quantity("stops", "over (+) or under (-) 18 % grey as the camera is set"),
    "video_level": Quantity("%", "scene-referred BT.709 signal, no camera curve"),
    "thing_share": Quantity("1", "of the frame that a thing takes"),
    "requested_error": Quantity("1", "standard error that meters were to reach, as a share"),
    "paths_fewest": Quantity("1", "paths of light of the meter that has fewest"),
    "paths_most": Quantity("1", "paths of light of the meter that has most"),
    "wavelength_bands": Quantity("1", "spans of wavelengths that light was kept apart in"),
    # A face, more of it.
    "lit_to_shadow_stops": Quantity("stops", "lit side over the shadow side"),
    "key_to_fill_stops": Quantity("stops", "the key alone over the fill"),
    "key_lamps": Quantity("lx", "light of the lamps that make the key, bounces and all"),
    "other_lamps": Quantity("lx", "light of all other lamps at the same cheek"),
    "key_lamps_to_others": Quantity("1", "ratio of the key's lamps to all others"),
    "key_lamps_to_others_stops": Quantity("stops", "the key's lamps over all others"),
    "all_to_others": Quantity("1", "ratio of all lamps to those that are not the key's"),
    "all_to_others_stops": Quantity("stops", "all lamps over those that are not the key's"),
    # A picture: how it was made, its map, and what of the rig is in it.
    "picture_width": Quantity("px", "width of the picture"),
    "picture_height": Quantity("px", "height of the picture"),
    "samples": Quantity("1", "paths a pixel"),
    "seed": Quantity("1", "of the random numbers"),
    "band_share": Quantity("1", "of the frame that a band of the exposure map takes"),
    "band_middle": Quantity("stops", "middle of that band, from 18 % grey"),
    "lamp_flux": Quantity("lm", "all light of a lamp at full level, without its gels"),
    "lamp_illuminance": Quantity("lx", "of the sun or moon facing it, of the sky on open level ground"),
    "lamp_level": Quantity("1", "dimmer, as a share of the light"),
    "lamp_on": Quantity("", "whether the lamp is on"),
    "frame_left": Quantity("1", "left edge of what is seen of the rig, from the left of the frame"),
    "frame_top": Quantity("1", "its upper edge, from the top"),
    "frame_right": Quantity("1", "its right edge, from the left"),
    "frame_bottom": Quantity("1", "its lower edge, from the top"),
    "grip": Quantity("", "board, frame, flag, net or grid, as the truck has it"),
    "grip_width": Quantity("m", "its width"),
    "grip_height": Quantity("m", "its height"),
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
    "camera_iso": Quantity("1", "exposure index"),
    "camera_shutter": Quantity("s", "exposure time"),
    "camera_nd": Quantity("1", "density of neutral filters"),
    "camera_balance": Quantity("K", "colour temperature that the camera shows white"),
    "camera_tint": Quantity("1", "Duv that the balance is set to, plus for greener light"),
    "lit_cheek": Quantity("", "the figure's own cheek that is the lit side: left or right"),
    "key_alone": Quantity("lx", "what the lit side has over the shadow side"),
    "face_cct": Quantity("K", "colour temperature of the light on the lit side"),
    "face_duv": Quantity("1", "distance from the black-body line, plus for greener"),
    "off_balance": Quantity("mired", "how much warmer (+) or cooler (-) than the camera is set for"),
    "reached_error": Quantity("1", "standard error a meter came to, as a share, where that is not what "
                                   "was requested"),
    "trusted_within": Quantity("1", "share that such a reading on few paths may be off"),
    "frame_share": Quantity("1", "of the frame that a thing of the rig takes"),
    "reflection_lift": Quantity("stops", "how much a thing's reflection brightens its place"),
    "caution": Quantity("", "what to be careful about"),
}
