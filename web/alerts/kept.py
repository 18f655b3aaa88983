"""The alerts' state in a file beside the record, so that a page that starts anew tells nothing twice.

Times inside are of the monotonic clock, which means nothing to the next process: the file carries both
clocks' time of writing, and what is read is moved to the reader's own. A file that cannot be read is none:
then what stands is told anew, which wakes somebody once too often rather than never.
"""

from __future__ import annotations

import json
import os
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

from web.alerts.decide import Matter, Sent, State, Told
from web.alerts.facts import Last, Now, Underway
from web.alerts.words import Words

FILE_NAME = "alerts_state.json"
# What was remembered longer ago than this belongs to another firing, or to another year.
OLDEST_S = 7 * 86400.0


def to_text(state: State, now: Now) -> str:
    """Return a state as text."""
    plain = {"mono_s": now.mono_s, "utc_s": now.utc_s, "last": asdict(state.last)}
    plain["matters"] = [asdict(matter) for matter in state.matters]
    plain["sent"] = [tuple(sent) for sent in state.sent]
    return json.dumps(plain, separators=(",", ":"))


def from_text(text: str, now: Now) -> State:
    """Return a state from its text, its times moved to this process' clock; a fresh one if it is none."""
    try:
        plain = json.loads(text)
        away_s = max(0.0, now.utc_s - plain["utc_s"])
        if away_s > OLDEST_S:
            return State()
        return _state(plain, now.mono_s - away_s - plain["mono_s"])
    except (ValueError, KeyError, TypeError, AttributeError):
        return State()


def _state(plain: dict[str, Any], later_s: float) -> State:
    last, firing = plain["last"], plain["last"]["firing"]
    return State(
        tuple(_matter(one, later_s) for one in plain["matters"]),
        tuple(Sent(to, sort, at_s + later_s) for to, sort, at_s in plain["sent"]),
        Last(**{**last, "firing": Underway(**firing) if firing else None}),
    )


def _matter(plain: dict[str, Any], later_s: float) -> Matter:
    only = plain["only"]
    matter = Matter(
        **{
            **plain,
            "words": Words(*plain["words"]),
            "told": tuple(Told(to, times, last_s + later_s) for to, times, last_s in plain["told"]),
            "only": None if only is None else tuple(only),
        }
    )
    return replace(matter, noticed_s=matter.noticed_s + later_s)


def write(path: Path, text: str) -> None:
    """Put the text in the file's place in one stroke, readable by this user alone. Raises OSError."""
    new = path.with_suffix(".new")
    with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as file:
        file.write(text)
    new.replace(path)


def read(path: Path, now: Now) -> State:
    """Return what the file holds; a fresh state without one."""
    try:
        return from_text(path.read_text(encoding="utf-8"), now)
    except (OSError, UnicodeDecodeError):
        return State()
