"""A kiln that is not there: the equations, and around them relay, contactor, contacts and thermocouples.

`advance(dt_s)` moves it on; nothing else takes time. No clock, no input or output, no chance: the same
seed and the same calls give the same readings. It is used as it is (in process, many thousand times
faster than a kiln), or behind `modbus_face`.

Heat flows when the relay is closed (its coil is on and its lease alive, or it is welded) and the main
contactor is closed and the supply and the elements are whole. The lease lives here, in the hardware: a
relay switched on with a lease drops by itself when that has passed without a renewal.
"""

from __future__ import annotations

from controller.physics.kiln import KilnState, at_rest, step
from controller.physics.parameters import KilnParameters
from controller.simulator import faults as table
from controller.simulator.sensors import CONVERSIONS_PER_S, NOISE_COUNT, WAYS, Way, noise
from controller.simulator.sight import Contacts, Readings, Sight

SHELL_WATER_KG = 0.6
"""Water in a shell of 6 kg that has stood to dry in air: a tenth. Chosen."""

SHELL_PLASTIC_KG = 0.5
"""Plastic of the printed pattern in it. Chosen."""

FIRE_W = 4000.0
"""What burning plastic sets free: 0.5 kg of PLA within 36 min, at 17.45 MJ/kg."""

DOOR_OPENING_M2 = 0.16
"""The open door's hole: 0.4 m each way."""

DOOR_KG_PER_S = 0.02
"""Air that an open door lets through. Chosen: 1 m3 a minute."""

ENCLOSURE_SHARE = 0.1
"""The reader's enclosure is warmed by so much of what the kiln's casing is above the room."""

ENCLOSURE_FAULT_K = 45.0
"""From a 20 C room this passes any limit that an enclosure's parts would bear."""


class Plant:
    """The simulated kiln. Starts cold, heat off, main contactor open, all contacts well."""

    def __init__(
        self,
        parameters: KilnParameters | None = None,
        *,
        seed: int = 1,
        start_c: float = 20.0,
        room_c: float = 20.0,
        water_kg: float = SHELL_WATER_KG,
        plastic_kg: float = SHELL_PLASTIC_KG,
        noise_k: float = 0.15,
    ) -> None:
        self.parameters = parameters or KilnParameters()
        self.state: KilnState = at_rest(start_c, water_kg, plastic_kg)
        self.room_c = room_c
        self.now_s = 0.0
        self.heat_coil = False
        self.main_coil = False
        self.relay_closed = False
        self.lease_ends = 0
        self.relay_cycles = 0
        self.faults: frozenset[str] = frozenset()
        self._noise_k = noise_k
        self._lease_left_s: float | None = None
        self._frozen: dict[str, float] = {}
        self.reseed(seed)
        self._settle()

    def reseed(self, seed: int) -> None:
        """Draw the thermocouples' noise anew."""
        self.seed = seed
        self._noise = noise(seed, self._noise_k)

    def advance(self, dt_s: float) -> None:
        """Move on by `dt_s` (s, not negative). A lease that ends meanwhile ends at its own moment."""
        left_s = self._lease_left_s
        if left_s is not None:
            if left_s <= dt_s:
                self._run(left_s)
                dt_s -= left_s
                self._drop()
            else:
                self._lease_left_s = left_s - dt_s
        self._run(dt_s)

    def _run(self, dt_s: float) -> None:
        self.state = step(
            self.state,
            self.parameters,
            self.power_w,
            dt_s,
            self.room_c,
            self.air_kg_per_s,
            self.opening_m2,
            self.fire_w,
        )
        self.now_s += dt_s

    def set_heat(self, on: bool, lease_s: float = 0.0) -> None:
        """Switch the heat's coil. Switched on, it drops by itself after `lease_s`; 0 is without end."""
        self._lease_left_s = lease_s if on and lease_s > 0.0 else None
        if on != self.heat_coil:
            self.heat_coil = on
            self._settle_power()

    def set_main(self, closed: bool) -> None:
        """Switch the main contactor's coil."""
        self.main_coil = closed
        self._settle_power()

    def _drop(self) -> None:
        self.heat_coil = False
        self._lease_left_s = None
        self.lease_ends += 1
        self._settle_power()

    def set_fault(self, name: str, on: bool) -> None:
        """Switch a fault of the table; raise UsageError where there is none of that name."""
        table.number(name)
        if on == (name in self.faults):
            return
        if on and name.endswith("_frozen"):
            self._freeze()
        self.faults = self.faults | {name} if on else self.faults - {name}
        self._settle()

    def _freeze(self) -> None:
        """Keep what is true now for thermocouples that freeze now."""
        keep = {**dict(zip(table.ROLES, self._sensed(), strict=True)), "enclosure": self.enclosure_c()}
        for what, c in keep.items():
            if f"{what}_frozen" not in self.faults and "reader_frozen" not in self.faults:
                self._frozen[what] = c

    def _settle(self) -> None:
        """Work out what follows from coils and faults; called when one of them changes."""
        self._settle_power()
        self._settle_surroundings()
        self._ways = tuple(self._way(role) for role in table.ROLES)
        self._sound = not any(self._ways)

    def _settle_power(self) -> None:
        faults = self.faults
        stopped = not faults.isdisjoint({"emergency_stop_pressed", "main_dead"})
        self.main_aux = (self.main_coil and not stopped) or "main_stuck_closed" in faults
        self.heat_aux = (self.heat_coil and "relay_dead" not in faults) or "relay_stuck" in faults
        closed = self.heat_aux or "relay_welded" in faults
        self.relay_cycles += closed and not self.relay_closed
        self.relay_closed = closed
        whole = faults.isdisjoint({"element_broken", "breaker_tripped"})
        part = 0.5 if "element_half" in faults else 1.0
        self.power_w = self.parameters.rated_power_w * part if closed and self.main_aux and whole else 0.0

    def _settle_surroundings(self) -> None:
        faults, p = self.faults, self.parameters
        self.contacts = Contacts(
            door_closed="door_opened" not in faults,
            emergency_stop_released="emergency_stop_pressed" not in faults,
            extraction_running="extraction_lost" not in faults,
            person_present="nobody_present" not in faults,
            key_in="key_removed" not in faults,
        )
        self.air_kg_per_s = p.leak_kg_per_s
        if self.contacts.extraction_running:
            self.air_kg_per_s += p.extraction_kg_per_s
        if not self.contacts.door_closed:
            self.air_kg_per_s += DOOR_KG_PER_S
        self.opening_m2 = 0.0 if self.contacts.door_closed else DOOR_OPENING_M2
        self.fire_w = FIRE_W if "plastic_burns" in faults else 0.0

    def _way(self, role: str) -> Way | None:
        """Return how a thermocouple fails, None where it does not."""
        if "reader_frozen" in self.faults:
            return WAYS["frozen"]
        return next((way for name, way in WAYS.items() if f"{role}_{name}" in self.faults), None)

    def _sensed(self) -> tuple[float, float, float]:
        """Return what sound thermocouples show, in the order of `Readings`."""
        state, table_k = self.state, self._noise
        i = int(self.now_s * CONVERSIONS_PER_S) % NOISE_COUNT
        # A negative index is the same place reckoned from the table's end: no second division.
        third = NOISE_COUNT // 3
        return (
            state.air_probe_c + table_k[i],
            state.load_probe_c + table_k[i - third],
            state.limit_probe_c + table_k[i - 2 * third],
        )

    def readings(self) -> Readings:
        """Return what the reader shows now, C."""
        sensed = self._sensed()
        if self._sound:
            return Readings(*sensed)
        enclosure_c = self.enclosure_c()
        shown = [
            way(true_c, enclosure_c, self._frozen.get(role, true_c)) if way else true_c
            for role, way, true_c in zip(table.ROLES, self._ways, sensed, strict=True)
        ]
        return Readings(*shown)

    def enclosure_c(self) -> float:
        """Return the temperature of the reader's enclosure, which is its cold junction, C."""
        if "reader_frozen" in self.faults:
            return self._frozen["enclosure"]
        warmed_c = self.room_c + ENCLOSURE_SHARE * (self.state.lining_cold_c - self.room_c)
        return warmed_c + ("hot_enclosure" in self.faults) * ENCLOSURE_FAULT_K

    def answers(self, unit: str) -> str:
        """Return how "reader", "heater" or "contacts" answers: normal, silent, slow, misnamed, refuses."""
        return next(
            (how for how in ("silent", "slow", "misnamed", "refuses") if f"{unit}_{how}" in self.faults),
            "normal",
        )

    def sight(self) -> Sight:
        """Return all that a person at the kiln could see now."""
        return Sight(
            *self.readings(),
            self.enclosure_c(),
            self.power_w,
            self.heat_aux,
            self.main_aux,
            *self.contacts,
            self.air_kg_per_s,
            self.opening_m2,
            self.fire_w,
            *(self.answers(unit) for unit in ("reader", "heater", "contacts")),
        )
