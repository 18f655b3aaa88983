"""What thermocouples, cold junctions and boards of our own ask of a kiln's file. Pure, as `checks.py`."""

from __future__ import annotations

from collections.abc import Iterator

from controller.config.buses import BoardBusConfig, RtuBusConfig
from controller.config.model import (
    BOARD_CONTACT_ROLES,
    BoardContactConfig,
    BoardHeaterConfig,
    BoardSwitchConfig,
)
from controller.config.parts import Mistake, Parts, Path
from controller.config.sensors import BoardReaderConfig, ReaderConfig
from controller.wire.thermocouple import classes_of


def _classes(parts: Parts) -> Iterator[Mistake]:
    for role, reader in parts.readers.items():
        if reader.class_ is None:
            continue
        path = ("reader", role, "class")
        if reader.thermocouple is None:
            yield Mistake(path, str(reader.class_), "thermocouple beside it: a class is that of a type")
        elif reader.class_ not in (classes := classes_of(reader.thermocouple)):
            known = " or ".join(map(str, classes))
            yield Mistake(path, str(reader.class_), f"{known}, the classes of type {reader.thermocouple}")


def _millivolts(parts: Parts) -> Iterator[Mistake]:
    for role, reader in parts.modbus_readers():
        if reader.cold_junction is None:
            continue
        if reader.thermocouple is None:
            expected = "thermocouple beside it, which makes a temperature of the millivolts"
            yield Mistake(("reader", role, "cold_junction"), f'"{reader.cold_junction}"', expected)
        if reader.degrees != "C":
            yield Mistake(
                ("reader", role, "degrees"), f'"{reader.degrees}"', "no degrees: it sends millivolts"
            )
        yield from _cold_junction(parts, role, reader)


def _cold_junction(parts: Parts, role: str, reader: ReaderConfig) -> Iterator[Mistake]:
    """The cold junction lies where the thermocouple's wires end: in the same instrument, on the same bus."""
    path, named = ("reader", role, "cold_junction"), reader.cold_junction
    other = parts.readers.get(named) if named is not None else None
    if other is None:
        yield Mistake(path, f'"{named}"', f"the role of another reader: [reader.{named}] is not there")
    elif named == role or not isinstance(other, ReaderConfig) or other.cold_junction is not None:
        yield Mistake(path, f'"{named}"', "a reader that shows the temperature of the terminals by itself")
    elif other.bus != reader.bus:
        expected = f'a reader on the same bus ("{reader.bus}"): it is in the same instrument'
        yield Mistake(path, f'"{named}", on bus "{other.bus}"', expected)


def _straight_lines(parts: Parts) -> Iterator[Mistake]:
    for role, reader in parts.readers.items():
        if isinstance(reader, BoardReaderConfig) and reader.uv_per_k is not None and not reader.thermocouple:
            expected = "thermocouple beside it, whose true curve is to be used"
            yield Mistake(("reader", role, "uv_per_k"), f"{reader.uv_per_k:g}", expected)


def _blind_when_cold(parts: Parts) -> Iterator[Mistake]:
    """Type B gives almost no voltage below 250 C, and at 21 C the least of all: nothing to see."""
    for role, reader in parts.readers.items():
        ours = getattr(reader, "cold_junction", None) is not None or getattr(reader, "uv_per_k", None)
        if ours and reader.thermocouple == "B" and role != "enclosure":
            expected = "a type that can be read in a cold kiln: below 42 C, B has one voltage twice"
            yield Mistake(("reader", role, "thermocouple"), '"B"', expected)


def _boards(parts: Parts) -> Iterator[Mistake]:
    """A board switches heat and main contactor together, and hears of few contacts."""
    heater, main = parts.heater, parts.main_contactor
    on_board = isinstance(heater, BoardHeaterConfig) or isinstance(main, BoardSwitchConfig)
    if heater is not None and main is not None and on_board and heater.bus != main.bus:
        expected = f'"{heater.bus}", the heater\'s: a board switches both or none'
        yield Mistake(("main_contactor", "bus"), f'"{main.bus}"', expected)
    for role, contact in parts.contacts.items():
        if isinstance(contact, BoardContactConfig) and role not in BOARD_CONTACT_ROLES:
            expected = f"a bus that is no board: a board has {', '.join(BOARD_CONTACT_ROLES)}"
            yield Mistake(("contact", role, "bus"), f'"{contact.bus}"', expected)
    for name, shown in parts.shown.items():
        if isinstance(parts.buses.get(shown.bus), BoardBusConfig):
            yield Mistake(("shown", name, "bus"), f'"{shown.bus}"', "a bus that is no board")
    for path, switch in parts.switches():
        named = switch.read_back.bus if switch.read_back is not None else None
        if isinstance(parts.buses.get(named or ""), BoardBusConfig):
            yield Mistake((*path, "read_back", "bus"), f'"{named}"', "a bus that is no board")


def _ports(parts: Parts) -> Iterator[Mistake]:
    """A serial port has one owner."""
    taken: dict[str, str] = {}
    for name, bus in parts.buses.items():
        if isinstance(bus, BoardBusConfig | RtuBusConfig):
            path: Path = ("bus", name, "port")
            if bus.port in taken:
                yield Mistake(
                    path, f'"{bus.port}"', f"a port of its own: [bus.{taken[bus.port]}] has this one"
                )
            taken[bus.port] = name


CHECKS = (_classes, _millivolts, _straight_lines, _blind_when_cold, _boards, _ports)
