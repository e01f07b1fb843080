"""Numbers in, numbers out: light, colour, exposure, lamps and materials. Needs only numpy."""
