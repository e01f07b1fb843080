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
    # How a camera is set.
    "camera_stop": Quantity("1", "T-stop that the lens is set to"),
    "camera_iso": Quantity("1", "exposure index"),
    "camera_shutter": Quantity("s", "exposure time"),
    "camera_nd": Quantity("1", "density of neutral filters"),
    "camera_balance": Quantity("K", "colour temperature that the camera shows white"),
    "camera_tint": Quantity("1", "Duv that the balance is set to, plus for greener light"),
    # A face in a shot.
    "lit_cheek": Quantity("", "the figure's own cheek that is the lit side: left or right"),
    "key_alone": Quantity("lx", "what the lit side has over the shadow side"),
    "face_cct": Quantity("K", "colour temperature of the light on the lit side"),
    "face_duv": Quantity("1", "distance from the black-body line, plus for greener"),
    "off_balance": Quantity("mired", "how much warmer (+) or cooler (-) than the camera is set for"),
    "reached_error": Quantity("1", "standard error a meter came to, as a share, where that is not what "
                                   "was requested"),
    "trusted_within": Quantity("1", "share that such a reading on few paths may be off"),
    # Where the key comes from.
    "key_source": Quantity("", "what the key's light comes from as the face sees it"),
    "key_lamp": Quantity("", "a lamp that makes the key"),
    "key_share": Quantity("1", "of the key lamps' light at the lit side that comes from there"),
    "key_across": Quantity("deg", "how wide the key's source is, seen from the face"),
    "key_up": Quantity("deg", "how high the key's source is, seen from the face"),
    "key_side": Quantity("deg", "where the key stands, right (+) or left (-) of the lens axis"),
    "key_height": Quantity("deg", "where the key stands over (+) or under (-) the level"),
    "key_off_nose": Quantity("deg", "angle between the key and where the face points"),
    "nose_edge": Quantity("m", "width of the soft edge of the nose's shadow"),
    "nose_throw": Quantity("m", "from the tip of the nose to where its shadow falls"),
    # Levels in the frame, against an 18 % card in the key; against 18 % grey without a face.
    "background": Quantity("stops", "all behind the subject but people, lamps and boards"),
    "hottest": Quantity("stops", "hottest small area of the frame"),
    "darkest": Quantity("stops", "darkest small area of the frame"),
    "spill": Quantity("stops", "light on a named surface"),
    "spill_key_share": Quantity("1", "of that light, what the key's lamps send"),
    # Eye-lights.
    "eye_lights": Quantity("1", "how many a camera sees in the eyes"),
    "eye_light": Quantity("stops", "image of a light on the eye, from 18 % grey at the camera's stop"),
    "eye_light_over_iris": Quantity("stops", "that image over the iris beside it"),
    "eye_light_width": Quantity("m", "size of that image on the eye"),
    "eye_light_clock": Quantity("h", "where on the eye, by the hours of a clock; 12 is up"),
    # Power.
    "load": Quantity("W", "what all lamps that are lit draw at full level"),
    "current": Quantity("A", "the same at power factor 1"),
    "mains": Quantity("V", "of the mains"),
    "light_per_watt": Quantity("lx/W", "light on the lit side for each watt"),
    # What stands in a frame.
    "frame_share": Quantity("1", "of the frame that a thing of the rig takes"),
    "reflection_lift": Quantity("stops", "how much a thing's reflection brightens its place"),
    # Against the base of a comparison.
    "difference_median": Quantity("stops", "middle of the pixels' differences from the base"),
    "changed_share": Quantity("1", "of the frame that differs from the base by a quarter of a stop or more"),
    # One lamp on one face.
    "lamp_on_lit_side": Quantity("lx", "what a lamp gives to the lit side"),
    "lamp_on_shadow_side": Quantity("lx", "what a lamp gives to the shadow side"),
    "ratio_without_lamp": Quantity("1", "brighter side against the darker one without a lamp"),
    "contrast_by_lamp": Quantity("stops", "contrast that a lamp adds (+) or takes (-)"),
    "caution": Quantity("", "what to be careful about"),
}

QUANTITIES |= {
    # A shot as it is exposed, and two that must cut.
    "sky_level": Quantity("stops", "sky in the frame, from 18 % grey as exposed"),
    "background_level": Quantity("stops", "background, from 18 % grey as exposed"),
    "veil_level": Quantity("stops", "what the air alone adds to the picture, from 18 % grey"),
    **{f"{key}_{kind}": Quantity(unit, f"{what}: {words}")
       for key, unit, what in (("face", "stops", "lit side over the working stop"),
                               ("ratio", "stops", "lit side over shadow side"),
                               ("direction", "deg", "angle between the keys as the cameras have them"),
                               ("mired", "mired", "colour against the balance"),
                               ("duv", "1", "green (+) or magenta (-)"),
                               ("sky", "stops", "sky as exposed"),
                               ("background", "stops", "background as exposed"),
                               ("softness", "stops", "width of the nose shadow's edge"),
                               ("veil", "stops", "haze veil"))
       for kind, words in (("difference", "the second shot against the first"),
                           ("limit", "how far two shots may be apart"))},
    "stop_to_set": Quantity("1", "T-stop that brings the lit side to the first shot's"),
    "nd_to_add": Quantity("1", "neutral density that does the same"),
    "light_to_add": Quantity("stops", "light on the face that does the same"),
    "fill_to_add": Quantity("stops", "light on the shadow side that brings the ratio to the first shot's"),
    "warm_by": Quantity("mired", "shift that brings the colour to the first shot's, cooler where under 0"),
    "balance_to_set": Quantity("K", "balance that does the same, in steps of 50 K"),
    "duv_to_add": Quantity("1", "green (+) or magenta (-) that does the same"),
    "source_smaller": Quantity("1", "how many times smaller the key should be, seen from the face"),
    "source_larger": Quantity("1", "how many times larger the key should be, seen from the face"),
    "level_to_add": Quantity("stops", "light on a part of the frame, once the stop has met the face"),
    "advice": Quantity("", "what to change, in words"),
    "verdict": Quantity("", "whether two shots cut, in words"),
}

QUANTITIES |= {
    # A scene over a day.
    "date": Quantity("", "year, month and day"),
    "zone": Quantity("", "time zone of the times"),
    "latitude": Quantity("deg", "of the place, north positive"),
    "longitude": Quantity("deg", "of the place, east positive"),
    "sun_altitude": Quantity("deg", "of the sun over (+) or under (-) the horizon"),
    "sun_azimuth": Quantity("deg", "of the sun, from true north by east"),
    "by_sun": Quantity("lx", "of the lit side's light, the sun's"),
    "by_sky": Quantity("lx", "of the lit side's light, the sky's"),
    "by_moon": Quantity("lx", "of the lit side's light, the moon's"),
    "by_lamps": Quantity("lx", "of the lit side's light, the lamps'"),
    "sun_help": Quantity("stops", "how far the face would fall without the sun"),
    "least_help": Quantity("stops", "from how much the sun counts as help"),
    "replacement_distance": Quantity("m", "from a lamp that would replace the sun to the opening"),
    "replacement_intensity": Quantity("cd", "in the middle of that lamp's beam"),
    "replacement_beam": Quantity("deg", "full angle that just fills the opening"),
    "replacement_flux": Quantity("lm", "light in that beam"),
    "replacement_load": Quantity("W", "of the order of, for daylight lamps"),
    "sun_summary": Quantity("", "when the sun helps and what would replace it, in words"),
}
