"""Thermocouples, agreement and contacts on the simulated plant: sound, and each way to fail."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from controller.simulator.plant import Plant
from tests.commissioning.hands import CONFIG, FAULT_OF, Kiln, check_of, failed


@pytest.fixture
def kiln(tmp_path: Path) -> Kiln:
    return Kiln(tmp_path)


def heat_is_off(kiln: Kiln) -> bool:
    return not kiln.plant.heat_aux and not kiln.plant.main_aux and kiln.plant.power_w == 0.0


# --- thermocouples


@pytest.mark.parametrize("role", ["air", "load", "limit"])
def test_a_reversed_thermocouple_falls_when_it_is_warmed(kiln: Kiln, role: str) -> None:
    kiln.plant.set_fault(f"{role}_reversed", True)
    done = kiln.do(f"sensor_{role}")
    assert f"{role}: polarity" in failed(done)
    assert "exchanged" in check_of(done, "polarity").saw


def test_an_open_thermocouple_is_not_found_and_nobody_is_asked_to_warm_it(kiln: Kiln) -> None:
    kiln.plant.set_fault("load_open", True)
    assert failed(kiln.do("sensor_load")) == ["load: found"]
    assert not any("Warm" in line for line in kiln.hands.told)


def test_a_frozen_or_shorted_thermocouple_does_not_rise(kiln: Kiln) -> None:
    for fault in ("air_frozen", "air_short_unseen"):
        kiln.plant.set_fault(fault, True)
        assert "air: warmed by hand" in failed(kiln.do("sensor_air"))
        kiln.plant.set_fault(fault, False)


def test_thermocouples_on_exchanged_channels_are_told(kiln: Kiln) -> None:
    kiln.hands.acts["Warm the air "] = lambda: kiln.warm("load")
    assert failed(kiln.do("sensor_air")) == ["air: warmed by hand", "air: the right one"]


def test_a_tip_that_is_warm_from_the_last_try_is_given_time_to_come_to_rest(kiln: Kiln) -> None:
    kiln.warm("air", 12.0)
    assert failed(kiln.do("sensor_air")) == []
    kiln.plant.advance(600.0)
    advance = kiln.plant.advance

    def restless(dt_s: float) -> None:
        advance(dt_s)
        kiln.warm("air", 6.0 if kiln.plant.now_s % 8.0 < 2.0 else 0.0)

    kiln.plant.advance = restless  # type: ignore[method-assign]
    assert failed(kiln.do("sensor_air")) == ["air: found"]


def test_a_reading_that_is_lost_while_it_is_warmed_fails(kiln: Kiln) -> None:
    kiln.hands.acts["Warm the air "] = lambda: kiln.plant.set_fault("air_open", True)
    assert "air: warmed by hand" in failed(kiln.do("sensor_air"))


def test_a_kiln_that_is_warm_from_a_firing_is_not_touched(tmp_path: Path) -> None:
    kiln = Kiln(tmp_path, plant=Plant(start_c=90.0, water_kg=0.0, plastic_kg=0.0))
    assert failed(kiln.do("sensor_air")) == ["air: found"]


def test_electronics_that_are_hot_already_fail(kiln: Kiln) -> None:
    kiln.plant.set_fault("hot_enclosure", True)
    assert failed(kiln.do("enclosure")) == ["enclosure"]


@pytest.mark.parametrize(
    ("typed", "fails"),
    [
        ("20 C", []),
        ("68 F", []),
        ("29 C", []),
        ("31 C", ["agreement with a thermometer"]),
        ("20", ["agreement with a thermometer"]),
        ("", ["agreement with a thermometer"]),
    ],
)
def test_the_thermometer_must_be_told_with_its_unit_and_agree(
    kiln: Kiln, typed: str, fails: list[str]
) -> None:
    kiln.hands.answers["thermometer"] = typed
    assert failed(kiln.do("agreement")) == fails


@pytest.mark.parametrize(("by_k", "passes"), [(5.5, True), (8.0, False)])
def test_thermocouples_that_are_too_far_apart_do_not_agree(kiln: Kiln, by_k: float, passes: bool) -> None:
    advance = kiln.plant.advance

    def kept_warm(dt_s: float) -> None:
        advance(dt_s)
        kiln.plant.state = kiln.plant.state._replace(limit_probe_c=20.0 + by_k)

    kiln.plant.advance = kept_warm  # type: ignore[method-assign]
    kept_warm(0.0)
    assert (failed(kiln.do("agreement")) == []) is passes


def test_a_thermocouple_s_own_class_narrows_how_far_apart_they_may_be(kiln: Kiln) -> None:
    readers = {
        role: replace(reader, thermocouple="S", class_=1)
        for role, reader in CONFIG.readers.items()
        if role != "enclosure"
    }
    kiln.configured(readers=readers)
    assert check_of(kiln.do("agreement"), "among").expected == "within 5 K"  # 1.0 K (IEC 60584-1) and 4 K


# --- contacts


@pytest.mark.parametrize("role", list(FAULT_OF))
def test_a_contact_that_never_opens_fails(kiln: Kiln, role: str) -> None:
    del kiln.hands.acts[FAULT_OF[role][1]]
    assert failed(kiln.do(f"contact_{role}")) == [f"{role}: opened"]


@pytest.mark.parametrize("role", list(FAULT_OF))
def test_a_contact_that_is_open_at_rest_or_does_not_come_back_fails(kiln: Kiln, role: str) -> None:
    fault, _, closes = FAULT_OF[role]
    del kiln.hands.acts[closes]
    assert failed(kiln.do(f"contact_{role}")) == [f"{role}: closed again"]
    assert fault in kiln.plant.faults
    assert failed(kiln.do(f"contact_{role}")) == [f"{role}: at rest"]


def test_a_contact_that_cannot_be_read_is_neither_well_nor_open(kiln: Kiln) -> None:
    kiln.plant.set_fault("contacts_silent", True)
    done = kiln.do("contact_door")
    assert not done.passed
    assert done.checks[0].saw == "unknown"
