"""Sizes of a head, for what is measured about one.

Source: ANSUR II (from memory), means of men and women rounded to half a centimetre.
"""

HEAD_RADIUS = 0.085
"""Half the width of a head: of the upright cylinder that stands for it. [m]"""

NOSE_TO_AXIS = 0.115
"""From the tip of the nose to the head's upright axis: half its length, and the nose. [m]"""

FACE_RADIUS = 0.1
"""About from the middle of a face to its edge: half its length from chin to crown. [m]"""
