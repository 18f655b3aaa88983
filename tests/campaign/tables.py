"""The campaign of faults as tables for a person."""

from __future__ import annotations

from collections.abc import Sequence

from rich.table import Table

from controller.guard import ROWS
from tests.campaign.kilns import CEILING_C
from tests.campaign.runs import Outcome
from tests.faults.cases import faults_of


def by_fault(outcomes: list[Outcome], names: Sequence[str]) -> Table:
    """A line for each fault, with the runs in which it stood alone or with another."""
    table = _table(
        f"Faults; ceiling {CEILING_C:.0f} C, setpoint at most 400 C",
        ("fault", "runs", "found", "tripped", "worst time (s)", "hottest air", "hottest load", "unsafe"),
    )
    for name in names:
        mine = [one for one in outcomes if one.run.faults[0] == name and not one.beyond_software]
        if mine:
            table.add_row(
                name,
                str(len(mine)),
                str(sum(bool(one.found) for one in mine)),
                str(sum(one.tripped for one in mine)),
                *_worst(mine),
                str(sum(not one.safe for one in mine)),
            )
    return table


def by_row(faulty: list[Outcome], healthy: list[Outcome]) -> Table:
    """A line for each row of the guard: the runs with its own faults, and what was found of them.

    `found`: by any row; `by this row`: it stood at some moment, be it first or after another.
    """
    table = _table(
        "The guard's rows, each by the faults that set it off",
        (
            *("row", "runs", "found", "by this row", "worst time (s)", "hottest air", "hottest load"),
            *("unsafe", "false trips"),
        ),
    )
    for row in ROWS:
        own = set(faults_of(row.id))
        mine = [one for one in faulty if one.run.faults[0] in own and not one.beyond_software]
        if mine:
            table.add_row(
                row.id,
                str(len(mine)),
                str(sum(bool(one.found) for one in mine)),
                str(sum(row.id in one.found for one in mine)),
                *_worst(mine),
                str(sum(not one.safe for one in mine)),
                str(sum(row.id in one.found for one in healthy)),
            )
    return table


def _table(title: str, headings: tuple[str, ...]) -> Table:
    table = Table(title=title)
    for place, heading in enumerate(headings):
        table.add_column(heading, justify="right" if place else "left")
    return table


def _worst(mine: list[Outcome]) -> tuple[str, str, str]:
    """The longest time to a finding, the hottest air and the hottest load."""
    return (
        f"{max((one.found_s or 0.0 for one in mine), default=0.0):.0f}",
        f"{max(one.hottest_air_c for one in mine):.0f} C",
        f"{max(one.hottest_load_c for one in mine):.0f} C",
    )
