"""One head under a handful of classic placements of the key, hard and soft.

`sitter` says whose head it is, `studio` sets it up, `run` renders it once and mixes a picture for each
placement, and `result` has the numbers and the sheet.
"""

from previz.studies.portrait.result import Portrait
from previz.studies.portrait.run import portrait

__all__ = ["Portrait", "portrait"]
