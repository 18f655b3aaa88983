"""Kilns drawn from a seed for the campaign of faults: power, masses, losses, load, lag, noise and relay."""

from __future__ import annotations

import functools
import random
from dataclasses import replace
from pathlib import Path

from controller.control import Switching
from controller.firing import Cue, Request
from controller.guard import Limits
from controller.physics.parameters import KilnParameters
from controller.schedule.model import Cool, Hold, Ramp, Schedule
from controller.simulator.plant import Plant
from tests.in_process import DEMO_PLAN, InProcess, in_process

CEILING_C = 450.0
SCHEDULE = Schedule(
    "hot and short",
    (
        Ramp("up", 400.0, 500.0, extraction=True),
        Hold("soak", 400.0, 5400.0, 20.0, extraction=True),
        Cool("down", 380.0, 120.0),
    ),
)
TICK_S = 2.0
# Every third kiln has a contactor, slow as contactors are; the others have a solid-state relay.
CONTACTOR = Switching(20.0, 4.0, 4.0)


def parameters(kiln: int) -> KilnParameters:
    """Draw a kiln: small and fast, or heavy and slow."""
    rng = random.Random(7000 + kiln)
    size = rng.uniform(0.7, 1.5)
    base = KilnParameters()

    def drawn(value: float, spread: float) -> float:
        return value * rng.uniform(1.0 - spread, 1.0 + spread)

    return replace(
        base,
        rated_power_w=drawn(base.rated_power_w * size, 0.25),
        elements_j_per_k=drawn(base.elements_j_per_k * size, 0.3),
        lining_hot_j_per_k=drawn(base.lining_hot_j_per_k * size, 0.3),
        lining_middle_j_per_k=drawn(base.lining_middle_j_per_k * size, 0.3),
        lining_cold_j_per_k=drawn(base.lining_cold_j_per_k * size, 0.3),
        lining_room_w_per_k=drawn(base.lining_room_w_per_k * size, 0.3),
        load_outer_j_per_k=drawn(base.load_outer_j_per_k * size, 0.5),
        load_core_j_per_k=drawn(base.load_core_j_per_k * size, 0.5),
        leak_kg_per_s=drawn(base.leak_kg_per_s, 0.5),
        air_probe_s=drawn(base.air_probe_s, 0.4),
        load_probe_s=drawn(base.load_probe_s, 0.4),
        limit_probe_s=drawn(base.limit_probe_s, 0.4),
    )


@functools.cache
def fastest_rise_k_per_min(kiln: KilnParameters) -> float:
    """What commissioning would measure: the fastest minute of full heat from cold, and a quarter more."""
    plant = Plant(kiln, noise_k=0.0)
    plant.set_main(True)
    fastest, last_c = 0.0, plant.state.air_probe_c
    for _ in range(15):
        for _ in range(30):
            plant.set_heat(True, 6.0)
            plant.advance(TICK_S)
        fastest, last_c = max(fastest, plant.state.air_probe_c - last_c), plant.state.air_probe_c
    return max(Limits(CEILING_C).fastest_rise_k_per_min, 1.25 * fastest)


def firing_kiln(kiln: int, seed: int, folder: Path) -> InProcess:
    """Return a drawn kiln at the start of its firing. `seed`: of the day: room and noise."""
    rng = random.Random(seed)
    drawn = parameters(kiln)
    room_c = rng.uniform(10.0, 30.0)
    plant = Plant(drawn, seed=seed, start_c=room_c, room_c=room_c, noise_k=rng.uniform(0.05, 0.3))
    switching = CONTACTOR if kiln % 3 == 2 else DEMO_PLAN.switching
    plan = replace(DEMO_PLAN, power_w=drawn.rated_power_w, switching=switching)
    fired = in_process(
        plant,
        plan,
        folder,
        ceiling_c=CEILING_C,
        tick_s=TICK_S,
        fastest_rise_k_per_min=fastest_rise_k_per_min(drawn),
    )
    assert fired.tick(Request(Cue.START, schedule=SCHEDULE)).outputs.answers[0].taken
    return fired
