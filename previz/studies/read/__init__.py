"""A reference still, read: the levels and colours of a scene's lamps that come nearest to it.

`picture` opens it and lays it over a camera's frame, `lamps` says what each lamp gives there, `run` fits and
measures, `leftover` looks at what no lamp explains, `result` has the numbers and the words, `keep` makes an
option of them.
"""

from previz.studies.read.result import Reading
from previz.studies.read.run import read

__all__ = ["Reading", "read"]
