"""`stokehold start SCHEDULE`: start a firing from the kiln's own computer."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "start a firing on the controller that runs"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("schedule", help="a profile's name, or a schedule file")
    parser.add_argument("--home", type=Path, metavar="FOLDER", help="the controller's home folder")
    parser.add_argument(
        "--presence", metavar="CODE", help="the code on the kiln's console (default: ask for it)"
    )


def run(args: argparse.Namespace) -> int:
    """Send the schedule's whole text, so that it is the file that you see that runs."""
    from controller.commands.ask import send
    from controller.schedule.index import find

    path = find(args.schedule)
    text = path.read_text(encoding="utf-8")
    return send(args, {"request": "start", "schedule": text, "name": path.name})
