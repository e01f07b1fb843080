"""A moment as a person writes it: date, time of day and time zone."""

from __future__ import annotations

import datetime
import re
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

EXAMPLE = "2026-10-14 17:30 +02:00"

FORM = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})\s+([0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?)\s*(\S.*)?")
"""Date, time of day, zone."""

_OFFSET = re.compile(r"([+\-−])([0-9]{1,2})(?::?([0-9]{2}))?")

EARLIEST, LATEST = 1900, 2100
"""Years for which the places of sun and moon are good."""


def zone_of(text: str) -> datetime.tzinfo | None:
    """Return a time zone, None for what is none.

    Parameters
    ----------
    text : str
        Hours from UTC, such as '+02:00', 'UTC', or a name such as 'Europe/Paris'.
    """
    offset = _OFFSET.fullmatch(text)
    if offset and int(offset[2]) <= 14 and int(offset[3] or 0) < 60:
        shift = datetime.timedelta(hours=int(offset[2]), minutes=int(offset[3] or 0))
        return datetime.timezone(shift if offset[1] == "+" else -shift)
    if text.upper() in ("UTC", "Z"):
        return datetime.UTC
    try:
        return ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def parse_moment(text: str) -> datetime.datetime | tuple[str, str]:
    """Return the moment that a text means, or what is wrong with it.

    Parameters
    ----------
    text : str
        Such as '2026-10-14 17:30 +02:00'.

    Returns
    -------
    datetime.datetime or (str, str)
        With its time zone; or a message and advice.
    """
    advice = f"Write date, time of day and time zone, as '{EXAMPLE}'."
    match = FORM.fullmatch(text)
    if not match:
        return "is no date with a time of day", advice
    day, clock, zone = match.groups()
    try:
        moment = datetime.datetime.fromisoformat(f"{day}T{clock.zfill(5 if len(clock) < 6 else 8)}")
    except ValueError:
        return "is no day of the calendar or no time of day", advice
    if not EARLIEST <= moment.year <= LATEST:
        return f"is not between {EARLIEST} and {LATEST}", advice
    if zone is None:
        return "has no time zone", (
            f"Write the hours from UTC after it, as '{EXAMPLE}', or a name such as 'Europe/Paris'."
        )
    found = zone_of(zone)
    if found is None:
        return f"has no time zone that is known: '{zone[:40]}'", (
            "Write the hours from UTC, as '+02:00', or a name such as 'Europe/Paris'."
        )
    return moment.replace(tzinfo=found)
