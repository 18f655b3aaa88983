"""Kills of the controller, of the page and of both, by the hundred; see tests/survival/kills.py."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from tests.survival.kills import Tally, controller_kills, kills_of_both, web_kills

# Kills in one firing: enough firings that one bad night does not hide another.
A_FIRING = 25
Kill = Callable[[Path, int, int], Tally]
KINDS: tuple[tuple[str, Kill, float, int], ...] = (
    ("the controller", controller_kills, 1.0, 1000),
    ("the page", web_kills, 0.25, 2000),
    ("both at once", kills_of_both, 0.25, 3000),
)


def survival(kills: int, console: Console) -> dict[str, Any]:
    """Kill the controller so often, the page and both a quarter as often; print a table, return figures."""
    table = Table(title="Kills at random moments of a firing, eight times as fast as a kiln")
    for heading in (
        "killed",
        "kills",
        "in heat",
        "leases ended (the kiln's count)",
        "longest heat after it (s)",
        "most ticks missing",
        "resumed by the rule",
        "longest gap between ticks (s)",
        "broken promises",
    ):
        table.add_column(heading, justify="left" if heading == "killed" else "right")
    figures: dict[str, Any] = {}
    for what, kill, share, seed in KINDS:
        tallies = _firings(kill, round(kills * share), seed)
        one = _added(tallies)
        figures[what.removeprefix("the ").replace(" ", "_")] = {
            "kills": one.kills,
            "killed_in_heat": one.heated,
            "lease_ends": one.lease_ends,
            "longest_heat_s": round(one.worst_off_s, 2),
            "most_ticks_missing": one.most_missing,
            "resumed": one.resumed,
            "longest_gap_s": round(one.worst_gap_s, 2),
            "broken": one.trouble,
        }
        table.add_row(
            what,
            str(one.kills),
            str(one.heated),
            str(one.lease_ends),
            f"{one.worst_off_s:.1f}",
            str(one.most_missing),
            str(one.resumed),
            f"{one.worst_gap_s:.1f}" if one.worst_gap_s else "",
            str(len(one.trouble)),
        )
        for trouble in one.trouble:
            console.print(f"  {what}: {trouble}")
    console.print(table)
    return figures


def _firings(kill: Kill, kills: int, seed: int) -> list[Tally]:
    """Spread the kills over firings, each in a home of its own."""
    tallies = []
    while kills > 0:
        now, kills = min(A_FIRING, kills), max(0, kills - A_FIRING)
        with tempfile.TemporaryDirectory(prefix="stokehold-") as home:
            tallies.append(kill(Path(home), now, seed + len(tallies)))
    return tallies


def _added(tallies: list[Tally]) -> Tally:
    """Add them up; of the worst, the worst."""
    return Tally(
        kills=sum(one.kills for one in tallies),
        heated=sum(one.heated for one in tallies),
        lease_ends=sum(one.lease_ends for one in tallies),
        worst_off_s=max((one.worst_off_s for one in tallies), default=0.0),
        most_missing=max((one.most_missing for one in tallies), default=0),
        resumed=sum(one.resumed for one in tallies),
        worst_gap_s=max((one.worst_gap_s for one in tallies), default=0.0),
        trouble=[trouble for one in tallies for trouble in one.trouble],
    )
