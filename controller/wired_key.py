"""The wired key that proves presence, where a kiln has one: when it was last turned.

Threads: the tick follows it; any thread may ask whether it counts.
"""

from __future__ import annotations

from controller.wire.inputs import Polled

# A wired key proves presence for so long after it was turned; one that is left turned proves nothing.
KEY_COUNTS_S = 300.0


class WiredKey:
    """A key that nobody has turned yet."""

    def __init__(self) -> None:
        self._on: bool | None = None
        self._turned_s = float("-inf")

    def follow(self, polled: Polled, now_s: float) -> None:
        """Note when the key was last turned. The tick's thread only."""
        key = polled.contacts.get("presence")
        if key is None:
            return
        if key.on is None:  # what cannot be read proves nothing: it has to be turned again
            self._turned_s = float("-inf")
            return
        if key.on and self._on is False:
            self._turned_s = now_s
        self._on = key.on

    def counts(self, now_s: float) -> bool:
        """Whether the key was turned just now, and is still turned. Any thread."""
        return bool(self._on) and now_s - self._turned_s <= KEY_COUNTS_S
