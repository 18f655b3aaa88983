"""`stokehold commission`: leads a person at the kiln through bring-up, one thing at a time."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "bring a kiln up: check sensors, contacts, relay, lease, contactor, limit and a low heat, step by step"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("--kiln", type=Path, required=True, metavar="FILE", help="the kiln's configuration")
    parser.add_argument("--home", type=Path, metavar="FOLDER", help="where the results are kept")
    parser.add_argument("--by", metavar="NAME", help="who does it (default: ask)")
    parser.add_argument("--step", metavar="NAME", help="do this step alone, whether or not it stands")
    parser.add_argument("--list", action="store_true", help="show what is done and what is missing")
    parser.add_argument(
        "--speed",
        type=float,
        default=1.0,
        help="kiln seconds a second; other than 1 only for a simulated kiln",
    )


def run(args: argparse.Namespace) -> int:
    """Lead through what is missing; 0 when nothing is then, or the one step passed. The heat ends off."""
    from datetime import date

    from controller.assemble import lock_home, lock_kiln
    from controller.clock import SystemClock
    from controller.commands.controller import check_speed
    from controller.commands.ending import as_ctrl_c
    from controller.commissioning.course import lead, listing
    from controller.commissioning.person import Console
    from controller.commissioning.rig import Bench
    from controller.config import load_kiln
    from controller.errors import UsageError
    from controller.home import default_home
    from controller.wire.kiln_wire import open_wire

    config = load_kiln(args.kiln)
    check_speed(args.speed, config.simulated, args.kiln)
    home = (args.home or default_home()).expanduser()
    keeper_s = max(0.01, config.tick_s / args.speed / 4)
    bench = Bench(config, home, SystemClock(args.speed), Console(), open_wire, keeper_s)
    if args.list:
        lines = listing(bench, date.today())
        print("\n".join(lines))
        return 1 if any(line.startswith("missing") for line in lines) else 0
    # No controller may run on the same kiln meanwhile, whatever its home.
    locks = (lock_home(home), lock_kiln(config))
    as_ctrl_c()  # ends with the heat off
    try:
        by = args.by or bench.person.ask("Who does this commissioning?")
        if not by.strip():
            raise UsageError("--by: found nobody, expected the name of whoever does the commissioning")
        for line in CAUTIONS:
            print(line)
        return 0 if lead(bench, by.strip(), date.today, args.step or "") else 1
    finally:
        for lock in locks:
            lock.close()


CAUTIONS = (
    "Before anything is switched: the mains side is a licensed electrician's work, by your local code;",
    "an independent over-temperature limit with its own sensor and its own contactor must be in place.",
    "Never touch a thermocouple while the elements can be live. None of this makes a kiln safe.",
)
