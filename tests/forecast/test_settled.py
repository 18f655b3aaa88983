"""A firing shows what its kiln takes: a model that is off is put right by it, where it shows that."""

from __future__ import annotations

import numpy as np
import pytest

from controller.forecast import kiln_ahead
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import unknown_kiln
from controller.forecast.known import known
from controller.forecast.load import Load, loaded, reading_c, shown_by
from controller.forecast.past import EVERY_S, Seen, led_along, seen_at
from controller.forecast.settled import BURNS_C, settled
from controller.physics.grey import GreyKiln

KNOWN = unknown_kiln(6500.0)
JOB = known(JobSheet(dry_kg=6.0, wet_kg=6.0, reheated=True))
KILN, LOAD, _ = loaded(JOB, KNOWN)
LOAD = LOAD._replace(water_kg=0.0)
AIR_C = np.concatenate([np.linspace(20.0, 800.0, 300), np.full(120, 800.0)])


def fired(true: GreyKiln, load: Load = LOAD, air_c: np.ndarray = AIR_C) -> Seen:
    """What is measured of a kiln that follows the air exactly."""
    nothing = np.full(len(air_c), np.nan)
    states = led_along(true, load, Seen(air_c, nothing), pinned=False)
    heat = np.array([state.power_w for state in states]) / true.power_w
    return Seen(air_c, np.array([state.load_c for state in states]), heat)


def shown(seen: Seen, *, plastic: bool = False, kiln: GreyKiln = KILN) -> GreyKiln:
    return settled(kiln, led_along(kiln, LOAD, seen, pinned=False), seen, plastic=plastic)


def test_a_kiln_that_is_as_the_model_says_stays_as_it_is() -> None:
    found = shown(fired(KILN))
    assert found.chamber_j_per_k == pytest.approx(KILN.chamber_j_per_k, rel=0.01)
    assert found.vent_w_per_k == pytest.approx(KILN.vent_w_per_k, abs=0.05)


@pytest.mark.parametrize("part", [0.8, 1.25])
def test_a_chamber_that_holds_more_or_less_is_found(part: float) -> None:
    true = KILN._replace(chamber_j_per_k=part * KILN.chamber_j_per_k)
    found = shown(fired(true))
    assert found.chamber_j_per_k == pytest.approx(true.chamber_j_per_k, rel=0.06)


def test_more_that_is_lost_is_found() -> None:
    true = KILN._replace(vent_w_per_k=KILN.vent_w_per_k + 0.8)
    found = shown(fired(true))
    assert found.vent_w_per_k - KILN.vent_w_per_k == pytest.approx(0.8, abs=0.15)


def test_while_plastic_goes_nothing_is_believed() -> None:
    low_c, high_c = BURNS_C
    air_c = np.linspace(low_c + 1.0, high_c - 1.0, 200)
    true = KILN._replace(chamber_j_per_k=1.5 * KILN.chamber_j_per_k)
    seen = fired(true, air_c=air_c)
    assert shown(seen, plastic=True) == KILN
    assert shown(seen, plastic=False) != KILN


def test_a_firing_of_which_no_heat_was_kept_or_nothing_measured_tells_nothing() -> None:
    seen = fired(KILN._replace(vent_w_per_k=3.0))
    assert shown(seen._replace(heat=None)) == KILN
    blind = Seen(np.full(100, np.nan), np.full(100, np.nan), np.full(100, 0.5))
    assert shown(blind) == KILN
    assert shown(Seen(*(column[:1] for column in seen if column is not None))) == KILN


def test_the_heat_is_the_part_of_the_ticks_since_the_minute_before() -> None:
    t_s = np.arange(0.0, 181.0, 2.0)
    on = (t_s % 60.0) < 30.0
    seen = seen_at(t_s, t_s, t_s, on)
    assert seen.heat is not None
    assert len(seen.heat) == len(seen.air_c) == 4
    assert seen.heat[1:].tolist() == pytest.approx([0.5, 0.5, 0.5])
    assert seen_at(t_s, t_s, t_s).heat is None


def test_a_thermocouple_that_shows_more_than_the_shell_is_read_both_ways() -> None:
    load = LOAD._replace(reads=1.01)
    assert reading_c(load, load.room_c) == load.room_c
    assert reading_c(load, load.room_c + 800.0) == pytest.approx(load.room_c + 808.0)
    assert shown_by(load, reading_c(load, 640.0)) == pytest.approx(640.0)


def test_a_chamber_that_holds_next_to_nothing_is_run_calmly() -> None:
    empty = KILN._replace(chamber_j_per_k=10.0, elements_j_per_k=10.0)
    calm = kiln_ahead.calm(empty, LOAD, EVERY_S / 2.0)
    states = led_along(empty, LOAD, Seen(AIR_C, np.full(len(AIR_C), np.nan)), pinned=False)
    assert calm.chamber_j_per_k > empty.chamber_j_per_k
    assert max(abs(kiln_ahead.air_c(state, calm) - c) for state, c in zip(states, AIR_C, strict=True)) < 5.0
    assert kiln_ahead.calm(KILN, LOAD, EVERY_S / 2.0) == KILN
