"""`stokehold export N`: every tick of a firing as comma-separated values, with units in the header."""

from __future__ import annotations

import argparse

HELP = "write a firing's ticks as CSV, with units in the header, and its job sheet beside them"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("number", metavar="N", help='the firing\'s number, or "last"')
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")
    parser.add_argument(
        "--out", metavar="FILE", default="-", help='where to; "-", the default, is standard output'
    )


def run(args: argparse.Namespace) -> int:
    """Write the ticks."""
    import sys
    from pathlib import Path

    from controller.errors import UsageError
    from controller.home import record_path
    from controller.record.export import export, export_job
    from controller.record.queries import Record

    record = Record(record_path(args.record))
    number = record.number(args.number)
    if args.out == "-":
        export(record, number, sys.stdout)
        return 0
    path = Path(args.out).expanduser()
    try:
        with path.open("w", newline="", encoding="utf-8") as file:
            count = export(record, number, file)
        sheet = export_job(record, number, path)
    except OSError as error:
        raise UsageError(
            f"export: found that {path} cannot be written ({error.strerror}), expected a file that can be"
        ) from error
    print(f"{path}: {count} ticks of firing {number}")
    if sheet is not None:
        print(f"{sheet}: its job sheet")
    return 0
