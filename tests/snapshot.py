"""What was worked out before, kept beside the tests that hold it: a change that nobody meant shows.

It says nothing of what is right; that is for the tests against the outside world. Where a change is
meant, `PREVIZ_SNAPSHOTS=1 ./.do test -n 0` with the tests that failed writes what is worked out now, to be
read in the diff.
"""

import json
import os
import zlib
from dataclasses import fields, is_dataclass
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent / "snapshots"
KEEP = bool(os.environ.get("PREVIZ_SNAPSHOTS"))
GOLDEN = (5**0.5 - 1) / 2


def kept(name):
    """Return what is kept under a name, a dict."""
    path = HERE / f"{name}.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.is_file() else {}


def keep(name, part, values):
    """Keep values as a part of what has a name."""
    whole = kept(name) | {part: values}
    lines = ",\n".join(f'{json.dumps(k)}: {json.dumps(whole[k], separators=(",", ":"))}'
                       for k in sorted(whole))
    (HERE / f"{name}.json").write_text("{\n" + lines + "\n}\n", encoding="utf-8")


def weights(count):
    """Numbers between 1 and 2 of which no few are alike: a sum with them knows what stands where."""
    return 1 + (np.arange(1, count + 1) * GOLDEN) % 1


def leaves(value):
    """Yield one number for each field of a record, of every record in it."""
    if is_dataclass(value):
        for field in fields(value):
            yield from leaves(getattr(value, field.name))
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from leaves(key)
            yield from leaves(each)
    elif isinstance(value, str):
        yield 1 + zlib.crc32(value.encode()) / 2**32
    elif value is None:
        yield 0.5
    elif isinstance(value, tuple | list) and not all(isinstance(v, float | int) for v in value):
        for each in value:
            yield from leaves(each)
    else:
        array = np.nan_to_num(np.asarray(value, float).ravel(), posinf=1e6)
        # Small numbers count as large ones do; 3 |a| leaves nothing that comes to nearly 0 by chance.
        level = np.mean(weights(array.size) * array + 3 * np.abs(array)) if array.size else 0.0
        yield float(np.log1p(level * 1e6)) + array.size % 97


def number(value):
    """Return one number for a record: a millionth more in any field moves it by about as much."""
    each = np.array(list(leaves(value)))
    return round(float(weights(len(each)) @ each), 6)


def hold(name, part, now, within):
    """Hold numbers by name against those kept; what is new besides is let pass.

    `within` is a number, or a function of the name that gives one.
    """
    if KEEP:
        keep(name, part, now)
        return
    before = kept(name)[part]
    off = [key for key, value in before.items()
           if key not in now or abs(now[key] - value) > (within(key) if callable(within) else within)]
    assert not off, f"{part}: {', '.join(off)} changed; see tests/snapshot.py"


def hold_rows(study, rows):
    """Hold a study's rows, with the same random numbers, against those kept; more rows are let pass.

    Other processors round otherwise, and a path in a thousand then goes another way, or a meter a round
    more: a row may be off by 3 %, or by its errors then and now, and one row in fifty by more.
    """
    now, named = {}, {}
    for row in rows:
        if row["quantity"] == "caution":
            continue
        of = [f"{k}={v}" for k, v in sorted(row.items())
              if k not in ("value", "standard_error", "note", "unit")]
        key = f"{zlib.crc32('; '.join(of).encode()):08x}"
        while key in now:
            key += "+"
        value, error = row["value"], row["standard_error"]
        if isinstance(value, float | int) and not isinstance(value, bool):
            value = float(f"{value:.5g}")
        now[key] = [value, None if error is None else float(f"{error:.2g}")]
        named[key] = f"{'; '.join(of)}: {value} ± {error}"
    if KEEP:
        keep("rows", study, now)
        return
    before = kept("rows")[study]
    assert not set(before) - set(now), f"{study}: rows are gone; see tests/snapshot.py"
    off = [f"{named[key]} (was {before[key][0]} ± {before[key][1]})"
           for key in before if not _alike(before[key], now[key])]
    assert len(off) <= len(before) / 50, "\n".join([f"{study}: see tests/snapshot.py", *off])


def _alike(before, now):
    (was, was_error), (value, error) = before, now
    if not isinstance(was, float | int) or not isinstance(value, float | int) or isinstance(was, bool):
        return was == value
    if (was_error is None) != (error is None):
        return False
    if error and not 0.3 < (was_error or 1e-12) / error < 3:
        return False
    return abs(value - was) <= max(0.03 * abs(was), float(np.hypot(was_error or 0.0, error or 0.0)), 0.003)
