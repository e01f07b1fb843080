"""From a stage to its frames and meter readings: what is cached, what must be traced, until when.

`job.StageJob` is the entry: one stage under one order, whose frames and meters it gets, from the cache
where they are there and from the engine where not. `cache/` keeps them lamp by lamp, `metering` and
`meter_run` run meters to a precision, `refine` runs pictures in rounds. Progress goes to a `Progress`
or to a plain callback. Nothing here knows a screen, a sheet or a command.
"""
