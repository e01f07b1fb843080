"""What was shot, kept beside the renders and held against the plan: levels, colours, stops, readings.

`record` reads it as people write it and keeps it, `run` holds it against the plan, `result` has its numbers.
"""

from previz.studies.as_shot.record import Record, read_record, record_path, write_record
from previz.studies.as_shot.result import AsShot
from previz.studies.as_shot.run import as_shot

__all__ = ["AsShot", "Record", "as_shot", "read_record", "record_path", "write_record"]
