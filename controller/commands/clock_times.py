"""Times of day, as the commands read and show them."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from controller.errors import UsageError


def start_time(text: str | None, now: datetime, option: str = "--start") -> datetime:
    """Return now, or the next time that the clock shows `text`. Raises UsageError."""
    if text is None:
        return now.replace(second=0, microsecond=0)
    match = re.fullmatch(r"([01]?[0-9]|2[0-3]):([0-5][0-9])", text, re.ASCII)
    if match is None:
        raise UsageError(f'{option}: found "{text}", expected a time of day such as 21:00')
    start = now.replace(hour=int(match[1]), minute=int(match[2]), second=0, microsecond=0)
    return start if start >= now else start + timedelta(days=1)


def clock_time(start: datetime, seconds: float) -> str:
    """Return the clock time after some seconds, with the days since the start: `"03:10 +1d"`."""
    at = start + timedelta(seconds=seconds)
    days = (at.date() - start.date()).days
    return f"{at:%H:%M}" + (f" {days:+d}d" if days else "")
