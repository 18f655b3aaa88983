"""`stokehold report N`: the curve, the measures and what happened, on one page."""

from __future__ import annotations

import argparse

HELP = "draw the report of a firing, as PNG and PDF"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("number", metavar="N", help='the firing\'s number, or "last"')
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")
    parser.add_argument("--out", metavar="FOLDER", default=".", help="where to (default: here)")


def run(args: argparse.Namespace) -> int:
    """Write the report; print where it is, and the measures."""
    from pathlib import Path

    from controller.home import record_path
    from controller.record.queries import Record
    from controller.review.report import write_report
    from controller.review.tables import measure_lines

    record = Record(record_path(args.record))
    report = write_report(record, record.number(args.number), Path(args.out).expanduser())
    for path in (report.png, report.pdf):
        print(path)
    for name, value in measure_lines(report.measures):
        print(f"{name:<28}{value:>12}")
    return 0
