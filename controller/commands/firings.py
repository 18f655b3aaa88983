"""`stokehold firings`: the list of what the record has, newest first."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.text import Text

    from controller.record.rows import FiringSummary

HELP = "list the firings in the record, newest first"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")
    parser.add_argument("--limit", type=int, default=30, metavar="COUNT", help="how many (default: 30)")


def run(args: argparse.Namespace) -> int:
    """Print the list; 0 also when there is nothing to list."""
    from rich import box
    from rich.console import Console
    from rich.table import Table

    from controller.home import record_path
    from controller.record.queries import Record

    found = Record(record_path(args.record)).firings(max(1, args.limit))
    if not found:
        print("The record has no firing yet.")
        return 0
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    table.add_column("firing", justify="right")
    table.add_column("started", no_wrap=True)
    table.add_column("title", overflow="fold")
    table.add_column("kiln", overflow="fold")
    table.add_column("lasted\n(h:min)", justify="right", no_wrap=True)
    table.add_column("peak\n(C)", justify="right", no_wrap=True)
    table.add_column("result", min_width=8, overflow="fold")
    for firing in found:
        table.add_row(*_cells(firing))
    Console(highlight=False).print(table)
    return 0


def _cells(firing: FiringSummary) -> list[Text]:
    from rich.text import Text  # a Text, because a title may have brackets, which rich would read as style

    from controller.record.times import hours_minutes, local

    peak = "" if firing.peak_air_c is None else f"{firing.peak_air_c:.0f}"
    result = firing.end_state or "no end"
    return [
        Text(str(firing.id)),
        Text(local(firing.started_utc_s)),
        Text(firing.title),
        Text(firing.kiln_name),
        Text(hours_minutes(firing.duration_s)),
        Text(peak),
        Text(result, style="" if result == "complete" else "bold red" if result == "aborted" else "bold"),
    ]
