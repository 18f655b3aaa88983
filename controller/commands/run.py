"""`stokehold run`: the controller process and the page's process, side by side.

This process only watches: it starts both, starts the page again when it dies, and starts the controller
again when that dies (the heat is off by then, because its lease has run out). Killing it ends both.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from controller.commands.web import outside_arguments, outside_of, outside_options

HELP = "run a kiln: the controller and the page"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("--kiln", type=Path, required=True, metavar="FILE", help="the kiln's configuration")
    parser.add_argument(
        "--home", type=Path, metavar="FOLDER", help="where the record and the latches are kept"
    )
    parser.add_argument("--port", type=int, default=8321, help="the page's port on this computer (0: any)")
    parser.add_argument(
        "--speed",
        type=float,
        default=1.0,
        help="kiln seconds a second; other than 1 only for a simulated kiln",
    )
    parser.add_argument("--quiet-code", action="store_true", help=argparse.SUPPRESS)
    outside_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Start both processes and watch them until told to stop."""
    import threading

    from controller.commands.controller import check_speed
    from controller.commands.ending import on_ending
    from controller.config import load_kiln
    from controller.home import default_home
    from controller.supervise import Supervisor, free_port

    check_speed(args.speed, load_kiln(args.kiln).simulated, args.kiln)
    outside_of(args)  # says now what would only make the page's process end
    port = free_port(args.port)
    home = (args.home or default_home()).expanduser()
    supervisor = Supervisor(
        args.kiln, home, port, args.speed, quiet_code=args.quiet_code, page=outside_options(args)
    )
    stop = threading.Event()
    on_ending(stop.set)
    supervisor.start()
    print(f"page: http://127.0.0.1:{port}/", flush=True)
    try:
        return supervisor.watch(stop)
    finally:
        supervisor.stop()
