"""Paper for the truck and the floor: plan, section, lists, power, meter sheet, and all of it as one pack."""

from previz.studies.paper.result import Paper
from previz.studies.paper.run import load_all, paper

__all__ = ["Paper", "load_all", "paper"]
