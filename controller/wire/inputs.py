"""Everything that is measured, once a tick: `Inputs.poll()`. It never raises for the wire's faults.

A value that could not be renewed is not repeated: its reading turns bad with the reason, and keeps the
time at which it was last taken from the wire (or at which the wire was opened), so that its age can be
told. An instrument that answers with a fault is heard: that reading is bad, and fresh.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from controller.config.model import KilnConfig, SwitchConfig
from controller.errors import WireError
from controller.wire.bus import Bus, RefusedError
from controller.wire.encoding import register_count
from controller.wire.meaning import Measured, healthy, is_on, temperature
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


class _Wanted(NamedTuple):
    """One point on a bus."""

    bus: str
    point: Point


class _Heard:
    """What the last poll brought for each wanted point: values or a reason, and when it last had values."""

    def __init__(self, count: int, now_s: float) -> None:
        self.values: list[Sequence[int] | None] = [None] * count
        self.reasons: list[str] = [""] * count
        self.at_s = [now_s] * count


class Inputs:
    """The readers, contacts and read-backs of one kiln. Made by `open_wire`."""

    def __init__(self, config: KilnConfig, buses: Mapping[str, Bus], now: Callable[[], float]) -> None:
        self._buses = buses
        self._now = now
        self._wanted: list[_Wanted] = []
        self._readers = [
            (role, self._want(c.bus, c.unit, c.function, c.address, register_count(c.type)), temperature(c))
            for role, c in config.readers.items()
        ]
        self._contacts = [
            (role, self._want(c.bus, c.unit, c.function, c.address), healthy(c))
            for role, c in config.contacts.items()
        ]
        self._heat = self._want_back(config.heater)
        self._main = self._want_back(config.main_contactor)
        self._blocks = {name: self._plan(name) for name in buses}
        self._heard = _Heard(len(self._wanted), now())

    def poll(self) -> Polled:
        """Ask for everything once, in as few questions as can be, and say what came."""
        errors: dict[str, None] = {}
        for name in self._blocks:
            self._ask_bus(name, errors)
        return Polled(
            {role: self._reading(index, measure) for role, index, measure in self._readers},
            {role: self._contact(index, test) for role, index, test in self._contacts},
            self._back(self._heat),
            self._back(self._main),
            tuple(errors),
        )

    def close(self) -> None:
        """Let go of the wires."""
        for bus in self._buses.values():
            bus.close()

    def _ask_bus(self, name: str, errors: dict[str, None]) -> None:
        """Ask a bus for its blocks. A block that is refused is asked for in parts, from now on."""
        bus, heard = self._buses[name], self._heard
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
                    heard.values[part.index] = values[part.start : part.end]
                    heard.at_s[part.index] = now_s
            kept.append(block)
        self._blocks[name] = kept

    def _miss(self, block: Block, reason: str) -> None:
        for part in block.parts:
            self._heard.values[part.index] = None
            self._heard.reasons[part.index] = reason

    def _reading(self, index: int, measure: Callable[[Sequence[int]], Measured]) -> Reading:
        values, at_s = self._heard.values[index], self._heard.at_s[index]
        if values is None:
            return Reading(None, self._heard.reasons[index], at_s)
        return Reading(*measure(values), at_s)

    def _contact(self, index: int, test: Callable[[Sequence[int]], bool]) -> Contact:
        values, at_s = self._heard.values[index], self._heard.at_s[index]
        if values is None:
            return Contact(None, self._heard.reasons[index], at_s)
        return Contact(test(values), None, at_s)

    def _back(self, wanted: tuple[int, Callable[[Sequence[int]], bool]] | None) -> bool | None:
        if wanted is None:
            return None
        index, test = wanted
        values = self._heard.values[index]
        return None if values is None else test(values)

    def _want(self, bus: str, *place: object) -> int:
        """Note a point that is wanted, and return its index."""
        self._wanted.append(_Wanted(bus, Point(*place)))  # type: ignore[arg-type]
        return len(self._wanted) - 1

    def _want_back(self, switch: SwitchConfig | None) -> tuple[int, Callable[[Sequence[int]], bool]] | None:
        """Note a switch's read-back, on the switch's own bus and unit unless it says otherwise."""
        if switch is None or switch.read_back is None:
            return None
        back = switch.read_back
        unit = switch.unit if back.unit is None else back.unit
        return self._want(back.bus or switch.bus, unit, back.function, back.address), is_on(back)

    def _plan(self, bus: str) -> list[Block]:
        """Return the blocks to ask of one bus, whose parts carry the indices of what is wanted."""
        mine = {i: wanted.point for i, wanted in enumerate(self._wanted) if wanted.bus == bus}
        return plan(mine)
