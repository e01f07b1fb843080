"""Readings of the scout and of the pre-light day against the plan.

`written` reads them as people write them, `places` looks their names up, `planned` meters what the plan
has there, `run` does all of it, `sentences` says what came of it and `result` has its numbers.
"""

from previz.studies.readings.result import Corrected
from previz.studies.readings.run import readings
from previz.studies.readings.written import ReadingsError

__all__ = ["Corrected", "ReadingsError", "readings"]
