"""What must be true of a kiln's file beyond each value by itself. Pure: parts in, mistakes out.

Every check is a generator of mistakes; `CHECKS` is the list of them. A check that needs a part which
could not be read finds nothing: that mistake is told already.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from controller.config.buses import BoardBusConfig, BusConfig, RtuBusConfig, TcpBusConfig
from controller.config.model import (
    BoardContactConfig,
    BoardHeaterConfig,
    BoardSwitchConfig,
    ContactConfig,
    ControlConfig,
    GuardConfig,
    HeaterConfig,
    ReadBackConfig,
    SwitchConfig,
    WatchdogConfig,
)
from controller.config.sensors import ReaderConfig, SensorConfig

Path = tuple[str | int, ...]

# type -> (registers, lowest, highest) as a person may write a pattern of its bits, signed or not
NUMBERS: dict[str, tuple[int, float, float]] = {
    "int16": (1, -(2**15), 2**16 - 1),
    "uint16": (1, 0, 2**16 - 1),
    "int32": (2, -(2**31), 2**32 - 1),
    "uint32": (2, 0, 2**32 - 1),
    "float32": (2, -3.4028234e38, 3.4028234e38),
}


class Mistake(NamedTuple):
    """Where, what was found, what was expected."""

    path: Path
    found: str
    expected: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """What could be read of a kiln's file.

    `top` holds the values that stand above all tables; `bus_uses` every bus that a table names, also of
    tables that could not be read.
    """

    top: Mapping[str, Any]
    bus_names: tuple[str, ...]
    bus_uses: tuple[tuple[Path, str], ...]
    buses: dict[str, BusConfig]
    readers: dict[str, SensorConfig]
    heater: HeaterConfig | BoardHeaterConfig | None
    main_contactor: SwitchConfig | BoardSwitchConfig | None
    contacts: dict[str, ContactConfig | BoardContactConfig]
    control: ControlConfig | None
    guard: GuardConfig | None

    def modbus_readers(self) -> Iterator[tuple[str, ReaderConfig]]:
        """Yield the readers behind Modbus with their roles."""
        for role, reader in self.readers.items():
            if isinstance(reader, ReaderConfig):
                yield role, reader

    def switches(self) -> Iterator[tuple[Path, SwitchConfig]]:
        """Yield the outputs behind Modbus with the paths of their tables."""
        if isinstance(self.heater, HeaterConfig):
            yield ("heater",), self.heater
        if isinstance(self.main_contactor, SwitchConfig):
            yield ("main_contactor",), self.main_contactor

    def inputs(self) -> Iterator[tuple[Path, ContactConfig | ReadBackConfig]]:
        """Yield the digital inputs behind Modbus with the paths of their tables."""
        for role, contact in self.contacts.items():
            if isinstance(contact, ContactConfig):
                yield ("contact", role), contact
        for path, switch in self.switches():
            if switch.read_back is not None:
                yield (*path, "read_back"), switch.read_back

    def units(self, bus: str) -> set[int]:
        """Return the numbers of the instruments that are asked on one bus."""
        found = {reader.unit for _, reader in self.modbus_readers() if reader.bus == bus}
        found |= {switch.unit for _, switch in self.switches() if switch.bus == bus}
        found |= {c.unit for c in self.contacts.values() if isinstance(c, ContactConfig) and c.bus == bus}
        for _, switch in self.switches():
            back = switch.read_back
            if back is not None and (back.bus or switch.bus) == bus:
                found.add(switch.unit if back.unit is None else back.unit)
        return found


def _known_bus(parts: Parts) -> Iterator[Mistake]:
    known = " or ".join(f'"{name}"' for name in parts.bus_names)
    for path, bus in parts.bus_uses:
        if known and bus not in parts.bus_names:
            yield Mistake((*path, "bus"), f'"{bus}"', f"the name of a [bus.NAME] in this file: {known}")


def _times(parts: Parts) -> Iterator[Mistake]:
    tick_s, lease_s = parts.top.get("tick_s"), parts.top.get("lease_s")
    if tick_s is None:
        return
    if lease_s is not None and lease_s <= tick_s:
        yield Mistake(("lease",), f"{lease_s:g} s", f"longer than a tick ({tick_s:g} s), which renews it")
    if parts.guard is not None and parts.guard.stale_s <= tick_s:
        yield Mistake(("guard", "stale"), f"{parts.guard.stale_s:g} s", f"longer than a tick ({tick_s:g} s)")
    for name, bus in parts.buses.items():
        times, why = _silences(parts, bus)
        worst_s = bus.timeout_s * times
        if worst_s > tick_s / 2:
            found = f"{worst_s * 1000:g} ms with {why}"
            yield Mistake(("bus", name, "timeout"), found, f"at most half a tick ({tick_s * 500:g} ms)")


def _silences(parts: Parts, bus: BusConfig) -> tuple[int, str]:
    """Return how many time-outs a tick must hold, and heat be cut in it all the same, and why so many."""
    attempts = 1 + bus.retries if isinstance(bus, TcpBusConfig | RtuBusConfig) else 1
    units = len(parts.units(bus.name)) if isinstance(bus, RtuBusConfig) else 1
    if units > attempts:
        return units, f"all of its {units} instruments silent"
    return attempts, "its retries"


def _ranges(parts: Parts) -> Iterator[Mistake]:
    ceiling_c = parts.top.get("ceiling_c")
    for role, modbus in parts.modbus_readers():
        if modbus.scale == 0:
            yield Mistake(("reader", role, "scale"), "0", "a number that is not 0")
    for role, reader in parts.readers.items():
        if role != "enclosure" and ceiling_c is not None and reader.highest_c <= ceiling_c:
            expected = f"more than the ceiling ({ceiling_c:g} C), or the ceiling would never be seen"
            yield Mistake(("reader", role, "highest"), f"{reader.highest_c:g} C", expected)
        if reader.lowest_c >= reader.highest_c:
            expected = f"less than highest ({reader.highest_c:g} C)"
            yield Mistake(("reader", role, "lowest"), f"{reader.lowest_c:g} C", expected)


def _fits(parts: Parts) -> Iterator[Mistake]:
    numbers: list[tuple[Path, ReaderConfig | WatchdogConfig]]
    numbers = [(("reader", role), reader) for role, reader in parts.modbus_readers()]
    if isinstance(parts.heater, HeaterConfig) and parts.heater.watchdog is not None:
        numbers.append((("heater", "watchdog"), parts.heater.watchdog))
    for path, place in numbers:
        if place.address + NUMBERS[place.type][0] > 0x10000:
            yield Mistake((*path, "address"), str(place.address), "room for two registers before 65536")
    for role, reader in parts.modbus_readers():
        _, lowest, highest = NUMBERS[reader.type]
        for value in reader.fault_values:
            if not lowest <= value <= highest or (reader.type != "float32" and value != int(value)):
                yield Mistake(("reader", role, "fault_values"), f"{value:g}", f"what {reader.type} can hold")


def _bits(parts: Parts) -> Iterator[Mistake]:
    for path, given in parts.inputs():
        single = given.function in ("coil", "discrete")
        if single and given.bit is not None:
            expected = f'no bit, for a {given.function} is one already (bit goes with "input" and "holding")'
            yield Mistake((*path, "bit"), str(given.bit), expected)
        if isinstance(given, ReadBackConfig) and given.on > 1 and (single or given.bit is not None):
            yield Mistake((*path, "on"), str(given.on), "true or false")


def _levels(parts: Parts) -> Iterator[Mistake]:
    for path, switch in parts.switches():
        if switch.kind == "coil" and (switch.on, switch.off) != (1, 0):
            # A coil drops out without power; heat must be what needs it.
            yield Mistake((*path, "on"), "an inverted coil", "on = true and off = false: no power, no heat")
        elif switch.on == switch.off:
            yield Mistake((*path, "off"), str(switch.off), "a number other than on")


def _watchdog(parts: Parts) -> Iterator[Mistake]:
    lease_s = parts.top.get("lease_s")
    if not isinstance(parts.heater, HeaterConfig) or parts.heater.watchdog is None or lease_s is None:
        return
    watchdog = parts.heater.watchdog
    counts = lease_s * 1000 / watchdog.scale_ms
    # The highest pattern of a signed type is negative: half of the range counts.
    highest = NUMBERS[watchdog.type][2] // 2 if watchdog.type.startswith("int") else NUMBERS[watchdog.type][2]
    if not 1 <= counts <= highest:
        expected = f"a scale by which the lease ({lease_s:g} s) is from 1 to {highest:.0f} counts"
        yield Mistake(("heater", "watchdog", "scale_ms"), f"{watchdog.scale_ms:g}", expected)


def _own_places(parts: Parts) -> Iterator[Mistake]:
    heater, main = parts.heater, parts.main_contactor
    if not isinstance(heater, HeaterConfig) or not isinstance(main, SwitchConfig):
        return
    if (heater.bus, heater.unit, heater.kind, heater.address) == (
        main.bus,
        main.unit,
        main.kind,
        main.address,
    ):
        expected = "a place of its own: closing the contactor would switch the heat on"
        yield Mistake(("main_contactor", "address"), f"{main.address}, the heater's own", expected)


def _cycle(parts: Parts) -> Iterator[Mistake]:
    control = parts.control
    if control is not None and control.shortest_on_s + control.shortest_off_s > control.cycle_s:
        found = f"{control.cycle_s:g} s"
        yield Mistake(("control", "cycle"), found, "at least shortest_on and shortest_off together")
