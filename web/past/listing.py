"""The list of past firings: what stands in the record's short columns, with the summaries that are there."""

from __future__ import annotations

import tomllib
from contextlib import closing
from pathlib import Path
from typing import Any

from controller.record.opening import PATIENCE_S, connect, one_clear_line, open_to_read
from web.past.summaries import Key, Summaries, Summary

# One screenful after another: at fifty the browser draws at once and the answer stays small.
PAGE = 50

ROWS = """
SELECT id, title, kiln_name, simulated, speed, started_utc_s, ended_utc_s, end_state,
       (SELECT count(*) FROM note WHERE note.firing = firing.id),
       (SELECT count(*) FROM photo WHERE photo.firing = firing.id),
       (SELECT json_extract(fields, '$.rating') FROM observation
        WHERE observation.firing = firing.id AND kind = 'rating' ORDER BY id DESC LIMIT 1),
       (SELECT text FROM job WHERE job.firing = firing.id ORDER BY id DESC LIMIT 1)
FROM firing WHERE id < ? ORDER BY id DESC LIMIT ?
"""
NAMES = (
    "firing",
    "title",
    "kiln",
    "simulated",
    "speed",
    "started_utc_s",
    "ended_utc_s",
    "result",
    "notes",
    "photos",
    "rating",
    "job",
)
EVERY = 2**62  # beyond every number


class Listing:
    """Gives pages of the list, newest first."""

    def __init__(self, record: Path) -> None:
        self._record = record
        self.summaries = Summaries(record)

    def page(self, before: int | None = None) -> dict[str, Any]:
        """Return the newest firings with a number below `before`. Raises RecordError.

        `summary` None: it is being made; ask again in a moment. `more`: there are older ones.
        """
        if not self._record.exists():
            return {"firings": [], "more": False, "says": "There is no record yet: nothing was fired here."}
        open_to_read(self._record).dispose()  # says in one line what ails the record
        with one_clear_line(self._record), closing(connect(self._record, "ro", PATIENCE_S)) as connection:
            asked = (EVERY if before is None else before, PAGE + 1)
            rows = [dict(zip(NAMES, row, strict=True)) for row in connection.execute(ROWS, asked)]
        shown = rows[:PAGE]
        summaries = self.summaries.get(
            [Key(row["firing"], row["started_utc_s"], row["ended_utc_s"]) for row in shown]
        )
        firings = [
            row | {"job": _title(row["job"]), "summary": _small(summaries.get(row["firing"]))}
            for row in shown
        ]
        return {"firings": firings, "more": len(rows) > PAGE, "says": ""}


def _small(summary: Summary | None) -> dict[str, Any] | None:
    """Return what the list draws of a summary."""
    return {name: value for name, value in summary.items() if name != "facts"} if summary else None


def _title(job: str | None) -> str:
    """Return the title of a job sheet; empty where there is none."""
    try:
        return str(tomllib.loads(job).get("title", "")) if job else ""
    except tomllib.TOMLDecodeError:
        return ""
