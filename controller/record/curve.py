"""A firing's ticks as columns, and a thinner curve that still has every peak."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

NO_STAGE = -1  # in `Curve.stage`: no stage was in hand


@dataclass(frozen=True, slots=True)
class Curve:
    """Columns of equal length, one row a tick, in order of time. NaN means "no value", here only.

    `t_s`: seconds of the kiln's clock since the firing's first tick. `stage`: index, or NO_STAGE.
    """

    n: Ints
    t_s: Floats
    utc_s: Floats
    setpoint_c: Floats
    air_c: Floats
    load_c: Floats
    limit_c: Floats
    duty: Floats
    heat_on: Bools
    stage: Ints

    def __len__(self) -> int:
        return len(self.n)

    def rows(self, index: NDArray[np.int64] | NDArray[np.bool_] | slice) -> Curve:
        """Return the curve of the given rows only."""
        return Curve(**{field.name: getattr(self, field.name)[index] for field in fields(self)})


def of_rows(rows: Iterable[Iterable[Any]], time: Callable[[Floats, Floats], Floats]) -> Curve:
    """Return the curve of rows of (n, mono_s, utc_s, four temperatures, duty, heat_on, stage).

    `time` makes the firing's own time (s) of the columns mono_s and utc_s.
    """
    columns = np.array([tuple(row) for row in rows], dtype=np.float64).reshape(-1, 10).T
    n, mono_s, utc_s, setpoint_c, air_c, load_c, limit_c, duty, heat_on, stage = columns
    return Curve(
        n=n.astype(np.int64),
        t_s=time(mono_s, utc_s),
        utc_s=utc_s,
        setpoint_c=setpoint_c,
        air_c=air_c,
        load_c=load_c,
        limit_c=limit_c,
        duty=duty,
        heat_on=heat_on > 0,
        stage=np.where(np.isnan(stage), NO_STAGE, stage).astype(np.int64),
    )


def thin(curve: Curve, points: int) -> Curve:
    """Return at most about `points` real rows of the curve, with its peaks, its gaps and its corners.

    The time is cut into equal parts; of each, the rows with the lowest and the highest air, load and limit
    are kept, and one without a value where there is one, so that a gap stays a gap. So are the first and
    last row, and the rows at each change of stage, beyond `points`.
    """
    if len(curve) <= points:
        return curve
    parts = np.array_split(np.arange(len(curve)), max(1, points // 9))
    kept = {0, len(curve) - 1}
    for column in (curve.air_c, curve.load_c, curve.limit_c):
        for part in parts:
            kept |= _telling(column, part)
    for change in np.flatnonzero(np.diff(curve.stage)):
        kept |= {int(change), int(change) + 1}
    return curve.rows(np.array(sorted(kept), dtype=np.int64))


def _telling(column: Floats, part: Ints) -> set[int]:
    """The rows of one part that a column needs: its lowest, its highest, the first without a value."""
    values = column[part]
    missing = np.isnan(values)
    found = {int(part[missing.argmax()])} if missing.any() else set()
    if missing.all():
        return found
    return found | {int(part[np.nanargmin(values)]), int(part[np.nanargmax(values)])}
