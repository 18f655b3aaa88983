"""Limits the tries at a pairing code: by address, and over all addresses together.

They are counted for one offer; the person at the console who makes the next offer begins anew, so nobody can
lock that person out. The link in the QR picture is not limited at all: 128 random bits are not guessed.
"""

from __future__ import annotations

from collections import defaultdict

from controller.backoff import Backoff

# Of 100 million codes in five minutes: one chance in three million.
TRIES_OF_ALL = 30


class Tries:
    """The tries at the present offer."""

    def __init__(self) -> None:
        self._begin("")

    def _begin(self, offer: str) -> None:
        self._offer = offer
        self._wrong = 0
        self._of: defaultdict[str, Backoff] = defaultdict(Backoff)

    def why_not(self, offer: str, address: str, now_s: float) -> str:
        """Return why a code from this address is not even looked at; empty when it is."""
        if offer != self._offer:
            self._begin(offer)
        if self._wrong >= TRIES_OF_ALL:
            return "too many wrong codes: scan the picture on the console, or make a new offer there"
        if (left_s := self._of[address].left_s(now_s)) > 0.0:
            return f"too many wrong codes: wait {left_s:.0f} s, or scan the picture on the kiln's console"
        return ""

    def wrong(self, address: str, now_s: float) -> str:
        """Count a wrong code; return what to tell."""
        self._wrong += 1
        if left := self._of[address].wrong(now_s):
            return f"wrong code ({left} tries left): use the eight digits on the kiln's own console"
        return f"wrong code, too often: wait {self._of[address].left_s(now_s):.0f} s, or scan the picture"
