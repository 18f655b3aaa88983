"""`stokehold devices`: list the paired devices; `stokehold devices revoke N`: end one's pairing, at once."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

HELP = "list the paired devices, or revoke one"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("what", nargs="?", choices=("list", "revoke"), default="list")
    parser.add_argument("number", nargs="?", type=int, metavar="N", help="revoke: the device's number")
    parser.add_argument("--all", action="store_true", help="list those too that were revoked")
    parser.add_argument(
        "--home", type=Path, metavar="FOLDER", help="where the record and the latches are kept"
    )


def run(args: argparse.Namespace) -> int:
    """List, or revoke: the device's next request is refused, and its open page is cut within a second."""
    import time

    from controller.errors import UsageError
    from controller.home import RECORD_NAME, default_home
    from controller.record.write_devices import revoke_device

    record = (args.home or default_home()).expanduser() / RECORD_NAME
    if args.what == "list":
        return listed(record, args.all)
    if args.number is None:
        raise UsageError("devices revoke: found no number, expected one that `stokehold devices` lists")
    name = revoke_device(record, args.number, "console", time.time())
    print(f"{name} is no longer paired.")
    return 0


def listed(record: Path, revoked_too: bool) -> int:
    """Print one line a device."""
    from controller.record.devices import devices

    shown = [each for each in devices(record) if each.paired or revoked_too]
    if not shown:
        print("No device is paired. `stokehold pair NAME` pairs one.")
        return 0
    print(f"{'N':>3}  {'name':32}  {'role':8}  {'paired':16}  {'last seen':16}")
    for each in shown:
        over = f"  revoked {_when(each.revoked_utc_s)}" if not each.paired else ""
        row = f"{each.number:>3}  {each.name:32}  {each.role:8}  {_when(each.paired_utc_s)}"
        print(f"{row}  {_when(each.seen_utc_s):16}{over}")
    return 0


def _when(utc_s: float | None) -> str:
    return datetime.fromtimestamp(utc_s).strftime("%Y-%m-%d %H:%M") if utc_s is not None else "not yet"
