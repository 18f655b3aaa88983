"""`stokehold kiln`: the simulated kiln in a process of its own."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

HELP = "run the simulated kiln, with its Modbus TCP face and its fault panel"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    add = parser.add_argument
    add("--port", type=int, default=5020, help="TCP port on 127.0.0.1; 0 takes a free one (default: 5020)")
    add("--speed", type=float, default=1.0, help="kiln seconds for each second on the wall (default: 1)")
    add("--seed", type=int, default=1, help="seed of the thermocouples' noise (default: 1)")
    add("--start-at", type=float, default=20.0, metavar="C", help="temperature at the start, degrees C")
    add("--write-config", type=Path, metavar="FILE", help="write the configuration that talks to this kiln")
    add(
        "--fault",
        action="append",
        default=[],
        metavar="NAME@SECONDS",
        help="switch a fault on after so many kiln seconds; may be given more than once",
    )
    add(
        "--with-parent",
        type=int,
        nargs="?",
        const=0,
        metavar="PID",
        help="end when the process that started this one (PID, where it is known) ends",
    )


def run(args: argparse.Namespace) -> int:
    """Run until SIGTERM, SIGINT or, if so asked, the parent's end."""
    # Taken first: a parent that ends while the rest is imported is noticed.
    parent = args.with_parent or os.getppid()
    import asyncio
    import logging

    from controller.errors import UsageError
    from controller.simulator import faults, process

    if not 0 <= args.port <= 65535:
        raise UsageError(f"--port: found {args.port}, expected 0 to 65535")
    if not 0.0 <= args.start_at <= 1300.0:
        raise UsageError(f"--start-at: found {args.start_at:g}, expected 0 to 1300 (degrees C)")
    # What goes wrong on the wire is told to the client; the library would tell it here again.
    logging.getLogger("pymodbus").setLevel(logging.CRITICAL)
    order = process.Order(
        port=args.port,
        speed=args.speed,
        seed=args.seed,
        start_c=args.start_at,
        config=args.write_config,
        due=[faults.due(text) for text in args.fault],
        parent=parent if args.with_parent is not None else None,
    )
    asyncio.run(process.run(order, lambda line: print(line, flush=True)))
    return 0
