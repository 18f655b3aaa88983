"""`stokehold pair NAME`: show on the kiln's own console what lets one device in.

It prints the page's address, a QR picture with the link, and a code to type where there is no camera. The
offer is taken once, and ends after five minutes or with this command.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from controller.pairing.offer import Offer

HELP = "let a phone or another device look at this kiln: shows a code and a QR picture to pair it by"
LOOK_EVERY_S = 0.5


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("name", metavar="NAME", help="what the device is called in the record")
    parser.add_argument(
        "--operator",
        action="store_true",
        help="it may also ask for starts and so on, with the code at the kiln; else it sees, holds, aborts",
    )
    parser.add_argument(
        "--home", type=Path, metavar="FOLDER", help="where the record and the latches are kept"
    )
    parser.add_argument(
        "--address", metavar="URL", help="the page's address as the device must type it (default: found out)"
    )


def run(args: argparse.Namespace) -> int:
    """Make the offer, show it, and wait until it is taken or over; exit status 1 when nobody took it."""
    import time

    from controller.home import RECORD_NAME, default_home
    from controller.pairing.names import device_name
    from controller.pairing.offer import make_offer, open_offer, take_offer
    from controller.record.devices import devices
    from controller.record.write_devices import already_paired

    home = (args.home or default_home()).expanduser()
    name, role = device_name(args.name), "operator" if args.operator else "watcher"
    for each in devices(home / RECORD_NAME):
        if each.paired and each.name == name:
            raise already_paired(name, each.number)
    address = page_address(home, args.address)
    offer, code, link = make_offer(home, name, "operator" if args.operator else "watcher", time.monotonic())
    show(name, role, address, code, link)
    try:
        while open_offer(home, time.monotonic()) == offer:
            time.sleep(LOOK_EVERY_S)
    finally:
        take_offer(home, offer)  # it ends with this command
    return tell_end(home / RECORD_NAME, offer)


def page_address(home: Path, given: str | None) -> str:
    """Return where another device finds the page. Raises UsageError when it is on this computer only."""
    from controller.errors import UsageError
    from controller.pairing.place import read_place

    if given:
        if not given.startswith(("http://", "https://")):
            raise UsageError(f"--address: found {given!r}, expected http://... or https://...")
        return given.rstrip("/")
    if (place := read_place(home)) is not None:
        return place.address()
    raise UsageError(
        "pair: found no page of this kiln that other devices could reach; start it with --host 0.0.0.0 "
        "(`stokehold run ... --host 0.0.0.0`), then pair"
    )


def show(name: str, role: str, address: str, code: str, link: str) -> None:
    """Print the offer."""
    import sys

    import segno

    does = (
        "see, hold and abort" if role == "watcher" else "see, hold, abort, and ask for the rest with the code"
    )
    print(f"Pairing {name}, as {role}: it may {does}.\n")
    picture = segno.make(f"{address}/pair#{link}", micro=False, error="m")
    print_picture(picture.terminal, sys.stdout.isatty())
    print(f"Scan the picture, or open  {address}/pair  and type  {code[:4]} {code[4:]}")
    if address.startswith("http://"):
        print("Without TLS: whoever can listen on this network can take over what is paired here.")
    print("It counts once, for five minutes, while this command runs. Waiting ...", flush=True)


def print_picture(draw: Callable[..., None], coloured: bool) -> None:
    """Print the QR picture; on a terminal white on black, whatever its own colours are."""
    import io

    lines = io.StringIO()
    draw(lines, compact=True, border=2)
    for line in lines.getvalue().splitlines():
        print(f"\x1b[97;40m{line}\x1b[0m" if coloured else line)
    print()


def tell_end(record: Path, offer: Offer) -> int:
    """Say whether the device is paired now; return the exit status."""
    from controller.record.devices import devices

    taken = [each for each in devices(record) if each.paired and each.name == offer.name]
    if not taken:
        print(f"Nobody took it in time: {offer.name} is not paired.")
        return 1
    print(f"{offer.name} is paired, as {offer.role}, number {taken[-1].number}.")
    return 0
