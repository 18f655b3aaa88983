"""What could be read of a kiln's file, before its parts are held against each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from controller.config.buses import BusConfig
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
    VentConfig,
)
from controller.config.sensors import ReaderConfig, SensorConfig, ShownConfig

Path = tuple[str | int, ...]


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
    shown: dict[str, ShownConfig]
    control: ControlConfig | None
    guard: GuardConfig | None
    vent: VentConfig | None

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
        found |= {shown.unit for shown in self.shown.values() if shown.bus == bus}
        found |= {switch.unit for _, switch in self.switches() if switch.bus == bus}
        found |= {c.unit for c in self.contacts.values() if isinstance(c, ContactConfig) and c.bus == bus}
        for _, switch in self.switches():
            back = switch.read_back
            if back is not None and (back.bus or switch.bus) == bus:
                found.add(switch.unit if back.unit is None else back.unit)
        return found
