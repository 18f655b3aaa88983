"""A kiln run ahead: it gives back what it takes, and goes as the grey-box kiln goes."""

from __future__ import annotations

from controller.forecast import kiln_ahead
from controller.forecast.job import JobSheet
from controller.forecast.kiln_ahead import Ahead, at_rest
from controller.forecast.kiln_known import unknown_kiln
from controller.forecast.known import known
from controller.forecast.load import Load, Loaded, loaded
from controller.physics import grey
from controller.physics.constants import WATER_J_PER_KG_K, WATER_LATENT_J_PER_KG
from controller.physics.grey import GreyKiln


def wet() -> Loaded:
    return loaded(known(JobSheet(dry_kg=3.0, wet_kg=3.3, pattern_kg=0.3)), unknown_kiln(6500.0))


def stored_j(state: Ahead, kiln: GreyKiln, load: Load) -> float:
    """Sensible heat from 0 C; of the water what is left, at the core's temperature."""
    core = load.core_j_per_k + load.plastic_j_per_k + state.water_kg * WATER_J_PER_KG_K
    return (
        (kiln.chamber_j_per_k + kiln.elements_j_per_k) * state.chamber_c
        + kiln.inner_j_per_k * state.inner_c
        + kiln.outer_j_per_k * state.outer_c
        + load.outer_j_per_k * state.load_c
        + core * state.core_c
    )


def test_what_is_supplied_is_stored_lost_or_gone_with_the_water() -> None:
    kiln, load, _ = wet()
    load = load._replace(sees=0.1)
    state = at_rest(20.0, load)
    before_j, supplied_j, lost_j, latent_j = stored_j(state, kiln, load), 0.0, 0.0, 0.0
    for n in range(600):
        was = state
        state = kiln_ahead.step(state, kiln, load, min(140.0, 20.0 + n), 20.0)
        supplied_j += 20.0 * state.power_w
        lost_j += 20.0 * kiln.room_w_per_k * (was.outer_c - kiln.room_c)
        lost_j += 20.0 * kiln.vent_w_per_k * (was.chamber_c - kiln.room_c)
        gone_kg = was.water_kg - state.water_kg
        latent_j += gone_kg * (WATER_LATENT_J_PER_KG + WATER_J_PER_KG_K * was.core_c)
    assert state.water_kg == 0.0
    assert abs(supplied_j - lost_j - latent_j - stored_j(state, kiln, load) + before_j) < 0.01 * supplied_j


def test_the_air_keeps_to_its_setpoint_as_long_as_the_power_lasts() -> None:
    kiln, load, _ = wet()
    state, worst_k = at_rest(20.0, load), 0.0
    for n in range(400):
        setpoint_c = 20.0 + 60.0 * n * 30.0 / 3600.0
        state = kiln_ahead.step(state, kiln, load, setpoint_c, 30.0)
        assert 0.0 <= state.power_w <= kiln.power_w
        worst_k = max(worst_k, abs(kiln_ahead.air_c(state, kiln) - setpoint_c))
    assert worst_k < 1.0
    weak = kiln._replace(power_w=300.0)
    state = at_rest(20.0, load)
    for _ in range(400):
        state = kiln_ahead.step(state, weak, load, 800.0, 30.0)
    assert state.power_w == 300.0
    assert kiln_ahead.air_c(state, weak) < 400.0


def test_it_goes_as_the_grey_box_kiln_goes_with_the_same_power() -> None:
    """The elements in balance and a load in two halves cost no more than a few kelvin."""
    kiln, load, _ = loaded(known(JobSheet(dry_kg=3.0, wet_kg=3.0, reheated=True)), unknown_kiln(6500.0))
    one = kiln._replace(load_j_per_k=load.outer_j_per_k + load.core_j_per_k)
    state, peer = at_rest(20.0, load), grey.at_rest(20.0)
    for n in range(1200):
        state = kiln_ahead.step(state, kiln, load, min(800.0, 20.0 + 150.0 * n * 30.0 / 3600.0), 30.0)
        peer = grey.step(peer, one, state.power_w, 30.0)
    assert abs(kiln_ahead.air_c(state, kiln) - peer.probe_c) < 4.0
    assert abs(state.load_c - peer.load_c) < 6.0


def test_a_load_that_sees_the_elements_comes_to_lie_between_them_and_the_chamber() -> None:
    kiln, load, _ = loaded(known(JobSheet(dry_kg=3.0, wet_kg=3.0, reheated=True)), unknown_kiln(6500.0))
    load = load._replace(sees=0.2)
    state = at_rest(20.0, load)
    for _ in range(4000):
        state = kiln_ahead.step(state, kiln, load, 90.0, 30.0)
    assert state.over_k > 10.0
    assert abs(state.load_c - state.chamber_c - 0.2 * state.over_k) < 0.1


def test_water_holds_the_shell_back_until_it_is_gone() -> None:
    kiln, load, _ = wet()
    dry = load._replace(water_kg=0.0)
    states = {"wet": at_rest(20.0, load), "dry": at_rest(20.0, dry)}
    for _ in range(240):
        states["wet"] = kiln_ahead.step(states["wet"], kiln, load, 90.0, 30.0)
        states["dry"] = kiln_ahead.step(states["dry"], kiln, dry, 90.0, 30.0)
    assert states["wet"].core_c < states["dry"].core_c - 3.0
    assert 0.0 < states["wet"].water_kg < load.water_kg
