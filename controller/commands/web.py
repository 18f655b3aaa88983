"""`stokehold web`: the page's own process. `stokehold run` starts it; it can be started alone as well."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from web.outside import Outside

HELP = "serve the page: on this machine, and on a network once a device is paired"
PORT = 8321


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("--port", type=int, default=PORT, help=f"the page's port (default {PORT})")
    parser.add_argument(
        "--home", metavar="PATH", type=Path, help="the folder with the record and the channel"
    )
    parser.add_argument("--kiln", metavar="FILE", type=Path, help="the kiln's configuration, for forecasts")
    parser.add_argument(
        "--with-parent", action="store_true", help="end when the process that started this ends"
    )
    outside_arguments(parser)


def outside_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments that say how other devices reach the page (README, 'On the phone')."""
    group = parser.add_argument_group("other devices")
    group.add_argument(
        "--host",
        metavar="ADDRESS",
        default="127.0.0.1",
        help="listen on this address too (0.0.0.0: all) once a device is paired; default: this machine only",
    )
    group.add_argument(
        "--name",
        metavar="NAME",
        action="append",
        default=[],
        help="a name that the page may be called by, as kiln.example; may be given again",
    )
    group.add_argument("--tls-cert", metavar="FILE", type=Path, help="your certificate, for TLS (PEM)")
    group.add_argument("--tls-key", metavar="FILE", type=Path, help="its key (PEM, no passphrase)")
    group.add_argument(
        "--behind-proxy",
        action="store_true",
        help="a proxy on this machine calls the page: nobody is let in as being on this machine",
    )


def outside_options(args: argparse.Namespace) -> list[str]:
    """Return those arguments again, for the process that serves the page."""
    options = ["--host", args.host]
    for name in args.name:
        options += ["--name", name]
    for option, file in (("--tls-cert", args.tls_cert), ("--tls-key", args.tls_key)):
        options += [option, str(file)] if file is not None else []
    return [*options, *(["--behind-proxy"] if args.behind_proxy else [])]


def outside_of(args: argparse.Namespace) -> Outside:
    """Return what those arguments say. Raises UsageError for what cannot work."""
    from web.outside import Outside, check

    outside = Outside(args.host, tuple(args.name), args.behind_proxy, args.tls_cert, args.tls_key)
    check(outside)
    return outside


def run(args: argparse.Namespace) -> int:
    """Serve until told to stop."""
    from controller.home import default_home

    outside = outside_of(args)
    from web import serve

    home = (args.home or default_home()).expanduser()
    serve.serve(home, args.port, with_parent=args.with_parent, kiln=args.kiln, outside=outside)
    return 0
