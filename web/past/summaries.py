"""What the list shows of a firing: how long, how hot, and a small curve. Worked out once, then kept; and with
it whatever else would have to be read out of ticks again and again (facts.py).

The list must not read ticks: ten years are a hundred million. So a summary is made in the background when a
list first asks for it, and kept in a file beside the record (`summaries.json`), by number and by when the
firing began and ended; whatever does not fit the record any more is made anew. A file that is missing,
broken or cannot be written costs time and nothing else. A firing that goes on is summed up again each half
minute, in memory only.
"""

from __future__ import annotations

import json
import logging
import os
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple, TypedDict

import numpy as np

from controller.errors import RecordError
from controller.record.curve import Curve, Floats
from controller.record.queries import Record
from controller.record.rows import EventSeen, Firing
from web.past.facts import Facts, checked, facts
from web.past.ticks import read_curve

FILE_NAME = "summaries.json"
VERSION = 3
PARTS = 40  # of a small curve, each with its lowest and its highest: about what its width can show
AGAIN_S = 30.0  # a firing that goes on is summed up again after this
KEEP_EVERY = 50  # summaries between two writings of the file: a page of the list
log = logging.getLogger(__name__)


class Summary(TypedDict):
    """`t_s` and `c`: the small curve of the air, in seconds and whole degrees. `peak_c` None: no reading.

    `facts`: what else is worked out of a firing's ticks once (facts.py).
    """

    duration_s: float
    peak_c: float | None
    t_s: list[int]
    c: list[int]
    facts: Facts


class Key(NamedTuple):
    """Which firing, and which state of it: a summary is of one key."""

    number: int
    started_utc_s: float
    ended_utc_s: float | None

    def text(self) -> str:
        return f"{self.number}/{self.started_utc_s:.3f}/{self.ended_utc_s or 0:.3f}"


class Summaries:
    """Gives what is there at once, and has the rest made by one thread in the background."""

    def __init__(self, record: Path) -> None:
        self._record = record
        self._file = record.parent / FILE_NAME
        self._kept: dict[str, Summary] | None = None
        self._going: dict[str, tuple[float, Summary]] = {}
        self._wanted: dict[Key, None] = {}
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None

    def get(self, keys: list[Key]) -> dict[int, Summary]:
        """Return the summaries that are there, by number; the others are begun."""
        with self._lock:
            kept = self._load()
            found, missing = {}, []
            for key in keys:
                text = key.text()
                made_s, going = self._going.get(text, (0.0, None))
                if (summary := kept.get(text) or going) is not None:
                    found[key.number] = summary
                if text not in kept and (going is None or time.monotonic() - made_s > AGAIN_S):
                    missing.append(key)
            if missing:
                self._begin(missing)
        return found

    def _begin(self, missing: list[Key]) -> None:
        """What was asked for last is made first: somebody looks at it now."""
        self._wanted = dict.fromkeys(missing) | self._wanted
        if self._thread is None or not self._thread.is_alive():
            self._thread = threading.Thread(target=self._work, name="summaries", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        """Make what is wanted, with a pause as long as each took: a live page goes before."""
        new = 0
        while True:
            with self._lock:
                key = next(iter(self._wanted), None)
                if key is None and not new:
                    self._thread = None  # under the lock: whoever wants more from now on starts another
                    return
                kept = dict(self._kept or {}) if key is None or new >= KEEP_EVERY else None
            if kept is not None:
                self._write(kept)
                new = 0
            if key is not None:
                began_s = time.monotonic()
                new += self._make(key)
                time.sleep(time.monotonic() - began_s)

    def _make(self, key: Key) -> bool:
        """Make one; return whether it is one to keep."""
        try:
            made = self._summed_up(key.number)
        except RecordError as error:
            log.debug("no summary: %s", error)
            made = None
        with self._lock:
            self._wanted.pop(key, None)
            if made is None or self._kept is None:
                return False
            if key.ended_utc_s is None:
                self._going = {key.text(): (time.monotonic(), made)}
                return False
            self._kept[key.text()] = made
            return True

    def _summed_up(self, number: int) -> Summary:
        record = Record(self._record)
        return summary(read_curve(self._record, number), record.firing(number), record.events(number))

    def _load(self) -> dict[str, Summary]:
        if self._kept is None:
            self._kept = _read(self._file)
        return self._kept

    def _write(self, kept: dict[str, Summary]) -> None:
        """Put the file in place whole. Nothing is lost but time when that fails."""
        new = self._file.with_suffix(f".{os.getpid()}.new")
        try:
            new.write_text(json.dumps({"version": VERSION, "firings": kept}, separators=(",", ":")))
            new.replace(self._file)
        except OSError as error:
            log.debug("summaries cannot be kept: %s", error)
            new.unlink(missing_ok=True)


def _read(file: Path) -> dict[str, Summary]:
    try:
        kept = json.loads(file.read_text())
        if kept["version"] == VERSION:
            return {text: _checked(each) for text, each in kept["firings"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        pass  # none yet, or none that can be used: they are made anew
    return {}


def _checked(kept: dict[str, object]) -> Summary:
    """Return a summary as the file has it. Raises KeyError or TypeError for what is none."""
    numbers = [kept["duration_s"], kept["peak_c"] or 0.0, *kept["t_s"], *kept["c"]]  # type: ignore[misc]
    if len(kept["t_s"]) != len(kept["c"]) or not all(isinstance(each, int | float) for each in numbers):  # type: ignore[arg-type]
        raise TypeError
    checked(kept["facts"])
    return kept  # type: ignore[return-value]


def thinned(kept: Summary, points: int) -> tuple[list[int], list[int]]:
    """Return a small curve with at most about so many points: of equal parts, the lowest and the highest."""
    t_s, c = kept["t_s"], kept["c"]
    if len(c) <= points:
        return t_s, c
    rows = _lows_and_highs(np.asarray(c, dtype=np.float64), points // 2 - 1)
    return [t_s[row] for row in rows], [c[row] for row in rows]


def _lows_and_highs(c: Floats, parts: int) -> list[int]:
    """Return the first row, the last, and of each part the rows with its lowest and its highest."""
    kept = {0, len(c) - 1} if len(c) else set()
    for part in np.array_split(np.arange(len(c)), parts):
        if len(part):
            kept |= {int(part[c[part].argmin()]), int(part[c[part].argmax()])}
    return sorted(kept)


def summary(curve: Curve, firing: Firing, events: Sequence[EventSeen] = ()) -> Summary:
    """Sum a firing up. A part without a reading is left out of its small curve."""
    known = ~np.isnan(curve.air_c)
    t_s, c = curve.t_s[known], curve.air_c[known]
    kept = _lows_and_highs(c, PARTS)
    return {
        "duration_s": round(float(curve.t_s[-1]), 1) if len(curve) else 0.0,
        "peak_c": round(float(c.max()), 1) if len(c) else None,
        "t_s": [round(float(t)) for t in t_s[kept]],
        "c": [round(float(value)) for value in c[kept]],
        "facts": facts(curve, firing, events),
    }
