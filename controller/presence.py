"""Proof that a person stands at the kiln: a wired key, or a code that only the kiln's console shows.

Whatever leads to more heat (start, restart, release, clear) needs it. The code is four digits, shown by
the controller on its own console and kept in a file that only the controller's user can read, for the
command line on the same computer. It is new after every use and after five wrong tries; then nothing is
taken for a minute, and twice as long each further time, up to an hour: of 10 000 codes that leaves a
guesser some 120 tries a day, and every try is in the record.
"""

from __future__ import annotations

import contextlib
import hmac
import os
import secrets
import threading
from collections.abc import Callable
from pathlib import Path

TRIES = 5
LOCKED_S = 60.0
LONGEST_LOCK_S = 3600.0
FILE_NAME = "presence-code"


class Presence:
    """Hands out codes and checks them. `wall_s` is a monotonic clock of the wall, not the kiln's."""

    def __init__(self, folder: Path, wall_s: Callable[[], float], show: Callable[[str], None]) -> None:
        """`show` puts a new code on the console."""
        self._file = folder / FILE_NAME
        self._wall_s = wall_s
        self._show = show
        self._wrong = 0
        self._lock_s = LOCKED_S
        self._locked_until_s = float("-inf")
        self._code = ""
        self._one_at_a_time = threading.Lock()  # requests come from several threads, and a code counts once
        self._renew()

    def why_not(self, code: str | None, key_turned: bool) -> str:
        """Return why presence is not proven, in words; empty when it is (and the code is used up)."""
        if key_turned:
            return ""
        with self._one_at_a_time:
            return self._why_not(code)

    def _why_not(self, code: str | None) -> str:
        now_s = self._wall_s()
        if now_s < self._locked_until_s:
            return f"too many wrong codes: wait {self._locked_until_s - now_s:.0f} s, then use the new code"
        if not code:
            return "this needs the code on the kiln's own console"
        if hmac.compare_digest(code.strip().encode(errors="replace"), self._code.encode()):
            self._wrong, self._lock_s = 0, LOCKED_S
            self._renew()
            return ""
        self._wrong += 1
        if self._wrong >= TRIES:
            locked_s, self._wrong = self._lock_s, 0
            self._locked_until_s = now_s + locked_s
            self._lock_s = min(2.0 * locked_s, LONGEST_LOCK_S)
            self._renew()
            return f"wrong code, {TRIES} times: wait {locked_s:.0f} s, then use the new code"
        return f"wrong code ({TRIES - self._wrong} tries left): use the one on the kiln's own console"

    def _renew(self) -> None:
        """Make a new code, show it, and keep it in the file; a full disk keeps nobody from reading it."""
        self._code = f"{secrets.randbelow(10_000):04d}"
        self._show(self._code)
        with contextlib.suppress(OSError):
            handle = os.open(self._file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "w") as file:
                file.write(self._code)


def read_code(folder: Path) -> str | None:
    """Return the present code for the command line on the kiln's own computer, or None."""
    try:
        return (folder / FILE_NAME).read_text().strip()
    except OSError:
        return None
