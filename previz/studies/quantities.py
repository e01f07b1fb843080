"""Every number of a study, by a name that does not change, with its unit and meaning."""

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
    "hung": Quantity("", "what a thing hangs by"),
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
    "current": Quantity("A", "the same, by the power factor of each lamp"),
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
    "caution_brief": Quantity("", "the same as sheets have it"),
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

QUANTITIES |= {
    # One lamp straight, through a frame and off a board.
    "throw": Quantity("m", "from the lamp to the face"),
    "use_size": Quantity("m", "side of the board or frame; of the lamp itself where it is used straight"),
    "use_distance": Quantity("m", "from the face to the board or frame, or to the lamp"),
    "brightest": Quantity("lx", "brightest of the flat meters on the front half of a head-sized cylinder"),
    "loss": Quantity("stops", "brightest against the same lamp aimed straight, minus for less"),
    "output_for_same_light": Quantity("1", "times the output that gives the light of the lamp straight"),
    "brightest_per_watt": Quantity("lx/W", "brightest for each watt that the lamp draws"),
    "source_width": Quantity("deg", "how wide the source looks from the face"),
    "source_height": Quantity("deg", "how high the source looks from the face"),
    "lit_width": Quantity("m", "width of the lit part of the board or frame"),
    "lit_height": Quantity("m", "height of the lit part of the board or frame"),
    "wrap_to_half": Quantity("deg", "how far round the head the light falls to half"),
    "wrap_to_eighth": Quantity("deg", "how far round the head the light falls to an eighth"),
    "spill_from_brightest": Quantity("stops", "light on the surface named, from the brightest"),
    "left_out": Quantity("", "why a use is left out"),
    "in_shot": Quantity("1", "share of the picture that the board or frame takes"),
    "round_the_head": Quantity("lx", "flat meter at an angle from where the face points [deg], plus to "
                               "the figure's left"),

    # One scene at several densities of its haze.
    "haze_factor": Quantity("1", "times the scene's own density"),
    "haze_density": Quantity("1/m", "share that a metre takes from a beam, for thin haze"),
    "haze_visibility": Quantity("m", "how far one sees a black thing"),
    "lost_in_10_m": Quantity("stops", "of a beam that runs 10 m through the haze"),
    "face_level": Quantity("stops", "mean level of the face, from 18 % grey"),
    "behind_face_level": Quantity("stops", "mean level of what is behind the face, from 18 % grey"),
    "face_contrast": Quantity("stops", "from what is behind the face up to the face"),
    "blacks_level": Quantity("stops", "mean level of the darkest tenth, from 18 % grey"),
    "veil_over_blacks": Quantity("stops", "part of the blacks that the air sends, from 18 % grey"),
    "droplets_least": Quantity("mg/m³", "least mass of droplets that such haze may be, an estimate"),
    "droplets_most": Quantity("mg/m³", "greatest mass of droplets that such haze may be, an estimate"),
    "picture_from": Quantity("", "'one render' of several densities, or 'own render'"),

    # One head under classic placements.
    "fill_set": Quantity("stops", "the fill against the key"),
    "opened": Quantity("stops", "how far the lens is opened from what a meter at the face sets"),
    "source_size": Quantity("m", "diameter of the lamp's lens, or edge of its front"),
    "lamp_distance": Quantity("m", "from the lamp to the face"),
    "lamp_across": Quantity("deg", "from the lens towards camera left"),
    "lamp_up": Quantity("deg", "above the face"),

    # Mood frames.
    "frame_title": Quantity("", "title of a frame; mood frames have no readings"),
}

QUANTITIES |= {
    # What a blocking drawing says.
    "focal_length": Quantity("m", "focal length of the lens"),
    "frame_aspect": Quantity("1", "width of the delivered frame over its height"),
    "field_across": Quantity("deg", "angle that a camera sees across"),
    "field_upwards": Quantity("deg", "angle that a camera sees upwards"),
    "lamp_in_frame": Quantity("", "whether a lamp that is not left in shot stands in the frame"),
    "lamp_height": Quantity("m", "how high the middle of a lamp's face hangs"),
    "sky_height": Quantity("deg", "how high the sun or moon stands over the level"),
    "plan_scale": Quantity("m", "length that the scale on the view from above stands for"),
}

QUANTITIES |= {
    # A reference still, read.
    "read_state": Quantity("", "what a picture says of a lamp; the note names one that it looks like"),
    "read_level": Quantity("1", "level of a lamp in the picture, as a share of full, from the anchor"),
    "read_change": Quantity("stops", "the same against the scene's own level"),
    "read_over_full": Quantity("stops", "that level over what the lamp gives at full"),
    "read_share": Quantity("1", "most of the light that a lamp gives to a hundredth of the picture"),
    "read_most_share": Quantity("1", "what that may be, two standard errors up"),
    "read_cct": Quantity("K", "colour of a lamp in the picture, before gels"),
    "read_shift": Quantity("mired", "the same against the scene's own colour, plus for warmer"),
    "read_anchor": Quantity("", "lamp that levels count from"),
    "read_colours_held": Quantity("", "whether colours are told as they are, or against each other"),
    "read_exposure": Quantity("stops", "exposure of the picture against the camera as it is set"),
    "read_balance": Quantity("K", "white that the picture is balanced to"),
    "read_tint": Quantity("1", "Duv of that white"),
    "read_contrast": Quantity("1", "slope of the picture's curve at grey; 1 for the scene's own contrast"),
    "read_look": Quantity("", "what the picture was taken for: previz or srgb"),
    "read_scatter": Quantity("stops", "what the fit leaves over, in the middle of the picture's parts"),
    "read_used": Quantity("1", "part of the picture that neither clips nor crushes"),
    "read_miss": Quantity("1", "how far the points that line it up miss, as a share of the width"),
    "picture_lit_side": Quantity("stops", "brighter side of a face by the picture, a card in it over grey"),
    "picture_lit_to_shadow": Quantity("1", "ratio of the two sides by the picture, not by meters"),
    "picture_off_balance": Quantity("mired", "colour of the brighter side against the balance, plus warmer"),
    "missing_light": Quantity("stops", "light that no lamp gives, on a thing; the note says where"),
    "missing_area": Quantity("1", "of the picture that it takes"),
    "missing_side": Quantity("deg", "where it comes from, right (+) or left (-) of the lens axis"),
    "missing_height": Quantity("deg", "where it comes from, over (+) or under (-) the level"),
    "missing_x": Quantity("m", "where an added lamp would explain most of it, from the west"),
    "missing_y": Quantity("m", "the same, from the south"),
    "missing_z": Quantity("m", "the same, above the floor"),
    "missing_intensity": Quantity("cd", "of that lamp, with the others as they were found"),
    "missing_explained": Quantity("1", "part of the missing light that it explains"),
}
