"""One lamp used straight, through a frame and off a board; a ladder of sizes and distances of each.

`setups` changes the scene for each use, `ring` measures it, `pictures` shows one of each kind, `run`
does all of it and `result` has its numbers. The lamp is studied alone, in the set without its
people: others are dark, boards and frames of the scene are taken out, and the study puts its own in.
"""

from previz.studies.study.result import Study
from previz.studies.study.run import study

__all__ = ["Study", "study"]
