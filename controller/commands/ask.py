"""`stokehold ask WHAT`: hold, restart, release, stop, abort, reset, clear, acknowledge, shelve."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from controller.channel_client import ChannelClient

HELP = (
    "ask the controller that runs to hold, restart, release, stop, abort, reset, clear, acknowledge or shelve"
)
KINDS = ("hold", "restart", "release", "stop", "abort", "reset", "clear", "acknowledge", "shelve")
NEEDS_PRESENCE = ("start", "restart", "release", "clear")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("what", choices=KINDS)
    parser.add_argument("--home", type=Path, metavar="FOLDER", help="the controller's home folder")
    parser.add_argument(
        "--presence", metavar="CODE", help="the code on the kiln's console (default: ask for it)"
    )
    parser.add_argument("--alarm", default="all", help="acknowledge, shelve: which alarm (acknowledge: all)")
    parser.add_argument("--minutes", type=int, default=30, help="shelve: for how long, 1 to 60; 0 ends it")


def run(args: argparse.Namespace) -> int:
    """Ask, and print the answer; exit status 1 when it was refused."""
    message: dict[str, Any] = {"request": args.what, "alarm": args.alarm}
    return send(args, message | ({"minutes": args.minutes} if args.what == "shelve" else {}))


def client(args: argparse.Namespace) -> ChannelClient:
    """Return the client of the controller whose home the arguments name."""
    from controller.channel import SOCKET_NAME
    from controller.channel_client import ChannelClient
    from controller.home import default_home

    return ChannelClient((args.home or default_home()).expanduser() / SOCKET_NAME)


def send(args: argparse.Namespace, message: dict[str, Any]) -> int:
    """Send one request from the console; where presence must be proven, with the code that is typed."""
    message["by"] = "console"
    if message["request"] in NEEDS_PRESENCE:
        code = args.presence if args.presence is not None else input("code on the kiln's console: ")
        message["presence"] = code.strip()
    reply = client(args).ask(message, timeout_s=20.0)  # type: ignore[arg-type]
    print(reply["says"])
    return 0 if reply["ok"] else 1
