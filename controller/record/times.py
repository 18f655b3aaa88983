"""Times at the record's edges: inside it is seconds, outside it is ISO 8601 or a person's own clock."""

from __future__ import annotations

from datetime import UTC, datetime


def iso_utc(utc_s: float) -> str:
    """Return e.g. "2031-04-05T06:07:08.250Z" (ISO 8601, to the millisecond)."""
    moment = datetime.fromtimestamp(round(utc_s, 3), UTC)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def local(utc_s: float, form: str = "%Y-%m-%d %H:%M") -> str:
    """Return the time on the clock of whoever sits at this computer."""
    return datetime.fromtimestamp(utc_s).astimezone().strftime(form)


def local_in_full(utc_s: float) -> str:
    """Return e.g. "5 April 2031, 08:07 (UTC+02:00)", on the clock of whoever sits at this computer."""
    moment = datetime.fromtimestamp(utc_s).astimezone()
    return f"{moment.day} {moment:%B %Y, %H:%M} (UTC{moment.isoformat()[-6:]})"


def hours_minutes(duration_s: float) -> str:
    """Return e.g. "11:05" for a duration of 11 hours and 5 minutes (whole minutes, rounded)."""
    minutes = round(duration_s / 60)
    return f"{minutes // 60}:{minutes % 60:02d}"
