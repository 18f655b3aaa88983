"""`stokehold job N [FILE]`: the job sheet of a firing; with a file, a newer one, at any time."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "show the job sheet of a firing, or give it a newer one (drained plastic weighed, say)"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("number", metavar="N", help='the firing\'s number, or "last"')
    parser.add_argument("file", metavar="JOB.toml", nargs="?", type=Path, help="the newer job sheet")
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")


def run(args: argparse.Namespace) -> int:
    """Print the sheet that counts, or write a newer one through a short connection of its own."""
    import time

    from controller.forecast.job_file import load_job
    from controller.home import record_path
    from controller.record.jobs import job_of, write_job
    from controller.record.queries import Record

    path = record_path(args.record)
    number = Record(path).number(args.number)
    if args.file is not None:
        write_job(path, number, "console", load_job(args.file).text, time.time())
        print(f"Firing {number}: the job sheet is kept; it counts from now on.")
        return 0
    sheet = job_of(path, number)
    if sheet is None:
        print(f"Firing {number} carries no job sheet.")
        return 1
    print(sheet.text.rstrip("\n"))
    return 0
