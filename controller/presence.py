"""Proof that a person stands at the kiln: a wired key, or a code that only the kiln's console shows.

Whatever leads to more heat (start, restart, release, clear) needs it. The code is four digits, shown by
the controller on its own console and kept in a file that only the controller's user can read, for the
command line on the same computer. It is new after every use and after five wrong tries of one source.

A source is whoever asks: the page on the kiln's own computer, or one paired device by its name. After five
wrong tries nothing is taken from it for a minute, and twice as long each further time, up to an hour; after
ten wrong tries of all sources together the same goes for all of them. Of 10 000 codes that leaves a guesser
with one device some 120 tries a day, with any number of them 240, and every try is in the record.
The kiln's own console is never locked out, so that nobody can lock out whoever stands at the kiln: only the
controller's user can speak as the console, and that user can read the code anyway.
"""

from __future__ import annotations

import contextlib
import hmac
import os
import secrets
import threading
from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

from controller.backoff import LOCKED_S, TRIES, Backoff

TRIES_OF_ALL = 2 * TRIES
FILE_NAME = "presence-code"
CONSOLE = "console"
__all__ = ["CONSOLE", "FILE_NAME", "LOCKED_S", "TRIES", "TRIES_OF_ALL", "Presence", "read_code"]


class Presence:
    """Hands out codes and checks them. `wall_s` is a monotonic clock of the wall, not the kiln's."""

    def __init__(self, folder: Path, wall_s: Callable[[], float], show: Callable[[str], None]) -> None:
        """`show` puts a new code on the console."""
        self._file = folder / FILE_NAME
        self._wall_s = wall_s
        self._show = show
        self._of: defaultdict[str, Backoff] = defaultdict(Backoff)  # few: one for each paired device
        self._of_all = Backoff(TRIES_OF_ALL)
        self._code = ""
        self._one_at_a_time = threading.Lock()  # requests come from several threads, and a code counts once
        self._renew()

    def why_not(self, code: str | None, key_turned: bool, by: str = "page") -> str:
        """Return why presence is not proven, in words; empty when it is (and the code is used up).

        `by`: the source, as the record has it; CONSOLE for the command line on the kiln's own computer.
        """
        if key_turned:
            return ""
        with self._one_at_a_time:
            return self._why_not(code, by)

    def _why_not(self, code: str | None, by: str) -> str:
        left_s = 0.0 if by == CONSOLE else self._left_s(by)
        if left_s > 0.0:
            return f"too many wrong codes: wait {left_s:.0f} s, then use the new code"
        if not code:
            return "this needs the code on the kiln's own console"
        if not hmac.compare_digest(code.strip().encode(errors="replace"), self._code.encode()):
            return self._wrong(by)
        self._of[by].right()
        self._of_all.right()
        self._renew()
        return ""

    def _left_s(self, by: str) -> float:
        now_s = self._wall_s()
        return max(self._of[by].left_s(now_s), self._of_all.left_s(now_s))

    def _wrong(self, by: str) -> str:
        if by == CONSOLE:
            return "wrong code: use the one on the kiln's own console"
        now_s = self._wall_s()
        left = min(self._of[by].wrong(now_s), self._of_all.wrong(now_s))
        if left > 0:
            return f"wrong code ({left} tries left): use the one on the kiln's own console"
        self._renew()
        return f"wrong code, too often: wait {self._left_s(by):.0f} s, then use the new code"

    def _renew(self) -> None:
        """Make a new code, show it, and keep it in the file; where one cannot be done, the other is."""
        self._code = f"{secrets.randbelow(10_000):04d}"
        with contextlib.suppress(OSError):  # a console that was closed
            self._show(self._code)
        with contextlib.suppress(OSError):  # a full disk
            handle = os.open(self._file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            with os.fdopen(handle, "w") as file:
                file.write(self._code)


def read_code(folder: Path) -> str | None:
    """Return the present code for the command line on the kiln's own computer, or None."""
    try:
        return (folder / FILE_NAME).read_text().strip()
    except OSError:
        return None
