"""The one place that knows the messaging library, `apprise`. Imported only once there is something to send.

The library tells why a message failed in its log alone. What it logs in the thread that sends is caught
here, cleaned of every part of the address, and goes nowhere else.
"""

from __future__ import annotations

import logging
import re
import threading
from urllib.parse import unquote

from apprise import Apprise, NotifyBase, NotifyType

from controller.schedule.units import one_line

LOG = logging.getLogger("apprise")
LOG.propagate = False  # it may name addresses
LONGEST_REASON = 160
# Parts of an address that are too short to be a secret, and words that are in many addresses.
SHORTEST_SECRET = 4
HARMLESS = frozenset(
    {"http", "https", "json", "localhost", "mailto", "mailtos", "true", "false", "method", "post"}
)


class _Heard(logging.Handler):
    """Keeps what one thread logs."""

    def __init__(self) -> None:
        super().__init__(logging.INFO)
        self._thread = threading.get_ident()
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        if record.thread == self._thread:
            self.lines.append(record.getMessage())


def knows(address: str) -> bool:
    """Return whether messages can be sent to such an address."""
    return _instance(address) is not None


def way(address: str) -> str:
    """Return the name of the way that an address goes, which tells nothing secret: `JSON`, `E-Mail`."""
    found = _instance(address)
    return str(found.service_name) if found is not None else "unknown"


def send(address: str, title: str, body: str, urgent: bool) -> str | None:
    """Send one message; return None when it was taken, else why not, without anything of the address."""
    heard = _Heard()
    LOG.addHandler(heard)
    try:
        service = _instance(address)
        if service is None:
            return "the address is not known here"
        sort = NotifyType.WARNING if urgent else NotifyType.INFO
        if service.notify(
            body=body, title=title, notify_type=sort
        ):  # in this thread, unlike the library's own
            return None
        return without_address("; ".join(heard.lines), address) or "it gave no reason"
    except Exception as error:
        return f"it failed with {type(error).__name__}"
    finally:
        LOG.removeHandler(heard)


def without_address(text: str, address: str) -> str:
    """Return a reason on one line, with every part of the address struck out."""
    parts = {part for each in (address, unquote(address)) for part in re.split(r"[/:@?&=,]+", each)}
    secrets = {part for part in parts if len(part) >= SHORTEST_SECRET and part.lower() not in HARMLESS}
    for secret in sorted({address, unquote(address), *secrets}, key=len, reverse=True):
        text = re.sub(re.escape(secret), "[address]", text, flags=re.IGNORECASE)
    return one_line(text, LONGEST_REASON)


def _instance(address: str) -> NotifyBase | None:
    try:
        found = Apprise.instantiate(address, suppress_exceptions=True)
    except Exception:
        return None
    return found if isinstance(found, NotifyBase) else None
