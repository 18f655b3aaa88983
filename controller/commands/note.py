"""`stokehold note N TEXT`: write something about a firing into the record, at any time."""

from __future__ import annotations

import argparse

HELP = "add a note to a firing"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("number", metavar="N", help='the firing\'s number, or "last"')
    parser.add_argument("text", metavar="TEXT", nargs="+", help="what there is to say")
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")


def run(args: argparse.Namespace) -> int:
    """Write the note through a short connection of its own, whether a controller runs or not."""
    import time

    from controller.errors import UsageError
    from controller.home import record_path
    from controller.record.journal import write_note
    from controller.record.queries import Record

    text = " ".join(" ".join(args.text).split())
    if not text:
        raise UsageError("note: found no words, expected what there is to say")
    path = record_path(args.record)
    number = Record(path).number(args.number)
    write_note(path, number, "console", text, time.time())
    print(f"Firing {number}: noted.")
    return 0
