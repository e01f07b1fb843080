"""From frames to a picture: mixing, exposure, balance, denoising, display, map and readings."""
