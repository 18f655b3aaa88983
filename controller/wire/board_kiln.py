"""A kiln behind a board of our own: `open_board` gives the inputs to whoever asks and the heat to the guard.

They have the same faces as `Inputs` and `HeatOutput` have for other wires. Rules:
- What the board read back is believed, not what it was told: an order that was answered but not followed
  is an error.
- A board that restarted under our eyes is told that this is known, and the lease that met it is an error:
  heat does not go on as if nothing had happened, and the next tick may grant anew.
- The main contactor's wish goes out with every order, so a board that has lost it hears it again.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Mapping
from typing import Literal, NamedTuple

from controller.errors import WireError
from controller.wire.board import Board, BoardConfig
from controller.wire.board_line import HEAT_MS_MAX, Cause, Contacts, Flag, Status
from controller.wire.health import Health, HealthBook
from controller.wire.inputs import Heard, Polled
from controller.wire.reading import Contact, Reading
from controller.wire.thermocouple import ThermocoupleError

BOARD_UNIT = 0  # a board is alone on its line

ReadBack = Literal["pin", "proven"]

SAYS = {
    Flag.RESTARTED: "it restarted",
    Flag.LIMIT: "its own temperature limit has latched; only switching its supply off and on clears it",
    Flag.OVER: "a sensor is at or above its own temperature limit",
    Flag.SENSOR: "a sensor is at fault",
    Flag.SILENT: "the line was silent for too long, so it let go of heat and main contactor",
    Flag.STOP: "the emergency stop is pressed, or its wire is broken",
    Flag.DOOR: "the door is open, or its wire is broken",
}
CAUSES = {
    Cause.POWER_ON: "its supply was switched on",
    Cause.BROWN_OUT: "its supply sagged",
    Cause.EXTERNAL: "its reset line was pulled",
    Cause.WATCHDOG: "its watchdog bit",
}


class Place(NamedTuple):
    """Where a reader's temperature is found: a channel's thermocouple, or its cold junction.

    Outside `lowest_c` to `highest_c` the reading is a fault. `correct` makes a true temperature of what
    the converter says and of its cold junction (C, C), for converters that take a thermocouple's curve
    to be a straight line.
    """

    channel: int
    cold: bool = False
    lowest_c: float = -50.0
    highest_c: float = 1372.0
    correct: Callable[[float, float], float] | None = None


class BoardInputs:
    """The readers, contacts and read-backs behind a board, as `Inputs` are behind other wires."""

    def __init__(
        self,
        board: Board,
        readers: Mapping[str, Place],
        contacts: Collection[str],
        now: Callable[[], float],
        read_back: ReadBack = "pin",
    ) -> None:
        self._board = board
        self._readers = readers
        self._contacts = {role: Contacts[role.upper()] for role in contacts}
        self._now = now
        self._proven = read_back == "proven"
        self._at_s = now()
        self._book = HealthBook()
        self._status: Status | None = None

    def poll(self) -> Polled:
        """Ask for everything once, and say what came. Never raises for the wire's faults."""
        start_s = time.monotonic()
        try:
            status = self._status = self._board.status()
        except WireError as error:
            self._status = None
            self._book.missed(BOARD_UNIT, str(error))
            return self._nothing(str(error))
        self._book.answered(BOARD_UNIT, time.monotonic() - start_s)
        self._at_s = self._now()
        proven = status.contacts
        return Polled(
            {role: self._reading(status, place) for role, place in self._readers.items()},
            {role: Contact(bit in proven, None, self._at_s) for role, bit in self._contacts.items()},
            Contacts.HEAT_PROVEN in proven if self._proven else status.heat_pin,
            Contacts.MAIN_PROVEN in proven if self._proven else status.main_pin,
            tuple(self._complaints(status)),
        )

    def heard(self) -> list[Heard]:
        """Return what the last poll brought, raw."""
        places = {f"reader {role}": _found_at(place) for role, place in self._readers.items()}
        places |= {f"contact {role}": f"input {bit.name}" for role, bit in self._contacts.items()}
        return [Heard(what, self._board.config.name, at, self._raw(what)) for what, at in places.items()]

    def health(self) -> dict[tuple[str, int], Health]:
        """Return how well the board has answered."""
        return {(self._board.config.name, unit): one for unit, one in self._book.all().items()}

    def close(self) -> None:
        """Let go of the wire."""
        self._board.close()

    def _raw(self, what: str) -> tuple[object, ...] | None:
        status = self._status
        if status is None:
            return None
        kind, role = what.split(" ", 1)
        if kind == "contact":
            return (self._contacts[role] in status.contacts,)
        place = self._readers[role]
        if place.channel >= len(status.sensors):
            return None
        sensor = status.sensors[place.channel]
        return (sensor.cold_c,) if place.cold else (sensor.hot_c if sensor.fault is None else sensor.fault,)

    def _nothing(self, why: str) -> Polled:
        return Polled(
            {role: Reading(None, why, self._at_s) for role in self._readers},
            {role: Contact(None, why, self._at_s) for role in self._contacts},
            None,
            None,
            (why,),
        )

    def _reading(self, status: Status, place: Place) -> Reading:
        if place.channel >= len(status.sensors):
            return Reading(None, f"the board has {len(status.sensors)} sensors", self._at_s)
        sensor = status.sensors[place.channel]
        value_c = sensor.cold_c if place.cold else sensor.hot_c
        if value_c is None:
            return Reading(None, sensor.fault, self._at_s)
        if place.correct is not None and sensor.cold_c is not None:
            try:
                value_c = place.correct(value_c, sensor.cold_c)
            except ThermocoupleError as error:
                return Reading(None, str(error), self._at_s)
        if not place.lowest_c <= value_c <= place.highest_c:
            return Reading(None, f"{value_c:.1f} C is out of range", self._at_s)
        return Reading(value_c, None, self._at_s)

    def _complaints(self, status: Status) -> list[str]:
        """What a person should hear of although an answer came."""
        told = status.flags & (Flag.LIMIT | Flag.SILENT)
        if self._board.watched:
            told |= status.flags & Flag.RESTARTED
        return [str(self._board.error(_words(status, flag))) for flag in told]


class BoardHeatOutput:
    """Switches the elements and the main contactor behind a board. Safe to call from any thread.

    Every call has been carried out and read back when it returns, or raises WireError.
    """

    has_hardware_lease = True

    def __init__(self, board: Board, has_main_contactor: bool = True) -> None:
        self.has_main_contactor = has_main_contactor
        self._board = board
        self._main = False

    def energise(self, lease_s: float) -> None:
        """Heat for `lease_s` (s) from the order's arrival; the board's clock ends it. Raises WireError."""
        try:
            lease_ms = int(lease_s * 1000 + 1e-9)  # rounded down: heat may end early, never late
        except (ValueError, OverflowError):
            lease_ms = 0
        if not 1 <= lease_ms <= HEAT_MS_MAX:
            raise self._board.error(f"a lease of {lease_s:g} s cannot be given")
        status = self._order(lease_ms)
        if not status.heat_pin or not 0 < status.lease_ms <= lease_ms:
            raise self._board.error(f"it gives no heat: {_refusal(status)}")

    def drop(self) -> None:
        """No heat, now. Raises WireError."""
        self._off()

    def open_main(self) -> None:
        """Open the main contactor, and drop the heat with it. Raises WireError."""
        self._main = False
        self._off()

    def close_main(self) -> None:
        """Close the main contactor; this heats nothing, and ends a lease that runs. Raises WireError."""
        self._main = self.has_main_contactor
        self._order(0)

    def _off(self) -> None:
        status = self._board.order(0, self._main, urgent=True)
        if status.heat_pin:
            raise self._board.error("it was told to drop the heat, and its output reads on")
        if status.main_pin and not self._main:
            raise self._board.error("it was told to open the main contactor, and its output reads on")

    def _order(self, lease_ms: int) -> Status:
        """Give an order that may lead to heat; make a restart known that it meets."""
        board, main = self._board, self._main
        was_watched = board.watched
        status = board.order(lease_ms, main)
        if Flag.RESTARTED in status.flags:
            why = _words(status, Flag.RESTARTED)
            board.acknowledge()
            if was_watched:
                raise board.error(f"{why}; it is told that this is known, and the next lease may be given")
            status = board.order(lease_ms, main)
        if main and not status.main_pin:
            raise board.error(f"it does not close the main contactor: {_refusal(status)}")
        return status


def _found_at(place: Place) -> str:
    """Return where a reader is, for a person."""
    return f"channel {place.channel}{', cold junction' if place.cold else ''}"


def open_board(
    config: BoardConfig,
    readers: Mapping[str, Place],
    contacts: Collection[str],
    now: Callable[[], float],
    *,
    tick_s: float,
    read_back: ReadBack = "pin",
    has_main_contactor: bool = True,
) -> tuple[BoardInputs, BoardHeatOutput]:
    """Return a kiln's inputs and its heat output behind one board. `now` is the controller's clock (s).

    `readers` and `contacts` (door, emergency_stop, extraction, key) are by role. `read_back` "proven":
    auxiliary contacts of relay and main contactor are wired to the board, and say more than its own pins.
    Nothing is asked yet, and nothing fails yet.
    """
    board = Board(config, now, tick_s / 2)
    return BoardInputs(board, readers, contacts, now, read_back), BoardHeatOutput(board, has_main_contactor)


def _words(status: Status, flag: Flag) -> str:
    """What one flag means, for a person."""
    if flag is not Flag.RESTARTED:
        return SAYS[flag]
    causes = [words for cause, words in CAUSES.items() if cause in status.cause]
    return f"{SAYS[flag]}: {' and '.join(causes) or 'it does not know why'}"


def _refusal(status: Status) -> str:
    """Why a board refuses, for a person."""
    return "; ".join(_words(status, flag) for flag in status.flags & ~Flag.CAPPED) or "it does not say why"
