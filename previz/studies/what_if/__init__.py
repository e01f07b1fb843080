"""What each want of the light hangs on: a lamp half a stop off or out, a cloud, a step off the mark.

`lighting` has the lights as they may be otherwise, `steps` the meters off the mark, `run` does all of it and
`result` has its numbers.
"""

from previz.studies.what_if.result import WhatIf
from previz.studies.what_if.run import what_if

__all__ = ["WhatIf", "what_if"]
