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
    # A lamp that is moved for what is wanted.
    "places_tried": Quantity("1", "places of a lamp that were looked at"),
    "places_metered": Quantity("1", "of them, those that were metered"),
    "place_x": Quantity("m", "a place of a lamp, to the east"),
    "place_y": Quantity("m", "the same, to the north"),
    "place_z": Quantity("m", "the same, over the floor"),
    "place_met": Quantity("1", "wants that are met with the lamp there"),
    "place_missed": Quantity("stops", "root of the sum of what wants miss then, squared"),
    # A lamp that is put where a light has to come from.
    "added_lamp_kind": Quantity("", "kind of an added lamp"),
    "added_lamp_x": Quantity("m", "where it stands, to the east"),
    "added_lamp_y": Quantity("m", "where it stands, to the north"),
    "added_lamp_z": Quantity("m", "where it stands, over the floor"),
    "added_lamp_distance": Quantity("m", "from it to the face, or to the opening where that is lit"),
    "added_lamp_intensity": Quantity("cd", "in the middle of its beam"),
    "added_lamp_beam": Quantity("deg", "full angle to half of the middle's intensity"),
    "added_lamp_cct": Quantity("K", "its colour temperature"),
    "added_lamp_load": Quantity("W", "of the order of what it draws"),
    "added_lamp_number": Quantity("1", "how many of the strongest of its kind give as much"),
    "added_lamp_wanted": Quantity("lx", "what it is to give to a meter"),
    "added_lamp_gives": Quantity("lx", "what it gives to that meter"),
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
    # Levels for what is wanted.
    "rule": Quantity("", "what is made small: all misses together, or the greatest"),
    "wanted_level": Quantity("stops", "level that is wanted, from the working stop or from 18 % grey"),
    "level_before": Quantity("stops", "that level as the option is set"),
    "level_after": Quantity("stops", "that level by the answer"),
    "wanted_ratio": Quantity("1", "lit side against shadow side that is wanted"),
    "ratio_before": Quantity("1", "that ratio as the option is set"),
    "ratio_after": Quantity("1", "that ratio by the answer"),
    "wanted_cct": Quantity("K", "colour temperature that is wanted at the lit side"),
    "cct_before": Quantity("K", "that colour temperature as the option is set"),
    "cct_after": Quantity("K", "that colour temperature by the answer"),
    "stops_missed": Quantity("stops", "how far the answer is over (+) or under (-) what is wanted"),
    "stops_allowed": Quantity("stops", "how far off it may be to be met"),
    "mired_missed": Quantity("mired", "how much warmer (+) or cooler (-) the answer is than wanted"),
    "mired_allowed": Quantity("mired", "how far off it may be to be met"),
    "want_met": Quantity("", "whether a want is met"),
    "dimmer_before": Quantity("1", "lamp's level as the option is set, as a share of the light; 0 is off"),
    "dimmer_after": Quantity("1", "lamp's level by the answer"),
    "dimmer_moves": Quantity("stops", "how far the level moves, none where it is switched"),
    "colour_before": Quantity("", "lamp's colour and gels as the option is set"),
    "colour_after": Quantity("", "lamp's colour and gels by the answer"),
    "full_load": Quantity("W", "what the lamp draws at full level"),
    "stop_before": Quantity("1", "T-stop as the option is set"),
    "stop_after": Quantity("1", "T-stop by the answer"),
    "nd_before": Quantity("1", "density of neutral filters as the option is set"),
    "nd_after": Quantity("1", "density of neutral filters by the answer"),
    "excludes_others": Quantity("", "whether a want excludes others within what may move"),
    "remedy_stops": Quantity("stops", "one change that would do: light more (+) or less (-)"),
    "remedy_share": Quantity("1", "one change that would do: share of a lamp's light that is taken"),
    "answer": Quantity("", "the answer in words"),
    # A figure's way along its marks.
    "way_length": Quantity("m", "length of a way, on the floor"),
    "way_head": Quantity("", "how the head is carried between marks: ahead or turning"),
    "along_the_way": Quantity("m", "where a place is, from the start of the way"),
    "way_facing": Quantity("deg", "where the face points there, counter-clockwise from east"),
    "walk_lit_side": Quantity("lx", "flat meter on the brighter cheek on the way, with nobody there"),
    "walk_shadow_side": Quantity("lx", "flat meter on the darker cheek on the way, with nobody there"),
    "walk_lit_stops": Quantity("stops", "lit side on the way, from the working stop"),
    "walk_stops_error": Quantity("stops", "standard error of that, of the paths of light"),
    "walk_shadow_stops": Quantity("stops", "shadow side on the way, from the working stop"),
    "walk_lit_to_shadow": Quantity("1", "ratio of the two sides on the way"),
    "walk_key_to_fill": Quantity("1", "ratio of the key alone to the fill on the way"),
    "walk_cct": Quantity("K", "colour temperature of the light on the lit side on the way"),
    "walk_duv": Quantity("1", "its distance from the black-body line, plus for greener"),
    "walk_off_balance": Quantity("mired", "how much warmer (+) or cooler (-) it is than the balance"),
    "walk_lamp": Quantity("lx", "what a lamp gives to the lit side on the way"),
    "walk_lamp_stops": Quantity("stops", "the same, from the working stop"),
    "walk_lamp_share": Quantity("1", "part that a lamp has of the lit side's light on the way"),
    "uneven": Quantity("", "a hole or hot spot of a walk, in words"),
    "uneven_least": Quantity("stops", "from how much on a hole or hot spot is named"),
    "uneven_at": Quantity("m", "where it is darkest or hottest, along the way"),
    "uneven_from": Quantity("m", "where it begins"),
    "uneven_to": Quantity("m", "where it ends"),
    "uneven_by": Quantity("stops", "how far under (over) the line between its neighbours"),
    "even_light": Quantity("lx", "what the lit side would have there without it, or at the wanted end"),
    "meters_short": Quantity("1", "meters of the way that did not come to the requested error"),
    "beyond_wanted": Quantity("stops", "how far outside the wanted range"),
    "uneven_lamp_change": Quantity("lx", "what a lamp gives less (-) or more (+) than between the places "
                                         "beside it"),
    "uneven_lamp_share": Quantity("1", "part that it has of the light there"),
    "uneven_nearest": Quantity("m", "from the face there to the nearest lamp"),
    "uneven_nearest_share": Quantity("1", "part that the nearest lamp has of the light there"),
    "wanted_from": Quantity("stops", "least that is wanted on the lit side, from the working stop"),
    "wanted_to": Quantity("stops", "most that is wanted on the lit side, from the working stop"),
    "colour_drift": Quantity("mired", "from the coolest to the warmest place of the way"),
    "coolest_at": Quantity("m", "where the light on the lit side is coolest, along the way"),
    "warmest_at": Quantity("m", "where the light on the lit side is warmest, along the way"),
    "in_the_way": Quantity("", "what a straight way goes through, in words"),
    "walk_summary": Quantity("", "a walk in words"),
    # Readings of the scout and of the pre-light day.
    "reading_error": Quantity("1", "standard error that a reading is taken to have, as a share of it"),
    "output_verdict": Quantity("", "what the readings say of a lamp"),
    "output_off": Quantity("stops", "what a lamp gives over (+) or under (-) its plan"),
    "output_factor": Quantity("1", "what a lamp gives over what the plan says it gives"),
    "level_planned": Quantity("1", "level of a lamp in the plan"),
    "level_to_set": Quantity("1", "level at which a lamp gives what the plan has of it"),
    "short_at_full": Quantity("stops", "what a lamp at full stays under its plan"),
    "daylight_planned": Quantity("lx", "sky, sun or moon in the plan: on open ground, or facing it"),
    "daylight_found": Quantity("lx", "the same by the readings"),
    "walls_planned": Quantity("1", "what the walls send back in the plan"),
    "walls_found": Quantity("1", "what the walls send back by the readings"),
    "reading_number": Quantity("1", "number of a reading, in the order written"),
    "reading_shown": Quantity("", "a reading as it was written; its note says what was on"),
    "light_read": Quantity("lx", "light on a meter as it was read"),
    "light_planned": Quantity("lx", "the same by the plan"),
    "light_by_lamps_found": Quantity("lx", "the same by the lamps as the readings have them"),
    "luminance_read": Quantity("cd/m²", "luminance as a spot meter read it"),
    "luminance_planned": Quantity("cd/m²", "the same by the plan"),
    "luminance_by_lamps_found": Quantity("cd/m²", "the same by the lamps as the readings have them"),
    "reading_from_plan": Quantity("stops", "a reading over (+) or under (-) the plan"),
    "reading_from_found": Quantity("stops", "a reading over (+) or under (-) the lamps as found"),
    "reading_studentised": Quantity("1", "how far a reading lies off all others, in its standard errors"),
    "colour_read": Quantity("K", "colour temperature as it was read"),
    "colour_planned": Quantity("K", "the same by the plan"),
    "colour_off": Quantity("mired", "how much warmer (+) it is than planned"),
    "reading_says": Quantity("", "what readings say, in words"),
}

QUANTITIES |= {
    # What was shot, against the plan.
    "take": Quantity("", "what the record of a shot is called"),
    "level_shot": Quantity("1", "level of a lamp as it was shot"),
    "level_off": Quantity("stops", "level as shot over (+) or under (-) the plan"),
    "lamp_cct_planned": Quantity("K", "colour temperature that a lamp is planned at"),
    "lamp_cct_shot": Quantity("K", "colour temperature that it was shot at"),
    "lamp_warmer": Quantity("mired", "how much warmer (+) than planned"),
    "shot_camera_stop": Quantity("1", "T-stop as shot"),
    "shot_camera_iso": Quantity("1", "exposure index as shot"),
    "shot_camera_shutter": Quantity("s", "exposure time as shot"),
    "shot_camera_nd": Quantity("1", "density of the neutral filters as shot"),
    "shot_camera_balance": Quantity("K", "colour temperature taken for white as shot"),
    "shot_camera_tint": Quantity("1", "Duv taken for white as shot"),
    "exposure_off": Quantity("stops", "exposure as shot over (+) or under (-) the plan"),
    "balance_warmer": Quantity("mired", "how much warmer (+) a light is taken for white than planned"),
    "light_shot": Quantity("lx", "light on a meter by the levels as shot"),
    "light_off": Quantity("stops", "the same over (+) or under (-) the plan"),
    "from_stop_planned": Quantity("stops", "light over (+) or under (-) the first camera's stop, as planned"),
    "from_stop_shot": Quantity("stops", "light over (+) or under (-) the first camera's stop, as shot"),
    # What wants of the light hang on.
    "want_share": Quantity("1", "part that a lamp has of the light that a want is read from; of a ratio, of "
                                "the lit side's"),
    "want_shadow_share": Quantity("1", "part that a lamp has of the shadow side's light, of a ratio"),
    "may_fall": Quantity("stops", "how far a lamp may fall before a want is missed"),
    "may_rise": Quantity("stops", "how far a lamp may rise before a want is missed"),
    "moves_stops": Quantity("stops", "how far a change moves what a want is of"),
    "moves_mired": Quantity("mired", "how much warmer (+) or cooler (-) a change makes it"),
    "off_stops": Quantity("stops", "how far over (+) or under (-) what is wanted it is, as set or after a "
                                   "change"),
    "off_mired": Quantity("mired", "how much warmer (+) or cooler (-) than wanted, as set or after a change"),
    "met_then": Quantity("", "whether a want is met after a change"),
    "step_off_mark": Quantity("m", "length of a step off the mark"),
    "no_room": Quantity("", "a step off the mark that there is no room for, in words"),
    "what_if_summary": Quantity("", "what the wants hang on, in words"),
}
