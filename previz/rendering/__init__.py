"""From a stage to its frames and meter readings: what is cached, what must be traced, until when.

`job` is the way in: one stage under one order, whose frames and meters it gets, from the cache where
they are there and from the engine where not. `cache/` keeps them lamp by lamp, `metering` runs meters
to a precision, `refine` runs pictures in rounds. Nothing here knows a screen, a sheet or a command.
"""
