"""A kiln as frozen data: its wires, readers, heater and contacts, and the numbers of control and guard.

Every field that stands in the file says beside its type how it is read and between which limits
(`kinds.py`); a field with a default may be left out. To add a key, add a line here. Nothing in this
house knows a kiln but through these.

Addresses count from zero, as they go over the wire. A register that a manual calls 40001 is holding
register 0; 30001 is input register 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from controller.config import kinds
from controller.schedule.units import ABSOLUTE_ZERO_C, F_PER_K, FREEZING_F

READER_ROLES = ("air", "load", "limit", "enclosure")
CONTACT_ROLES = ("door", "emergency_stop", "extraction", "presence", "key")

Function = Literal["coil", "discrete", "input", "holding"]
NumberType = Literal["int16", "uint16", "int32", "uint32", "float32"]
Order = Literal["big", "word-swapped", "byte-swapped", "little"]

_FUNCTION = kinds.choice("coil", "discrete", "input", "holding")
_TYPE = kinds.choice("int16", "uint16", "int32", "uint32", "float32")
_ORDER = kinds.choice("big", "word-swapped", "byte-swapped", "little")
_ADDRESS = kinds.whole(0, 0xFFFF)

# degrees -> (kelvin in one degree, degrees C at zero degrees)
_DEGREES = {"C": (1.0, 0.0), "F": (1 / F_PER_K, -FREEZING_F / F_PER_K), "K": (1.0, ABSOLUTE_ZERO_C)}


@dataclass(frozen=True, slots=True, kw_only=True)
class BusConfig:
    """`[bus.NAME]`: a wire. A question waits at most `timeout_s`, and is asked `retries` times more."""

    name: str
    kind: Annotated[str, kinds.choice("modbus-tcp")]
    host: Annotated[str, kinds.text()]
    port: Annotated[int, kinds.whole(1, 65535)] = 502  # the port of Modbus TCP
    timeout_s: Annotated[float, kinds.seconds(0.02, 5)] = 0.3
    retries: Annotated[int, kinds.whole(0, 3)] = 0


# The kinds of bus, and the table that each is read into. A second kind is one more row.
BUS_KINDS: dict[str, type[BusConfig]] = {"modbus-tcp": BusConfig}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReaderConfig:
    """`[reader.ROLE]`: one thermocouple. Its temperature is (number x scale + offset) in `degrees`.

    `fault_values` are numbers as sent, before scaling, by which the reader says that the sensor is open
    or out of range. A temperature outside `lowest_c` to `highest_c` is a fault as well.
    """

    role: str
    bus: Annotated[str, kinds.text()]
    unit: Annotated[int, kinds.unit()] = 1
    function: Annotated[Function, kinds.choice("input", "holding")]
    address: Annotated[int, _ADDRESS]
    type: Annotated[NumberType, _TYPE] = "int16"
    order: Annotated[Order, _ORDER] = "big"
    scale: Annotated[float, kinds.number(-1e6, 1e6)] = 1.0
    offset: Annotated[float, kinds.number(-1e6, 1e6)] = 0.0
    degrees: Annotated[str, kinds.choice("C", "F", "K")] = "C"
    fault_values: Annotated[tuple[float, ...], kinds.numbers()] = ()
    lowest_c: Annotated[
        float, kinds.celsius(-273, 100)
    ] = -50.0  # no kiln is colder: a reversed or shorted sensor
    highest_c: Annotated[float, kinds.celsius(50, 1820)] = 1372.0  # the end of type K (IEC 60584-1)

    @property
    def line_c(self) -> tuple[float, float]:
        """Return (kelvin in one count, degrees C at a count of zero)."""
        kelvin, zero_c = _DEGREES[self.degrees]
        return self.scale * kelvin, self.offset * kelvin + zero_c


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBackConfig:
    """`read_back`: where a heater or contactor says whether it is on.

    On is: the bit, or register, equals `on`. `bus` and `unit` None: those of what is read back; an
    auxiliary contact on another board is worth more, because it does not believe the relay board.
    """

    function: Annotated[Function, _FUNCTION]
    address: Annotated[int, _ADDRESS]
    bit: Annotated[int | None, kinds.whole(0, 15)] = None
    on: Annotated[int, kinds.level()] = 1
    bus: Annotated[str | None, kinds.text()] = None
    unit: Annotated[int | None, kinds.unit()] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchdogConfig:
    """`watchdog`: the holding register that takes the lease, so that the heat's end lies in the hardware.

    One count is `scale_ms` milliseconds.
    """

    address: Annotated[int, _ADDRESS]
    type: Annotated[NumberType, _TYPE] = "uint16"
    order: Annotated[Order, _ORDER] = "big"
    scale_ms: Annotated[float, kinds.number(0.001, 60_000)] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchConfig:
    """`[main_contactor]`: a coil or holding register that is written `on` or `off`."""

    bus: Annotated[str, kinds.text()]
    unit: Annotated[int, kinds.unit()] = 1
    kind: Annotated[str, kinds.choice("coil", "register")]
    address: Annotated[int, _ADDRESS]
    on: Annotated[int, kinds.level()] = 1
    off: Annotated[int, kinds.level()] = 0
    read_back: ReadBackConfig | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterConfig(SwitchConfig):
    """`[heater]`: the switch of the elements, and their power."""

    power_w: Annotated[float, kinds.quantity("_w", {"W": 1.0, "kW": 1000.0}, 10, 500_000)]
    watchdog: WatchdogConfig | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactConfig:
    """`[contact.ROLE]`: one digital input, or `bit` of a register (the whole register: not zero is true).

    `healthy` is what it reads when the door is closed, the stop not pressed, the extraction running, a
    person present, the key in. Wire it so that healthy is true: then a broken wire is not healthy.
    """

    role: str
    bus: Annotated[str, kinds.text()]
    unit: Annotated[int, kinds.unit()] = 1
    function: Annotated[Function, _FUNCTION]
    address: Annotated[int, _ADDRESS]
    bit: Annotated[int | None, kinds.whole(0, 15)] = None
    healthy: Annotated[bool, kinds.flag()] = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ControlConfig:
    """`[control]`: the feedback, the time-proportioning, and what is known of the kiln beforehand.

    The defaults suit a contactor and a small kiln badly known: 20 s is as fast as mechanical parts like
    (common practice, no source), and gain and integral time are on the slow side of what SIMC tuning
    gives for a rise of 0.15 K/s at full heat and a dead time of 60 s (0.06 /K, 480 s).
    """

    cycle_s: Annotated[float, kinds.seconds(1, 120)] = 20.0
    shortest_on_s: Annotated[float, kinds.seconds(0, 60)] = 1.0
    shortest_off_s: Annotated[float, kinds.seconds(0, 60)] = 1.0
    gain_per_k: Annotated[float, kinds.quantity("_per_k", {"/K": 1.0}, 1e-5, 1)] = 0.03
    integral_s: Annotated[float, kinds.seconds(1, 36_000)] = 900.0
    derivative_s: Annotated[float, kinds.seconds(0, 3600)] = 0.0
    heat_capacity_j_per_k: Annotated[
        float | None, kinds.quantity("_j_per_k", {"J/K": 1.0, "kJ/K": 1000.0}, 100, 1e8)
    ] = None
    loss_w_per_k: Annotated[float | None, kinds.quantity("_w_per_k", {"W/K": 1.0}, 0.01, 10_000)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardConfig:
    """`[guard]`: the interlocks' numbers, each a default that a kiln's file may override within limits.

    The defaults are the guard's own (`guard.sight.Limits`; a test holds them equal), and the reason for
    each stands beside the row that uses it.
    """

    ceiling_after_s: Annotated[float, kinds.seconds(0, 10)] = 2.0
    stale_s: Annotated[float, kinds.seconds(1, 120)] = 10.0
    sensor_trip_s: Annotated[float, kinds.seconds(5, 3600)] = 120.0
    frozen_s: Annotated[float, kinds.seconds(60, 3600)] = 300.0
    frozen_other_k: Annotated[float, kinds.kelvin(2, 100)] = 15.0
    falls_k: Annotated[float, kinds.kelvin(3, 100)] = 10.0
    differ_k: Annotated[float, kinds.kelvin(10, 200)] = 40.0
    differ_after_s: Annotated[float, kinds.seconds(0, 3600)] = 60.0
    read_back_s: Annotated[float, kinds.seconds(0.5, 60)] = 5.0
    unheated_settle_s: Annotated[float, kinds.seconds(10, 3600)] = 180.0
    unheated_rise_k: Annotated[float, kinds.kelvin(3, 100)] = 12.0
    no_rise_after_s: Annotated[float, kinds.seconds(60, 7200)] = 600.0
    no_rise_k: Annotated[float, kinds.kelvin(0.5, 50)] = 3.0
    no_rise_trip_s: Annotated[float, kinds.seconds(60, 7200)] = 1800.0
    fastest_rise_k_per_min: Annotated[float, kinds.quantity("_k_per_min", {"K/min": 1.0}, 1, 200)] = 30.0
    surge_k_per_min: Annotated[float, kinds.quantity("_k_per_min", {"K/min": 1.0}, 0.5, 50)] = 5.0
    surge_after_s: Annotated[float, kinds.seconds(0, 600)] = 20.0
    surge_settle_s: Annotated[float, kinds.seconds(0, 7200)] = 600.0
    extraction_after_s: Annotated[float, kinds.seconds(0, 120)] = 10.0
    enclosure_warm_c: Annotated[float, kinds.celsius(30, 85)] = 55.0
    enclosure_hot_c: Annotated[float, kinds.celsius(30, 100)] = 70.0
    clock_step_s: Annotated[float, kinds.seconds(0.5, 3600)] = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnConfig:
    """A kiln's whole file. `text` is kept with every firing; the mappings are by name and by role."""

    name: Annotated[str, kinds.text()]
    simulated: Annotated[bool, kinds.flag()] = False
    ceiling_c: Annotated[float, kinds.celsius(50, 1750)]
    tick_s: Annotated[float, kinds.seconds(0.1, 5)] = 1.0
    lease_s: Annotated[float, kinds.seconds(0.2, 30)] = 3.0
    longest_firing_s: Annotated[float, kinds.seconds(60, 14 * 86400)] = 48 * 3600.0
    full_rate_c_per_h: Annotated[float, kinds.rate(1, 3000)] = 300.0
    buses: Mapping[str, BusConfig]
    readers: Mapping[str, ReaderConfig]
    heater: HeaterConfig
    main_contactor: SwitchConfig | None = None
    contacts: Mapping[str, ContactConfig]
    control: ControlConfig
    guard: GuardConfig
    text: str = ""
    file: str = ""
