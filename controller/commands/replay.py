"""`stokehold replay N`: runs a recorded firing through the core and the guard again."""

from __future__ import annotations

import argparse

HELP = "run a recorded firing again, and tell the first tick that comes out differently"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("number", metavar="N", help='the firing\'s number, or "last"')
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")


def run(args: argparse.Namespace) -> int:
    """Run it again; exit status 1 when a tick differs."""
    from controller.home import record_path
    from controller.record.queries import Record
    from controller.replay import replay

    record = Record(record_path(args.record))
    number = record.number(args.number)
    done = replay(record, number)
    if done.difference is None:
        runs = "one run" if done.legs == 1 else f"{done.legs} runs"
        print(f"firing {number}: {done.ticks} ticks in {runs} of the controller, all the same again")
        return 0
    n, t_s, what, kept, again = done.difference
    print(
        f"firing {number}: tick {n}, {t_s / 3600.0:.3f} h after its start: {what} was {kept!r}, is {again!r}"
    )
    return 1
