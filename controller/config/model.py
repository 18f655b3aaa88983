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
from controller.config.buses import BusConfig
from controller.config.sensors import ADDRESS, ORDER, TYPE, NumberType, Order, SensorConfig, ShownConfig

CONTACT_ROLES = ("door", "emergency_stop", "extraction", "presence", "key")
# A board has a place of its own for each of these, and for no others.
BOARD_CONTACT_ROLES = ("door", "emergency_stop", "extraction", "key")

Function = Literal["coil", "discrete", "input", "holding"]

POWER = kinds.quantity("_w", {"W": 1.0, "kW": 1000.0}, 10, 500_000)
_FUNCTION = kinds.choice("coil", "discrete", "input", "holding")


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBackConfig:
    """`read_back`: where a heater or contactor says whether it is on.

    On is: the bit, or register, equals `on`. `bus` and `unit` None: those of what is read back; an
    auxiliary contact on another board is worth more, because it does not believe the relay board.
    """

    function: Annotated[Function, _FUNCTION]
    address: Annotated[int, ADDRESS]
    bit: Annotated[int | None, kinds.whole(0, 15)] = None
    on: Annotated[int, kinds.level()] = 1
    bus: Annotated[str | None, kinds.text()] = None
    unit: Annotated[int | None, kinds.unit()] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchdogConfig:
    """`watchdog`: the holding register that takes the lease, so that the heat's end lies in the hardware.

    One count is `scale_ms` milliseconds.
    """

    address: Annotated[int, ADDRESS]
    type: Annotated[NumberType, TYPE] = "uint16"
    order: Annotated[Order, ORDER] = "big"
    scale_ms: Annotated[float, kinds.number(0.001, 60_000)] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchConfig:
    """`[main_contactor]`: a coil or holding register that is written `on` or `off`."""

    bus: Annotated[str, kinds.text()]
    unit: Annotated[int, kinds.unit()] = 1
    kind: Annotated[str, kinds.choice("coil", "register")]
    address: Annotated[int, ADDRESS]
    on: Annotated[int, kinds.level()] = 1
    off: Annotated[int, kinds.level()] = 0
    read_back: ReadBackConfig | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeaterConfig(SwitchConfig):
    """`[heater]`: the switch of the elements, and their power."""

    power_w: Annotated[float, POWER]
    watchdog: WatchdogConfig | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardSwitchConfig:
    """`[main_contactor]` on a board, which knows its own output for it."""

    bus: Annotated[str, kinds.text()]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardHeaterConfig(BoardSwitchConfig):
    """`[heater]` on a board: the lease is counted there, and the output read back."""

    power_w: Annotated[float, POWER]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardContactConfig:
    """`[contact.ROLE]` on a board, which has an input of its own for each role."""

    role: str
    bus: Annotated[str, kinds.text()]


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
    address: Annotated[int, ADDRESS]
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
    still_trip_s: Annotated[float, kinds.seconds(120, 3600)] = 600.0
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
class VentConfig:
    """`[vent]`: what passes through the chamber while the plastic burns. Only forecasts ask for it.

    `flow`: air from the room, measured cold, with the extraction running; the vent's or the maker's figure.
    """

    flow_m3_per_h: Annotated[float | None, kinds.flow(0, 5000)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KilnConfig:
    """A kiln's whole file. `text` is kept with every firing; the mappings are by name and by role.

    `tariff` (what a kilowatt-hour costs) and `relay_life` (cycles that the heater's relay is good for, by its
    maker) are for reports only; nothing is decided by them.
    """

    name: Annotated[str, kinds.text()]
    simulated: Annotated[bool, kinds.flag()] = False
    ceiling_c: Annotated[float, kinds.celsius(50, 1750)]
    tick_s: Annotated[float, kinds.seconds(0.1, 5)] = 1.0
    lease_s: Annotated[float, kinds.seconds(0.2, 30)] = 3.0
    longest_firing_s: Annotated[float, kinds.seconds(60, 14 * 86400)] = 48 * 3600.0
    full_rate_c_per_h: Annotated[float, kinds.rate(1, 3000)] = 300.0
    tariff: Annotated[str | None, kinds.tariff()] = None
    relay_life: Annotated[int | None, kinds.whole(1000, 100_000_000)] = None
    buses: Mapping[str, BusConfig]
    readers: Mapping[str, SensorConfig]
    heater: HeaterConfig | BoardHeaterConfig
    main_contactor: SwitchConfig | BoardSwitchConfig | None = None
    contacts: Mapping[str, ContactConfig | BoardContactConfig]
    shown: Mapping[str, ShownConfig]
    control: ControlConfig
    guard: GuardConfig
    vent: VentConfig = VentConfig()
    text: str = ""
    file: str = ""

    @property
    def reads_heat_back(self) -> bool:
        """Return whether the heater says if it is on; a board always does."""
        return isinstance(self.heater, BoardHeaterConfig) or self.heater.read_back is not None
