"""What `import previz` gives: scenes, shots and studies as values, without a command line.

Thin over `studies`: a request is made of the words given, and handed down. Nothing is printed;
progress, messages and what cancels are functions that are handed in.
"""

from previz.library.scenes import File, Option, Shot, open
from previz.library.settings import Settings
from previz.library.studies import (
    as_shot,
    balance,
    compare,
    haze,
    match,
    mood,
    paper,
    portrait,
    read,
    readings,
    study,
    times,
    walk,
    what_if,
)

__all__ = ["File", "Option", "Settings", "Shot", "as_shot", "balance", "compare", "haze", "match", "mood",
           "open", "paper", "portrait", "read", "readings", "study", "times", "walk", "what_if"]
