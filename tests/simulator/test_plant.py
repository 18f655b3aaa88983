"""The plant in process: heat needs coil, contactor and lease; contacts, thermocouples and noise."""

from __future__ import annotations

import statistics

import pytest

from controller.physics.kiln import KilnState
from controller.simulator.plant import Plant
from controller.simulator.sensors import noise

POWER_W = 6500.0


def heating(lease_s: float = 0.0) -> Plant:
    plant = Plant(start_c=300.0, water_kg=0.0, plastic_kg=0.0)
    plant.set_main(True)
    plant.set_heat(True, lease_s)
    return plant


def test_it_starts_with_the_heat_off_and_all_well() -> None:
    plant = Plant()
    assert (plant.power_w, plant.heat_aux, plant.main_aux) == (0.0, False, False)
    assert all(plant.contacts)


@pytest.mark.parametrize(
    ("coil", "main", "power_w"),
    [(False, False, 0.0), (True, False, 0.0), (False, True, 0.0), (True, True, POWER_W)],
)
def test_power_needs_the_coil_and_the_main_contactor(coil: bool, main: bool, power_w: float) -> None:
    plant = Plant()
    plant.set_heat(coil)
    plant.set_main(main)
    assert plant.power_w == power_w
    assert (plant.heat_aux, plant.main_aux) == (coil, main)


def test_power_ends_when_either_is_switched_off() -> None:
    plant = heating()
    plant.set_main(False)
    assert plant.power_w == 0.0
    plant.set_main(True)
    plant.set_heat(False)
    assert plant.power_w == 0.0


def test_a_lease_that_is_not_renewed_ends_by_itself() -> None:
    plant = heating(lease_s=6.0)
    plant.advance(5.9)
    assert plant.power_w == POWER_W
    plant.advance(0.2)
    assert (plant.power_w, plant.heat_coil, plant.heat_aux, plant.lease_ends) == (0.0, False, False, 1)


def test_a_lease_that_is_renewed_goes_on() -> None:
    plant = heating(lease_s=6.0)
    for _ in range(20):
        plant.advance(5.0)
        plant.set_heat(True, 6.0)
    assert (plant.power_w, plant.lease_ends, plant.relay_cycles) == (POWER_W, 0, 1)


def test_a_lease_ends_at_its_own_moment_within_a_long_stride() -> None:
    """6 s of heat, then none: the energy that the kiln got is that of 6 s."""
    long, short = heating(lease_s=6.0), heating(lease_s=6.0)
    long.advance(60.0)
    for _ in range(60):
        short.advance(1.0)
    assert long.state.lining_hot_c == pytest.approx(short.state.lining_hot_c, abs=0.05)
    assert long.state.elements_c == pytest.approx(short.state.elements_c, abs=0.5)
    assert long.now_s == pytest.approx(60.0)
    assert long.lease_ends == 1


def test_switching_off_ends_the_lease_without_counting_it() -> None:
    plant = heating(lease_s=6.0)
    plant.set_heat(False, 6.0)
    plant.advance(60.0)
    assert plant.lease_ends == 0


def test_a_lease_of_zero_is_without_end() -> None:
    plant = heating(lease_s=0.0)
    plant.advance(3600.0)
    assert plant.power_w == POWER_W


def test_a_welded_relay_heats_after_its_lease_has_ended() -> None:
    plant = heating(lease_s=6.0)
    plant.set_fault("relay_welded", True)
    plant.advance(10.0)
    assert (plant.lease_ends, plant.heat_aux, plant.power_w) == (1, False, POWER_W)
    plant.set_main(False)
    assert plant.power_w == 0.0


def test_relay_cycles_count_closings() -> None:
    plant = Plant()
    for _ in range(3):
        plant.set_heat(True)
        plant.set_heat(True)
        plant.set_main(True)
        plant.set_heat(False)
        plant.set_main(False)
    assert plant.relay_cycles == 3


def test_the_thermocouples_are_noisy_about_what_they_show() -> None:
    plant = Plant(start_c=20.0, water_kg=0.0, noise_k=0.5)
    shown: list[float] = []
    for _ in range(4000):
        plant.advance(1.0)
        air_c = plant.readings().air_c
        assert air_c is not None
        shown.append(air_c)
    assert statistics.mean(shown) == pytest.approx(20.0, abs=0.05)
    assert statistics.stdev(shown) == pytest.approx(0.5, rel=0.1)


def test_the_three_are_noisy_each_for_itself() -> None:
    plant = Plant(start_c=20.0, water_kg=0.0)
    plant.advance(1.0)
    assert len(set(plant.readings())) == 3


def test_asked_twice_at_one_moment_it_says_the_same() -> None:
    plant = Plant()
    assert plant.readings() == plant.readings()


def test_the_same_seed_gives_the_same_readings_and_another_does_not() -> None:
    def course(seed: int) -> list[float | None]:
        plant = Plant(seed=seed)
        plant.set_main(True)
        plant.set_heat(True)
        shown: list[float | None] = []
        for _ in range(100):
            plant.advance(2.0)
            shown += plant.readings()
        return shown

    assert course(7) == course(7)
    assert course(7) != course(8)
    assert noise(7, 0.1) != noise(8, 0.1)


def test_a_stride_of_nothing_changes_nothing() -> None:
    plant = heating(lease_s=6.0)
    before: KilnState = plant.state
    plant.advance(0.0)
    assert plant.state[:10] == pytest.approx(before[:10])
    assert plant.now_s == 0.0


def test_an_hour_at_full_power_heats_it_and_an_hour_without_cools_it() -> None:
    plant = Plant()
    plant.set_main(True)
    plant.set_heat(True)
    plant.advance(3600.0)
    hot_c = plant.state.air_c
    assert hot_c > 400.0
    plant.set_heat(False)
    plant.advance(3600.0)
    assert plant.state.air_c < hot_c - 50.0


def test_the_enclosure_warms_with_the_casing() -> None:
    plant = Plant()
    cold_c = plant.enclosure_c()
    assert cold_c == pytest.approx(20.0)
    plant.set_main(True)
    plant.set_heat(True)
    plant.advance(4 * 3600.0)
    assert 25.0 < plant.enclosure_c() < 45.0
