"""Who may reach what: one table, and the gate (safety.py) asks nobody else.

A **watcher** sees everything of the kiln and may hold and abort: from afar it can only get colder. It
may also look ahead: draw a schedule, forecast it, read what would be looked at before a start. An
**operator** may ask for everything else as well; whatever leads to more heat still needs the code on the
kiln's own console, which the controller checks. **Anyone** may reach only what pairing itself needs,
and whether all is well. The kiln's own computer is an operator (see `own_computer` in caller.py).

A new address needs no row: what only reads is for watchers, whatever else for operators.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Literal, NamedTuple

Role = Literal["anyone", "watcher", "operator"]
RANK: dict[str, int] = {"anyone": 0, "watcher": 1, "operator": 2}


class Rule(NamedTuple):
    """`method`: GET (and HEAD), POST, or * for any. `path`: `*` is one part, `**` all that follows."""

    method: str
    path: str
    role: Role
    why: str


# The first row that fits decides.
TABLE = (
    Rule("GET", "/pair", "anyone", "where the code is typed"),
    Rule("GET", "/static/**", "anyone", "the pages' own parts; nothing of the kiln is in them"),
    Rule("POST", "/api/pair", "anyone", "a code is traded for a token; tries are limited"),
    Rule("GET", "/api/device", "anyone", "tells a device what it is itself"),
    Rule(
        "GET", "/api/health/well", "anyone", "an outside monitor holds no token; it learns well or not well"
    ),
    Rule("POST", "/api/requests/abort", "watcher", "it can only get colder"),
    Rule("POST", "/api/requests/hold", "watcher", "no hotter than it is"),
    Rule("POST", "/api/requests/prefire", "watcher", "only asks what is to be looked at; starts nothing"),
    Rule("POST", "/api/forecast", "watcher", "only works out; keeps nothing"),
    Rule("POST", "/api/schedules/draw", "watcher", "only draws a text; keeps nothing"),
    Rule("POST", "/api/job", "watcher", "only says what is wrong with a sheet; keeps nothing"),
    Rule("GET", "/devices", "operator", "the paired devices"),
    Rule("GET", "/api/devices", "operator", "the paired devices"),
    Rule("GET", "/**", "watcher", "whatever only reads"),
    Rule("*", "/**", "operator", "whatever else there is, and will be"),
)


def needed(method: str, path: str) -> Role:
    """Return the least role that may reach an address. Nothing is for anyone unless a row says so."""
    method = "GET" if method == "HEAD" else method
    for rule in TABLE:
        if rule.method in (method, "*") and _pattern(rule.path).fullmatch(path):
            return rule.role
    return "operator"


def may(role: str, method: str, path: str) -> bool:
    """Whether a caller of this role may reach an address."""
    return RANK[role] >= RANK[needed(method, path)]


@cache
def _pattern(path: str) -> re.Pattern[str]:
    parts = {"**": ".*", "*": "[^/]+"}
    return re.compile(
        "".join(parts.get(each) or re.escape(each) for each in re.split(r"(\*\*|\*)", path)), re.S
    )
