"""A heartbeat: an address is fetched again and again while all is well; an outside monitor sees it stop.

It stops when this process or its computer ends, when the controller is lost, and while a message waits that
cannot be sent: all that no message could tell. The address is a secret.
"""

from __future__ import annotations

import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable

from controller.schedule.units import one_line
from web.alerts.sender import Trouble

TIMEOUT_S = 10.0
NAME = "outside monitor"

Fetch = Callable[[str], str | None]


def fetch(address: str) -> str | None:
    """Fetch an address; return None when it answered well, else why not, without the address."""
    try:
        with urllib.request.urlopen(address, timeout=TIMEOUT_S) as answer:
            answer.read(1024)
        return None
    except urllib.error.HTTPError as error:
        return f"it answered {error.code}"
    except urllib.error.URLError as error:
        return f"it cannot be reached: {one_line(type(error.reason).__name__)}"
    except (OSError, ValueError) as error:
        return f"it cannot be reached: {type(error).__name__}"


class Heartbeat:
    """Fetches `address` every `every_s` while `well()`."""

    def __init__(self, address: str, every_s: float, well: Callable[[], bool], get: Fetch = fetch) -> None:
        self.address = address
        self.every_s = every_s
        self.trouble: Trouble | None = None
        self.last_utc_s: float | None = None
        self._well = well
        self._get = get
        self._ended = threading.Event()
        threading.Thread(target=self._run, name="heartbeat", daemon=True).start()

    def end(self) -> None:
        """End the thread after the fetch in hand."""
        self._ended.set()

    def _run(self) -> None:
        while not self._ended.is_set():
            if self._well():
                self._beat()
            self._ended.wait(self.every_s)

    def _beat(self) -> None:
        why = self._get(self.address)
        if why is None:
            self.trouble, self.last_utc_s = None, time.time()
            return
        since_utc_s = self.trouble.since_utc_s if self.trouble else time.time()
        self.trouble = Trouble(NAME, since_utc_s, why, waiting=False)
