"""The low heat and the first model on the simulated plant: sound, and each way to fail."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from controller.commissioning.result import Check, Done, Result
from controller.simulator.plant import Plant
from tests.commissioning.hands import Kiln, failed


@pytest.fixture
def kiln(tmp_path: Path) -> Kiln:
    return Kiln(tmp_path)


def heat_is_off(kiln: Kiln) -> bool:
    return not kiln.plant.heat_aux and not kiln.plant.main_aux and kiln.plant.power_w == 0.0


# --- low heat and model


def test_the_low_heat_ends_near_its_temperature_and_gives_a_line(kiln: Kiln) -> None:
    done = kiln.do("low_heat")
    assert 60.0 <= done.figures["to_c"] < 65.0
    assert done.figures["lasted_s"] < 900.0
    assert kiln.plant.state.air_probe_c < 100.0
    assert heat_is_off(kiln)
    assert any("heat" in line and "air" in line for line in kiln.hands.told)


def test_a_kiln_that_is_warm_already_is_heated_by_ten_kelvin(tmp_path: Path) -> None:
    kiln = Kiln(tmp_path, plant=Plant(start_c=80.0, water_kg=0.0, plastic_kg=0.0))
    done = kiln.do("low_heat")
    assert done.passed
    assert 90.0 <= done.figures["to_c"] < 93.0


@pytest.mark.parametrize(
    "fault", ["element_broken", "air_reversed", "relay_dead", "main_dead", "door_opened"]
)
def test_a_kiln_that_does_not_get_warm_fails_within_a_quarter_of_an_hour(kiln: Kiln, fault: str) -> None:
    kiln.plant.set_fault(fault, True)
    done = kiln.do("low_heat")
    assert "the air rises" in failed(done)
    assert kiln.plant.now_s < 1200.0
    kiln.plant.set_fault(fault, False)
    assert heat_is_off(kiln)


def test_a_relay_that_stays_on_after_the_low_heat_fails(kiln: Kiln) -> None:
    kiln.hands.acts["  air "] = lambda: kiln.plant.set_fault("relay_stuck", True)
    done = kiln.do("low_heat")
    assert "afterwards the relay" in failed(done)
    assert kiln.plant.power_w == 0.0


def test_nothing_is_heated_without_the_person_s_word(kiln: Kiln) -> None:
    kiln.hands.answers["empty and shut"] = "no"
    assert failed(kiln.do("low_heat")) == ["ready for a low heat"]
    assert kiln.plant.relay_cycles == 0


def known(done: Done) -> dict[str, Result]:
    return {"low_heat": Result("low_heat", date(2031, 4, 5), "Ada", "1", done, {})}


def test_the_model_comes_from_the_low_heat_and_is_told_as_a_first_tuning(kiln: Kiln) -> None:
    kiln.bench = replace(kiln.bench, earlier=known(kiln.do("low_heat")))
    done = kiln.do("model")
    assert done.passed
    # What the plant itself does at full heat between 20 and 60 C: within a factor of two.
    plant = Plant(water_kg=0.0, plastic_kg=0.0)
    plant.set_heat(True)
    plant.set_main(True)
    for _ in range(240):
        plant.advance(1.0)
    from_c = plant.state.air_probe_c
    plant.advance(60.0)
    rise = (plant.state.air_probe_c - from_c) / 60.0
    assert 0.5 < done.figures["rise_k_per_s"] / rise < 2.0
    assert 10.0 < done.figures["dead_s"] < 120.0
    assert any("gain" in line and "/K" in line for line in kiln.hands.told)


def test_there_is_no_model_without_a_low_heat_that_passed(kiln: Kiln) -> None:
    assert failed(kiln.do("model")) == ["rise at full heat"]
    low = kiln.do("low_heat")
    kiln.bench = replace(
        kiln.bench, earlier=known(low._replace(checks=(Check("no trip", "none", "surge", False),)))
    )
    assert failed(kiln.do("model")) == ["rise at full heat"]
    kiln.plant.set_fault("element_broken", True)
    kiln.bench = replace(kiln.bench, earlier=known(kiln.do("low_heat")))
    assert failed(kiln.do("model")) == ["rise at full heat"]
