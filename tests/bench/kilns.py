"""Kilns drawn by lot: power, mass, lining, lag, noise, load and relay, the same for the same seed.

Two sets, kept apart: on `DEVELOPMENT` the control may be tried out; on `BENCH` it is only ever measured.
(Both may be widened: a kiln drawn for a seed stays what it is.)
"""

from __future__ import annotations

import random
from dataclasses import dataclass

from controller.control import Switching
from controller.physics.parameters import KilnParameters
from controller.simulator.plant import Plant

BENCH = tuple(range(1, 51))
DEVELOPMENT = tuple(range(1000, 1060))

SOLID_STATE = Switching(2.0, 1.0, 1.0)
CONTACTORS = (Switching(20.0, 2.0, 2.0), Switching(30.0, 3.0, 3.0))


@dataclass(frozen=True, slots=True)
class DrawnKiln:
    """One kiln, with its relay and its thermocouples' noise. `power_w` is what its file says (as true)."""

    seed: int
    parameters: KilnParameters
    switching: Switching
    water_kg: float
    plastic_kg: float
    noise_k: float
    room_c: float

    @property
    def contactor(self) -> bool:
        """Whether its relay is a contactor."""
        return self.switching.cycle_s > SOLID_STATE.cycle_s

    def plant(self, seed: int) -> Plant:
        """Return the kiln cold, with a fresh shell in it. `seed`: of the noise."""
        return Plant(
            self.parameters,
            seed=seed,
            start_c=self.room_c,
            room_c=self.room_c,
            water_kg=self.water_kg,
            plastic_kg=self.plastic_kg,
            noise_k=self.noise_k,
        )


def draw(seed: int) -> DrawnKiln:
    """Draw a kiln: about the default one's size, each quantity by a factor of its own.

    A kiln's size scales power, masses and conductances together; what is drawn beside it makes it strong
    or weak, heavy or light, quick or slow. The weakest cannot follow the steepest ramps of the schedules.
    """
    lot = random.Random(f"kiln {seed}")

    def factor(spread: float) -> float:
        """A factor about one, as likely low as high: from 1/spread to spread."""
        return float(spread ** lot.uniform(-1.0, 1.0))

    p, size = KilnParameters(), factor(2.5)
    brick, thickness, load, wire = factor(2.0), factor(1.6), factor(2.5), factor(1.7)
    conducts = size * factor(1.5) / thickness
    parameters = KilnParameters(
        rated_power_w=p.rated_power_w * size * factor(1.5),
        elements_j_per_k=p.elements_j_per_k * size * wire,
        elements_air_w_per_k=p.elements_air_w_per_k * size * wire,
        elements_lining_m2=p.elements_lining_m2 * size * wire,
        elements_load_m2=p.elements_load_m2 * size,
        air_j_per_k=p.air_j_per_k * size**1.5,
        lining_air_w_per_k=p.lining_air_w_per_k * size,
        lining_hot_j_per_k=p.lining_hot_j_per_k * size * brick,
        lining_middle_j_per_k=p.lining_middle_j_per_k * size * brick * thickness,
        lining_cold_j_per_k=p.lining_cold_j_per_k * size * brick * thickness,
        lining_hot_middle_w_per_k=p.lining_hot_middle_w_per_k * conducts,
        lining_middle_cold_w_per_k=p.lining_middle_cold_w_per_k * conducts,
        lining_room_w_per_k=p.lining_room_w_per_k * size,
        load_air_w_per_k=p.load_air_w_per_k * size * load**0.67,
        lining_load_m2=p.lining_load_m2 * size * load**0.67,
        load_outer_j_per_k=p.load_outer_j_per_k * size * load,
        load_core_j_per_k=p.load_core_j_per_k * size * load,
        load_w_per_k=p.load_w_per_k * size * load**0.67,
        leak_kg_per_s=p.leak_kg_per_s * size * factor(2.0),
        extraction_kg_per_s=p.extraction_kg_per_s * size * factor(1.5),
        drained_part=lot.uniform(0.5, 0.95),
        air_probe_s=p.air_probe_s * factor(2.5),
        air_probe_sees_lining=lot.uniform(0.5, 0.95),
        load_probe_s=p.load_probe_s * factor(2.0),
        limit_probe_s=p.limit_probe_s * factor(1.5),
        limit_probe_sees_lining=lot.uniform(0.6, 0.95),
    )
    return DrawnKiln(
        seed,
        parameters,
        lot.choice((SOLID_STATE, SOLID_STATE, *CONTACTORS)),
        water_kg=0.6 * size * load * lot.uniform(0.1, 1.0),
        plastic_kg=0.5 * size * load * lot.uniform(0.2, 1.0),
        noise_k=lot.uniform(0.05, 0.25),
        room_c=lot.uniform(8.0, 32.0),
    )
