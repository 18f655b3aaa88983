"""A firing's ticks as columns, quickly: for a screen, which waits.

The same curve as controller.record.queries.Record.ticks gives, at a third of its time: plain rows straight
from SQLite, and the monotonic clock's falls (a restart of the computer) found in the columns themselves.
Twelve hours of one-second ticks come in about a tenth of a second.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path

import numpy as np

from controller.record.curve import NO_STAGE, Curve, Floats
from controller.record.opening import PATIENCE_S, connect, one_clear_line

COLUMNS = (
    "SELECT n, mono_s, utc_s, setpoint_c, air_c, load_c, limit_c, duty, heat_on, stage"
    " FROM tick WHERE firing = ? ORDER BY n"
)


def read_curve(record: Path, number: int) -> Curve:
    """Return a firing's whole curve; an empty one when it has no ticks. Raises RecordError."""
    with one_clear_line(record), closing(connect(record, "ro", PATIENCE_S)) as connection:
        rows = connection.execute(COLUMNS, (number,)).fetchall()
    columns = np.array(rows, dtype=np.float64).reshape(-1, 10).T
    n, mono_s, utc_s, setpoint_c, air_c, load_c, limit_c, duty, heat_on, stage = columns
    return Curve(
        n=n.astype(np.int64),
        t_s=since_first_s(mono_s, utc_s),
        utc_s=utc_s,
        setpoint_c=setpoint_c,
        air_c=air_c,
        load_c=load_c,
        limit_c=limit_c,
        duty=duty,
        heat_on=heat_on > 0,
        stage=np.where(np.isnan(stage), NO_STAGE, stage).astype(np.int64),
    )


def since_first_s(mono_s: Floats, utc_s: Floats) -> Floats:
    """Return seconds since the first tick; where the monotonic clock falls back, UTC tells the gap."""
    if len(mono_s) == 0:
        return mono_s
    steps_s = np.diff(mono_s, prepend=mono_s[0])
    falls = steps_s < 0
    steps_s[falls] = np.maximum(0.0, np.diff(utc_s, prepend=utc_s[0]))[falls]
    return np.asarray(np.cumsum(steps_s), dtype=np.float64) if falls.any() else mono_s - mono_s[0]


def between(curve: Curve, from_s: float, to_s: float) -> Curve:
    """Return the rows of a stretch of time, and one more on each side: a line comes in and goes out."""
    first = max(0, int(np.searchsorted(curve.t_s, from_s, side="left")) - 1)
    last = int(np.searchsorted(curve.t_s, to_s, side="right")) + 1
    return curve.rows(slice(first, last))
