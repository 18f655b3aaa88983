"""`stokehold demo`: a whole burnout on a simulated kiln, over a real wire, in about five minutes."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "run a whole burnout on a simulated kiln, faster than real time"
SPEED = 160.0  # the PLA schedule's 13 to 14 hours in about five minutes


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("schedule", nargs="?", default="printed-pla-silica-shell", help="a profile or a file")
    parser.add_argument(
        "--speed", type=float, default=SPEED, help=f"kiln seconds a second (default {SPEED:g})"
    )
    parser.add_argument("--unattended", action="store_true", help="answer every checkpoint, then exit")
    parser.add_argument("--json", action="store_true", help="print the result as JSON on the last line")
    parser.add_argument(
        "--port", type=int, default=8321, help="the page's port (default 8321, or a free one)"
    )
    parser.add_argument(
        "--home", type=Path, metavar="FOLDER", default=Path("build/demo"), help="where to keep it"
    )
    parser.add_argument(
        "--fault", action="append", default=[], metavar="NAME@SECONDS", help=argparse.SUPPRESS
    )


def run(args: argparse.Namespace) -> int:
    """Run the demo; exit status 0 only when the firing is complete."""
    import json

    from controller.commands.controller import check_speed
    from controller.demo import Demo

    check_speed(args.speed, True, "demo")
    demo = Demo(
        args.schedule,
        args.home.expanduser().absolute(),
        args.port,
        args.speed,
        unattended=args.unattended,
        faults=args.fault,
    )
    result = demo.run()
    if args.json:
        print(json.dumps(result), flush=True)
    return 0 if result["state"] == "complete" else 1
