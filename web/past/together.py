"""Many firings looked at together: what rated castings had in common, and how the kiln grows old.

No ticks are read here: what is needed of them is kept with the list's summaries, and what is not there yet is
being made; `pending` says of how many firings that is true.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Any

from controller.record.observed import observations_of_all
from controller.record.opening import PATIENCE_S, connect, one_clear_line
from controller.review.ageing import Fired, change, near_c, needed
from controller.review.casting import Casting, caution, counts, reasons, side_by_side
from controller.review.kiln_text import relay_life
from controller.review.observed import Observed, gather
from web.past.facts import Facts, measure, steady
from web.past.summaries import Key, Summaries, Summary

ENDED = "SELECT id, started_utc_s, ended_utc_s FROM firing WHERE ended_utc_s IS NOT NULL ORDER BY id"
OF_A_KILN = (
    "SELECT id, started_utc_s, ended_utc_s FROM firing WHERE ended_utc_s IS NOT NULL"
    " AND kiln_name = ? AND simulated = ? ORDER BY id"
)
NEWEST = "SELECT kiln_name, simulated, kiln_text FROM firing ORDER BY id DESC LIMIT 1"


def common(record: Path, summaries: Summaries) -> dict[str, Any]:
    """Return rated castings side by side, and cracks against the rise. Raises RecordError."""
    every = observations_of_all(record) if record.exists() else {}
    seen = {number: gather(rows) for number, rows in every.items()}
    told = {number: each for number, each in seen.items() if each.rating or each.looked}
    keys = [key for key in _keys(record, ENDED) if key.number in told]
    there = summaries.get(keys)
    castings = [_casting(number, told[number], summary) for number, summary in there.items()]
    rated = [casting for casting in castings if casting.rating]
    counted = counts(rated)
    return {
        "rows": [
            {**row.compared._asdict(), "by": {name: m and m._asdict() for name, m in row.by_rating.items()}}
            for row in side_by_side(rated)
        ],
        "counts": counted,
        "says": caution(counted),
        "reasons": reasons(rated),
        "cracks": [_crack(casting) for casting in castings if _has_both(casting)],
        "pending": len(keys) - len(there),
    }


def kiln(record: Path, summaries: Summaries) -> dict[str, Any]:
    """Return how the kiln of the newest firing grows old. Raises RecordError."""
    name, simulated, text = next(iter(_rows(record, NEWEST)), ("", False, ""))
    keys = _keys(record, OF_A_KILN, name, simulated)
    there = summaries.get(keys)
    began = {key.number: key.started_utc_s for key in keys}
    fired = [_fired(number, began[number], summary["facts"]) for number, summary in there.items()]
    at_c = near_c(fired)
    points = needed(fired, at_c) if at_c is not None else []
    return {
        "kiln": name,
        "at_c": at_c,
        "points": [point._asdict() for point in points],
        "change": change(points),
        "switchings": sum(each.switchings for each in fired),
        "relay_life": relay_life(text),
        "firings": len(fired),
        "pending": len(keys) - len(there),
    }


def _fired(number: int, utc_s: float, kept: Facts) -> Fired:
    cycles = int(measure(kept, "switchings") or 0)
    return Fired(number, utc_s, kept["power_w"], steady(kept), cycles)


def _casting(number: int, seen: Observed, summary: Summary) -> Casting:
    kept = summary["facts"]
    values: dict[str, float | None] = {
        "rise_c_per_h": measure(kept, "rise_through_c_per_h"),
        "cracks": seen.crack_count,
        "wait_h": measure(kept, "wait_h"),
        "drained_kg": seen.drained_kg,
        "hot_h": measure(kept, "hot_h"),
        "peak_c": summary["peak_c"],
        "heat_work_h": measure(kept, "heat_work_h"),
        "pour_c": measure(kept, "pour_c"),
    }
    rating = seen.rating
    return Casting(number, rating.rating if rating else "", rating.reasons if rating else (), values)


def _has_both(casting: Casting) -> bool:
    return casting.values["cracks"] is not None and casting.values["rise_c_per_h"] is not None


def _crack(casting: Casting) -> dict[str, Any]:
    values = casting.values
    return {
        "firing": casting.firing,
        "rating": casting.rating,
        "rise_c_per_h": values["rise_c_per_h"],
        "cracks": values["cracks"],
    }


def _keys(record: Path, wanted: str, *values: object) -> list[Key]:
    return [Key(*row) for row in _rows(record, wanted, *values)]


def _rows(record: Path, wanted: str, *values: object) -> list[tuple[Any, ...]]:
    if not record.exists():
        return []
    with one_clear_line(record), closing(connect(record, "ro", PATIENCE_S)) as connection:
        return connection.execute(wanted, values).fetchall()
