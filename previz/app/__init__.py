"""The commands, and how a run of one goes."""
