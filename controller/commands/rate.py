"""`stokehold rate N good|usable|scrap`: say how a casting turned out, at any time after the firing."""

from __future__ import annotations

import argparse

HELP = "say how the casting of a firing turned out: good, usable or scrap, and why"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command line."""
    parser.add_argument("number", metavar="N", help='the firing\'s number, or "last"')
    parser.add_argument("rating", choices=("good", "usable", "scrap"), help="how the casting turned out")
    parser.add_argument(
        "--why",
        metavar="REASON",
        nargs="+",
        default=[],
        help='reasons in a word or two each, such as crack, misrun, inclusion or "cold shut"',
    )
    parser.add_argument("--record", metavar="PATH", help="the record (default: the one in the home folder)")


def run(args: argparse.Namespace) -> int:
    """Write the rating through a short connection of its own, whether a controller runs or not."""
    import time

    from controller.home import record_path
    from controller.record.observing import write_observation
    from controller.record.queries import Record

    reasons = list(dict.fromkeys(word for why in args.why if (word := " ".join(why.split()))))
    path = record_path(args.record)
    number = Record(path).number(args.number)
    fields = {"rating": args.rating, "reasons": reasons, "says": ""}
    write_observation(path, number, "console", "rating", fields, time.time())
    print(f"Firing {number}: {args.rating}{' (' + ', '.join(reasons) + ')' if reasons else ''}.")
    return 0
