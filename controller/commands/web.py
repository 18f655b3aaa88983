"""`stokehold web`: the page's own process. `stokehold run` starts it; it can be started alone as well."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "serve the page, on this machine only"
PORT = 8321


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("--port", type=int, default=PORT, help=f"the port on 127.0.0.1 (default {PORT})")
    parser.add_argument(
        "--home", metavar="PATH", type=Path, help="the folder with the record and the channel"
    )
    parser.add_argument("--kiln", metavar="FILE", type=Path, help="the kiln's configuration, for forecasts")
    parser.add_argument(
        "--with-parent", action="store_true", help="end when the process that started this ends"
    )


def run(args: argparse.Namespace) -> int:
    """Serve until told to stop."""
    from controller.home import default_home
    from web import serve

    serve.serve(args.home or default_home(), args.port, with_parent=args.with_parent, kiln=args.kiln)
    return 0
