"""`stokehold alerts`: show who is told of what, without the addresses; `stokehold alerts test` tries them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from web.alerts.settings import Settings

HELP = "show who is told when a person is needed or an alarm sounds; with test, send each of them a message"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("what", nargs="?", choices=("show", "test"), default="show", help="default: show")
    parser.add_argument("--home", metavar="PATH", type=Path, help="the folder with alerts.toml")


def run(args: argparse.Namespace) -> int:
    """Show the settings, or send a test message; return 1 when a message was not taken."""
    from controller.home import default_home
    from web.alerts.settings_file import FILE_NAME, load_alerts

    path = (args.home or default_home()).expanduser() / FILE_NAME
    if not path.exists():
        print(f"Nobody is told: there is no {path}. hardware_notes/alerts.toml is one to start from.")
        return 1 if args.what == "test" else 0
    settings = load_alerts(path)
    if args.what == "test":
        return _test(settings)
    _show(settings, path)
    return 0


def _show(settings: Settings, path: Path) -> None:
    from web.alerts.shown import shown

    print("\n".join(shown(settings)))
    if path.stat().st_mode & 0o077:
        print(f"Others on this computer can read {path}, and it holds secrets: chmod 600 {path}")


def _test(settings: Settings) -> int:
    """Send each address a message and say what became of it."""
    from web.alerts.shown import try_each

    failed = 0
    for label, why in try_each(settings):
        print(f"{label}: {'sent' if why is None else f'could not be sent: {why}'}", flush=True)
        failed += why is not None
    if not settings.to and settings.heartbeat_url is None:
        print("Nobody is told: alerts.toml names no [[to]].")
    return 1 if failed or not settings.to else 0
