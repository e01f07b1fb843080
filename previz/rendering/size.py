"""How large a picture may be."""

LEAST_SIDE = 16
"""No picture is rendered smaller than this. [px]"""

MOST_SIDE = 16384
"""Nor larger than this; whether the machine has memory and disk for it is another matter. [px]"""

WORTH_A_LOOK = 400_000
"""Paths of a picture from which on a first look comes before it, which takes the time of half of them."""
