"""How the page starts its workers, so that Ctrl-C in the terminal is the page's own to hear.

Source: Python's subprocess; POSIX setsid(); Microsoft, process creation flags (a new process group hears no
Ctrl-C).
"""

from __future__ import annotations

import subprocess
from typing import Any


def apart(*, below: bool = False) -> dict[str, Any]:
    """Return keywords of `subprocess.Popen` for a process of a group of its own.

    Parameters
    ----------
    below : bool
        Leave the machine to others on Windows; elsewhere the process makes itself as nice.
    """
    group: int | None = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", None)
    if group is None:
        return {"start_new_session": True}
    flags: int = getattr(subprocess, "BELOW_NORMAL_PRIORITY_CLASS", 0) if below else 0
    return {"creationflags": group | flags}
