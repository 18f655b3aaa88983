"""Sends what was decided: a thread for each address, so that one that hangs delays no other.

A message that is not taken is tried again with growing pauses for as long as what it tells still stands; a
newer one of the same sort takes its place. An attempt that does not end in time is left alone and counts as
failed. What fails is kept as a `Trouble`, for the page, until the next message is taken.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from web.alerts.decide import SORTS, Message
from web.alerts.settings import URGENT, Recipient, Settings

# From one attempt to the next, s.
PAUSES_S = (10.0, 30.0, 60.0, 120.0, 300.0)
# The library gives a connection and each answer 4 s; an address may need several of each.
DEADLINE_S = 30.0


class Send(Protocol):
    """Sends one message; returns None, or why it was not taken."""

    def __call__(self, address: str, title: str, body: str, urgent: bool) -> str | None: ...


def send_by_service(address: str, title: str, body: str, urgent: bool) -> str | None:
    """Send by the library, which is loaded when it is first needed."""
    from web.alerts import service

    return service.send(address, title, body, urgent)


class Trouble(NamedTuple):
    """Something that could not be sent: to whom, since when, why. `waiting`: it still is to be sent."""

    to: str
    since_utc_s: float
    says: str
    waiting: bool


@dataclass(frozen=True, slots=True)
class How:
    """How an address is dealt with."""

    send: Send = send_by_service
    pauses_s: tuple[float, ...] = PAUSES_S
    deadline_s: float = DEADLINE_S


def try_once(
    how: How, address: str, title: str, body: str, urgent: bool
) -> tuple[str | None, threading.Thread]:
    """Send once, for no longer than the deadline; return why it failed or None, and the thread."""
    found: list[str | None] = []

    def attempt() -> None:
        found.append(how.send(address, title, body, urgent))

    thread = threading.Thread(target=attempt, name="alert", daemon=True)
    thread.start()
    thread.join(how.deadline_s)
    return (found[0] if found else f"no answer within {how.deadline_s:g} s"), thread


class Line:
    """One address. `put` returns at once."""

    def __init__(self, name: str, number: int, address: str, how: How) -> None:
        self.name = name
        self.address = address
        self.trouble: Trouble | None = None
        self._label = name if number == 1 else f"{name} ({number})"
        self._how = how
        self._pending: dict[str, Message] = {}
        self._changed = threading.Condition()
        self._tries = 0
        self._next_s = 0.0
        self._ended = False
        self._hanging: threading.Thread | None = None
        threading.Thread(target=self._run, name="alerts", daemon=True).start()

    def put(self, message: Message) -> None:
        """Send this soon, in place of an older one of its sort."""
        with self._changed:
            self._pending[message.sort] = message
            self._changed.notify()

    def keep(self, standing: frozenset[str]) -> None:
        """Give up what tells only of what no longer stands, once an attempt has failed."""
        with self._changed:
            if self.trouble is None:
                return
            stale = [sort for sort, one in self._pending.items() if standing.isdisjoint(one.keys)]
            for sort in stale:
                del self._pending[sort]
            if stale and not self._pending:
                self.trouble = self.trouble._replace(waiting=False)

    def end(self) -> None:
        """End the thread after the attempt in hand."""
        with self._changed:
            self._ended = True
            self._changed.notify()

    def _run(self) -> None:
        while (message := self._next()) is not None:
            why = self._attempt(message)
            with self._changed:
                self._note(message, why)

    def _next(self) -> Message | None:
        """Wait for the next message that is to be tried; None at the end."""
        with self._changed:
            while not self._ended:
                left_s = self._next_s - time.monotonic()
                if self._pending and left_s <= 0.0:
                    return next(self._pending[sort] for sort in SORTS if sort in self._pending)
                self._changed.wait(left_s if self._pending else None)
        return None

    def _note(self, message: Message, why: str | None) -> None:
        if why is None:
            self.trouble, self._tries, self._next_s = None, 0, 0.0
            if self._pending.get(message.sort) is message:
                del self._pending[message.sort]
            return
        since_utc_s = self.trouble.since_utc_s if self.trouble else time.time()
        self.trouble = Trouble(self._label, since_utc_s, why, bool(self._pending))
        self._next_s = time.monotonic() + self._how.pauses_s[min(self._tries, len(self._how.pauses_s) - 1)]
        self._tries += 1

    def _attempt(self, message: Message) -> str | None:
        """Try once, for no longer than the deadline."""
        if self._hanging is not None and self._hanging.is_alive():
            return "the last attempt still hangs"
        urgent = message.sort in URGENT or message.sort == "trip"
        why, self._hanging = try_once(self._how, self.address, message.title, message.body, urgent)
        return why


class Sender:
    """All addresses. Follows the settings; what was waiting for an address that stays goes on waiting."""

    def __init__(self, how: How | None = None) -> None:
        self._how = how or How()
        self._lines: dict[tuple[str, str], Line] = {}

    def use(self, settings: Settings) -> None:
        """Bring the lines up to date."""
        wanted = {(to.name, url): (to, number) for to in settings.to for number, url in enumerate(to.urls, 1)}
        for key in [key for key in self._lines if key not in wanted]:
            self._lines.pop(key).end()
        for key, (to, number) in wanted.items():
            if key not in self._lines:
                self._lines[key] = self._line(to, number)

    def _line(self, to: Recipient, number: int) -> Line:
        return Line(to.name, number, to.urls[number - 1], self._how)

    def put(self, messages: Iterable[Message]) -> None:
        """Send these soon; returns at once."""
        for message in messages:
            for line in self._lines.values():
                if line.name == message.to:
                    line.put(message)

    def keep(self, standing: frozenset[str]) -> None:
        """Give up what tells only of what no longer stands."""
        for line in self._lines.values():
            line.keep(standing)

    def troubles(self) -> list[Trouble]:
        """Return what could not be sent, the oldest first."""
        found = [line.trouble for line in self._lines.values() if line.trouble is not None]
        return sorted(found, key=lambda trouble: trouble.since_utc_s)

    def failing(self) -> frozenset[str]:
        """Return the recipients whom no address reaches."""
        names = frozenset(line.name for line in self._lines.values())
        return names - frozenset(line.name for line in self._lines.values() if line.trouble is None)

    def end(self) -> None:
        """End every thread."""
        self.use(Settings())
