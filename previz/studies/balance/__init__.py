"""Levels, colours and exposure that bring about what is wanted of the light.

`phrases` reads what is said in a line, `subjects` makes of wants numbers at meters, `gathering` gets these
meters, `moving` has what may move and what can be dialled, `solving` the answer as it is rounded,
`run` does all of it and `result` has its numbers.
"""

from previz.studies.balance.result import Balance
from previz.studies.balance.run import balance

__all__ = ["Balance", "balance"]
