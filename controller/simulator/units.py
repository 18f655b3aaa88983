"""What each Modbus unit of the simulated kiln holds, as tables of numbers; no socket here.

    unit  1  reader    input registers: 0 air, 1 load, 2 limit, 3 cold junction, tenths of a degree C, int16;
                       10, 12, 14 air, load, limit as float32, high word first; 20, 22, 24 low word first
    unit  2  heater    coils: 0 heat, 1 main contactor; holding register 0: lease in ms, 0 is without end;
                       discrete inputs: 0 heat's read-back, 1 main contactor's auxiliary contact
    unit  3  contacts  discrete inputs, 1 is well: 0 door closed, 1 emergency stop released,
                       2 extraction running, 3 someone present, 4 key in
    unit 99  panel     coils: the faults, in the order of their table; holding register 0: seed of the noise;
                       input registers: what is true (see `Panel.inputs`)

A table is a sequence; an address that holds nothing is None or beyond its end. The lease's register takes
effect at the next time that the heat's coil is written.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

from controller.simulator.faults import FAULTS
from controller.simulator.plant import Plant

OPEN = 32767
"""What the reader sends for a thermocouple that is broken."""

NO_READING = -32768
"""What it sends for one that is shorted, or below the range."""

NOTHING = (None,)

Table = Sequence[int | None]


class Unit:
    """One Modbus unit. Tables that it does not have are empty; what cannot be written is refused."""

    number = 0
    name = ""

    def __init__(self, plant: Plant) -> None:
        self.plant = plant

    def coils(self) -> Table:
        """Return the coils, 0 or 1."""
        return ()

    def discretes(self) -> Table:
        """Return the discrete inputs, 0 or 1."""
        return ()

    def holdings(self) -> Table:
        """Return the holding registers, 0 to 65535."""
        return ()

    def inputs(self) -> Table:
        """Return the input registers, 0 to 65535."""
        return ()

    def write_coil(self, address: int, on: bool) -> None:
        """Write a coil that `coils` holds."""

    def write_holding(self, address: int, value: int) -> None:
        """Write a holding register that `holdings` holds."""


class Reader(Unit):
    """The thermocouple reader."""

    number = 1
    name = "reader"

    def inputs(self) -> Table:
        """Return tenths, then floats in both orders of their words; NaN where a float has no reading."""
        readings = self.plant.readings()
        tenths = [self._code(role, c) for role, c in zip(("air", "load", "limit"), readings, strict=True)]
        floats = [_float_words(c) for c in readings]
        big = [word for words in floats for word in words]
        little = [word for words in floats for word in reversed(words)]
        return [*tenths, word(self.plant.enclosure_c() * 10.0), *NOTHING * 6, *big, *NOTHING * 4, *little]

    def _code(self, role: str, c: float | None) -> int:
        if c is not None:
            return word(c * 10.0)
        return word(OPEN if f"{role}_open" in self.plant.faults else NO_READING)


class Heater(Unit):
    """The heat relay with its lease, and the main contactor."""

    number = 2
    name = "heater"

    def __init__(self, plant: Plant) -> None:
        super().__init__(plant)
        self.lease_ms = 0

    def coils(self) -> Table:
        """Return the coils as they stand: the heat's falls when its lease ends."""
        return (int(self.plant.heat_coil), int(self.plant.main_coil))

    def discretes(self) -> Table:
        """Return the read-backs."""
        return (int(self.plant.heat_aux), int(self.plant.main_aux))

    def holdings(self) -> Table:
        """Return the lease's register."""
        return (self.lease_ms,)

    def write_coil(self, address: int, on: bool) -> None:
        """Switch the heat, which renews its lease, or the main contactor."""
        if address == 0:
            self.plant.set_heat(on, self.lease_ms / 1000.0)
        else:
            self.plant.set_main(on)

    def write_holding(self, address: int, value: int) -> None:
        """Set the lease for the next renewals."""
        self.lease_ms = value


class ContactUnit(Unit):
    """The digital inputs."""

    number = 3
    name = "contacts"

    def discretes(self) -> Table:
        """Return the contacts, 1 where all is well."""
        return [int(well) for well in self.plant.contacts]


class Panel(Unit):
    """The fault panel, and what is true behind the wire: for tests and demonstrations only."""

    number = 99
    name = "panel"

    def coils(self) -> Table:
        """Return the faults, 1 where switched on."""
        return [int(fault.name in self.plant.faults) for fault in FAULTS]

    def holdings(self) -> Table:
        """Return the noise's seed."""
        return (self.plant.seed,)

    def inputs(self) -> Table:
        """Return air, load core, load outer, lining's hot face (tenths of a degree C, int16); leases ended,
        relay cycles; water and plastic in the shell (g); power (W); kiln seconds (two words, high first)."""
        plant, state = self.plant, self.plant.state
        seconds = int(plant.now_s)
        return [
            word(state.air_c * 10.0),
            word(state.load_core_c * 10.0),
            word(state.load_outer_c * 10.0),
            word(state.lining_hot_c * 10.0),
            word(plant.lease_ends),
            word(plant.relay_cycles),
            word(state.water_kg * 1000.0),
            word((state.solid_kg + state.melt_kg) * 1000.0),
            word(plant.power_w),
            word(seconds >> 16),
            word(seconds),
        ]

    def write_coil(self, address: int, on: bool) -> None:
        """Switch a fault."""
        self.plant.set_fault(FAULTS[address].name, on)

    def write_holding(self, address: int, value: int) -> None:
        """Draw the noise anew from a seed."""
        self.plant.reseed(value)


def all_units(plant: Plant) -> tuple[Unit, ...]:
    """Return the units of a kiln."""
    return (Reader(plant), Heater(plant), ContactUnit(plant), Panel(plant))


def word(value: float) -> int:
    """Return a whole number as a register, in two's complement; beyond 16 bits the upper ones are lost."""
    return round(value) & 0xFFFF


def _float_words(c: float | None) -> tuple[int, int]:
    high, low = struct.unpack(">HH", struct.pack(">f", float("nan") if c is None else c))
    return high, low
