"""Everything that is measured, once a tick: `Inputs.poll()`. It never raises for the wire's faults.

A value that could not be renewed is not repeated: its reading turns bad with the reason, and keeps the
time at which it was last taken from the wire (or at which the wire was opened), so that its age can be
told. An instrument that answers with a fault is heard: that reading is bad, and fresh.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, Protocol

from controller.config import (
    BoardHeaterConfig,
    BoardSwitchConfig,
    ContactConfig,
    HeaterConfig,
    KilnConfig,
    ReaderConfig,
    ShownConfig,
    SwitchConfig,
)
from controller.errors import WireError
from controller.wire.bus import Bus, RefusedError
from controller.wire.encoding import register_count
from controller.wire.health import Health
from controller.wire.meaning import Measure, healthy, is_on, shown_text, temperature
from controller.wire.points import Block, Point, plan, split
from controller.wire.reading import Contact, Reading

# Refusals that a shorter question may avoid: no such address, not so many registers.
SPLIT_AT = (2, 3)


class Polled(NamedTuple):
    """One poll. Readings and contacts by role; a contact that is on is healthy (closed, running, present).

    `heat_on` and `main_on` are what is read back, None when that is unknown or not configured.
    `errors` says in one line each what did not answer.
    """

    readings: dict[str, Reading]
    contacts: dict[str, Contact]
    heat_on: bool | None
    main_on: bool | None
    errors: tuple[str, ...]


class Heard(NamedTuple):
    """One point as it last came off the wire, before it was given a meaning; for whoever looks for mistakes.

    `what` is "reader air", "contact door", "heat", "main contactor" or "shown NAME"; `raw` None: it did not
    come. `text` is what is shown of what has no other meaning.
    """

    what: str
    bus: str
    place: str
    raw: tuple[object, ...] | None
    text: str = ""


class Inputs(Protocol):
    """The readers, contacts and read-backs of one kiln, whatever wires they are on."""

    def poll(self) -> Polled:
        """Ask for everything once, and say what came. Never raises for the wire's faults."""

    def heard(self) -> list[Heard]:
        """Return what the last poll brought, raw."""

    def health(self) -> dict[tuple[str, int], Health]:
        """Return how well each instrument has answered, by its bus and number."""

    def close(self) -> None:
        """Let go of the wires."""


class _Wanted(NamedTuple):
    """One point on a bus, and what it is for."""

    what: str
    bus: str
    point: Point


class _Reader(NamedTuple):
    """A reader's point, what makes a temperature of it, and the role of its cold junction, if needed."""

    place: int  # its number among what is wanted
    measure: Measure
    cold_junction: str | None


class _Last:
    """What the last poll brought for each wanted point: values or a reason, and when it last had values."""

    def __init__(self, count: int, now_s: float) -> None:
        self.values: list[Sequence[int] | None] = [None] * count
        self.reasons: list[str] = [""] * count
        self.at_s = [now_s] * count


class ModbusInputs:
    """The readers, contacts and read-backs of one kiln that are behind Modbus. Made by `open_wire`."""

    def __init__(self, config: KilnConfig, buses: Mapping[str, Bus], now: Callable[[], float]) -> None:
        self._buses = buses
        self._now = now
        self._wanted: list[_Wanted] = []
        self._readers = {
            role: self._want_reader(role, reader)
            for role, reader in config.readers.items()
            if isinstance(reader, ReaderConfig)
        }
        self._contacts = [
            (role, self._want(f"contact {role}", c.bus, c.unit, c.function, c.address), healthy(c))
            for role, c in config.contacts.items()
            if isinstance(c, ContactConfig)
        ]
        self._heat = self._want_back("heat", config.heater)
        self._main = self._want_back("main contactor", config.main_contactor)
        self._shown = {self._want_shown(c): shown_text(c) for c in config.shown.values()}
        self._blocks = {name: self._plan(name) for name in buses}
        self._last = _Last(len(self._wanted), now())

    def poll(self) -> Polled:
        """Ask for everything once, in as few questions as can be, and say what came."""
        errors: dict[str, None] = {}
        for name in self._blocks:
            self._ask_bus(name, errors)
        return Polled(
            {role: self._reading(reader) for role, reader in self._readers.items()},
            {role: self._contact(index, test) for role, index, test in self._contacts},
            self._back(self._heat),
            self._back(self._main),
            tuple(errors),
        )

    def heard(self) -> list[Heard]:
        """Return what the last poll brought, raw."""
        return [self._raw(index) for index in range(len(self._wanted))]

    def health(self) -> dict[tuple[str, int], Health]:
        """Return how well each unit has answered, by its bus and number."""
        return {(name, unit): one for name, bus in self._buses.items() for unit, one in bus.health().items()}

    def close(self) -> None:
        """Let go of the wires."""
        for bus in self._buses.values():
            bus.close()

    def _ask_bus(self, name: str, errors: dict[str, None]) -> None:
        """Ask a bus for its blocks. A block that is refused is asked for in parts, from now on."""
        bus, last = self._buses[name], self._last
        left, kept = deque(self._blocks[name]), []
        while left:
            block = left.popleft()
            try:
                values = bus.read(block.unit, block.function, block.address, block.count)
            except WireError as error:
                parts = split(block) if isinstance(error, RefusedError) and error.code in SPLIT_AT else []
                left.extendleft(reversed(parts))
                if parts:
                    continue
                errors[str(error)] = None
                self._miss(block, str(error))
            else:
                now_s = self._now()
                for part in block.parts:
                    last.values[part.index] = values[part.start : part.end]
                    last.at_s[part.index] = now_s
            kept.append(block)
        self._blocks[name] = kept

    def _miss(self, block: Block, reason: str) -> None:
        for part in block.parts:
            self._last.values[part.index] = None
            self._last.reasons[part.index] = reason

    def _reading(self, reader: _Reader) -> Reading:
        values, at_s = self._last.values[reader.place], self._last.at_s[reader.place]
        if values is None:
            return Reading(None, self._last.reasons[reader.place], at_s)
        if reader.cold_junction is None:
            return Reading(*reader.measure(values, None), at_s)
        cold = self._reading(self._readers[reader.cold_junction])
        if cold.value_c is None:
            return Reading(None, f"its cold junction is not known: {cold.fault}", min(at_s, cold.at_s))
        return Reading(*reader.measure(values, cold.value_c), min(at_s, cold.at_s))

    def _contact(self, index: int, test: Callable[[Sequence[int]], bool]) -> Contact:
        values, at_s = self._last.values[index], self._last.at_s[index]
        if values is None:
            return Contact(None, self._last.reasons[index], at_s)
        return Contact(test(values), None, at_s)

    def _back(self, wanted: tuple[int, Callable[[Sequence[int]], bool]] | None) -> bool | None:
        if wanted is None:
            return None
        index, test = wanted
        values = self._last.values[index]
        return None if values is None else test(values)

    def _want(self, what: str, bus: str, *place: object) -> int:
        """Note a point that is wanted, and return its index."""
        self._wanted.append(_Wanted(what, bus, Point(*place)))  # type: ignore[arg-type]
        return len(self._wanted) - 1

    def _raw(self, index: int) -> Heard:
        (what, bus, point), values = self._wanted[index], self._last.values[index]
        show = self._shown.get(index)
        text = show(values) if show is not None and values is not None else ""
        return Heard(what, bus, _place(point), None if values is None else tuple(values), text)

    def _want_shown(self, c: ShownConfig) -> int:
        return self._want(f"shown {c.name}", c.bus, c.unit, c.function, c.address, register_count(c.type))

    def _want_reader(self, role: str, c: ReaderConfig) -> _Reader:
        index = self._want(f"reader {role}", c.bus, c.unit, c.function, c.address, register_count(c.type))
        return _Reader(index, temperature(c), c.cold_junction)

    def _want_back(
        self, what: str, switch: HeaterConfig | SwitchConfig | BoardHeaterConfig | BoardSwitchConfig | None
    ) -> tuple[int, Callable[[Sequence[int]], bool]] | None:
        """Note a switch's read-back, on the switch's own bus and unit unless it says otherwise."""
        if not isinstance(switch, SwitchConfig) or switch.read_back is None:
            return None
        back = switch.read_back
        unit = switch.unit if back.unit is None else back.unit
        return self._want(what, back.bus or switch.bus, unit, back.function, back.address), is_on(back)

    def _plan(self, bus: str) -> list[Block]:
        """Return the blocks to ask of one bus, whose parts carry the indices of what is wanted."""
        mine = {i: wanted.point for i, wanted in enumerate(self._wanted) if wanted.bus == bus}
        return plan(mine)


def _place(point: Point) -> str:
    """Return where a point is, for a person."""
    last = f" to {point.end - 1}" if point.count > 1 else ""
    return f"unit {point.unit}, {point.function} {point.address}{last}"
