"""What must be true of a kiln's file beyond each value by itself. Pure: parts in, mistakes out.

Every check is a generator of mistakes; `CHECKS` is the list of them (what boards and thermocouples ask for
is in `checks_of_sensors.py`). A check that needs a part which could not be read finds nothing: that mistake
is told already.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.config import checks_of_sensors
from controller.config.buses import BusConfig, RtuBusConfig, TcpBusConfig
from controller.config.model import HeaterConfig, ReadBackConfig, SwitchConfig, WatchdogConfig
from controller.config.parts import Mistake, Parts, Path
from controller.config.sensors import ReaderConfig, ShownConfig

# type -> (registers, lowest, highest) as a person may write a pattern of its bits, signed or not
NUMBERS: dict[str, tuple[int, float, float]] = {
    "int16": (1, -(2**15), 2**16 - 1),
    "uint16": (1, 0, 2**16 - 1),
    "int32": (2, -(2**31), 2**32 - 1),
    "uint32": (2, 0, 2**32 - 1),
    "float32": (2, -3.4028234e38, 3.4028234e38),
}


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
        if worst_s > tick_s / 2 + 1e-9:  # three times 100 ms is a hair above 300 ms
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
    numbers: list[tuple[Path, ReaderConfig | WatchdogConfig | ShownConfig]]
    numbers = [(("reader", role), reader) for role, reader in parts.modbus_readers()]
    numbers += [(("shown", name), shown) for name, shown in parts.shown.items()]
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


CHECKS = (
    *(_known_bus, _times, _ranges, _fits, _bits, _levels, _watchdog, _own_places, _cycle),
    *checks_of_sensors.CHECKS,
)


def check(parts: Parts) -> Iterator[Mistake]:
    """Yield every mistake that the parts make together."""
    for one in CHECKS:
        yield from one(parts)
