"""Where other devices reach the page: the page's process says so, for `stokehold pair` to print.

Kept as a file in the home folder for as long as the page serves a network; on this computer only, there is
none.
"""

from __future__ import annotations

import contextlib
import ipaddress
import json
import socket
from dataclasses import asdict, dataclass
from pathlib import Path

from controller.errors import UsageError

FILE_NAME = "page.json"
# Documentation's own address (RFC 5737): asking by which of ours we would go there sends nothing.
SOMEWHERE = ("192.0.2.1", 9)


@dataclass(frozen=True, slots=True)
class Place:
    """`name` is empty where the user named none; behind a proxy the port is the proxy's own affair."""

    secure: bool
    host: str
    port: int
    name: str
    behind_proxy: bool

    def address(self) -> str:
        """Return the page's address as another device must type it, without a slash at the end.

        Raises UsageError when this computer does not know its own address.
        """
        if self.behind_proxy:
            return f"https://{self.name}"
        host = self.name or (self.host if not _is_any(self.host) else _own_address())
        host = f"[{host}]" if ":" in host else host
        return f"{'https' if self.secure else 'http'}://{host}:{self.port}"


def _is_any(host: str) -> bool:
    return ipaddress.ip_address(host).is_unspecified


def _own_address() -> str:
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(SOMEWHERE)
        return str(probe.getsockname()[0])
    raise UsageError(
        "pair: found no address of this computer on a network; give it with --address http://NAME:PORT"
    )


def say_place(home: Path, place: Place) -> None:
    """Keep where the page is; without it, `stokehold pair` asks for --address, and nothing else is missed."""
    with contextlib.suppress(OSError):
        home.mkdir(parents=True, exist_ok=True)
        (home / FILE_NAME).write_text(json.dumps(asdict(place)))


def forget_place(home: Path) -> None:
    """The page serves no network any more."""
    with contextlib.suppress(OSError):
        (home / FILE_NAME).unlink(missing_ok=True)


def read_place(home: Path) -> Place | None:
    """Return where the page is, or None: on this computer only, or not running."""
    try:
        return Place(**json.loads((home / FILE_NAME).read_text()))
    except (OSError, ValueError, TypeError):
        return None
