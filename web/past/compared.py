"""Any number of firings laid over each other: which they are, their curves, and what they can be aligned on.

A few are read whole from their ticks. Of many, nothing is read but what is kept with the list's summaries, so
their number costs no wait; and all curves together have about as many points as a few have, so each of them
has fewer: its lowest and its highest in equal parts of its time. What is not summed up yet is `pending`.
"""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple

from controller.errors import StokeholdError
from controller.record.curve import thin
from controller.record.opening import PATIENCE_S, connect, one_clear_line
from controller.record.queries import Record
from controller.review.compare import Moments, shared
from web.past.facts import comparable
from web.past.firing import Past, columns
from web.past.summaries import Key, Summaries, Summary, thinned

# So many are read whole, a tenth of a second each for a night's firing.
A_FEW = 12
# All curves of a comparison together: what a browser draws without a wait. Each gets a fair part ...
POINTS_TOGETHER = 20_000
MOST_POINTS = 500
# ... but not less than shows that it climbs, holds and falls.
FEWEST_POINTS = 24
# Numbers and stretches of numbers, with commas: "3,5,20-180".
CHOSEN = r"^\d{1,9}(-\d{1,9})?(,\d{1,9}(-\d{1,9})?)*$"
# Every other firing of ten years (2,500) is 6,000 characters; the server takes no address of over 64 KiB.
LONGEST = 16_000

HEAD = (
    "SELECT id, title, started_utc_s, ended_utc_s, end_state FROM firing WHERE id BETWEEN ? AND ? ORDER BY id"
)


class NoSuchError(StokeholdError):
    """One of the firings that were asked for by its number is not there."""


class Head(NamedTuple):
    """What the record's short columns say of a firing."""

    number: int
    title: str
    started_utc_s: float
    ended_utc_s: float | None
    result: str | None

    def key(self) -> Key:
        return Key(self.number, self.started_utc_s, self.ended_utc_s)

    def told(self) -> dict[str, Any]:
        return {
            "firing": self.number,
            "title": self.title,
            "started_utc_s": self.started_utc_s,
            "ended_utc_s": self.ended_utc_s,
            "result": self.result,
        }


def chosen(record: Path, text: str) -> list[Head]:
    """Return the firings that a text names, each once, in its order; of a stretch, those that there are.

    Raises NoSuchError for a number without a firing, RecordError where the record cannot be read.
    """
    found: dict[int, Head] = {}
    with one_clear_line(record), closing(connect(record, "ro", PATIENCE_S)) as connection:
        for part in text.split(","):
            first, _, last = part.partition("-")
            rows = [Head(*row) for row in connection.execute(HEAD, (int(first), int(last or first)))]
            if not rows:
                raise NoSuchError(f"there is no firing {part.replace('-', ' to ')}")
            found.update((row.number, row) for row in rows if row.number not in found)
    return list(found.values())


def compare(past: Past, summaries: Summaries, heads: list[Head]) -> dict[str, Any]:
    """Return the firings with what they can be aligned on. Raises RecordError."""
    points = max(FEWEST_POINTS, min(MOST_POINTS, POINTS_TOGETHER // max(1, len(heads))))
    if len(heads) <= A_FEW:
        firings = [_whole(past, head, points) for head in heads]
    else:
        there = summaries.get([head.key() for head in heads])
        firings = [_kept(head, there[head.number], points) for head in heads if head.number in there]
    moments = [Moments(each["begins_s"], each["pour_s"]) for each in firings]
    pending = len(heads) - len(firings)
    return {"firings": firings, "stages": shared(moments), "pending": pending, "a_few": len(heads) <= A_FEW}


def _whole(past: Past, head: Head, points: int) -> dict[str, Any]:
    seen, events = past.seen(head.number), Record(past.path).events(head.number)
    curve = columns(thin(seen.curve, points), ("t_s", "air_c"))
    lasted_s = curve["t_s"][-1] if len(seen.curve) else 0.0
    return {**head.told(), **comparable(seen.measures, events), "duration_s": lasted_s, "curve": curve}


def _kept(head: Head, summary: Summary, points: int) -> dict[str, Any]:
    kept = {name: summary["facts"][name] for name in ("measures", "begins_s", "pour_s")}
    t_s, air_c = thinned(summary, points)
    return {
        **head.told(),
        **kept,
        "duration_s": summary["duration_s"],
        "curve": {"t_s": t_s, "air_c": air_c},
    }
