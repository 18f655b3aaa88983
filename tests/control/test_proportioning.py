"""Time-proportioning: the average is exact, the shortest times are kept, a refusal is not paid back later."""

import itertools
import random

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from controller.control import Relay, Switching, proportion

SOLID_STATE = Switching(2.0, 1.0, 1.0)
CONTACTOR = Switching(20.0, 4.0, 4.0)


def run(switching: Switching, duties: list[float], dt_s: float = 1.0) -> list[bool]:
    relay, wanted = Relay(), []
    for duty in duties:
        relay, on = proportion(relay, switching, duty, True, dt_s)
        wanted.append(on)
    return wanted


def runs(wanted: list[bool]) -> list[tuple[bool, int]]:
    """Return the lengths of the relay's states, without the first and the last, which may be cut."""
    lengths: list[tuple[bool, int]] = []
    for on in wanted:
        if lengths and lengths[-1][0] == on:
            lengths[-1] = (on, lengths[-1][1] + 1)
        else:
            lengths.append((on, 1))
    return lengths[1:-1]


@given(
    st.sampled_from([SOLID_STATE, CONTACTOR]),
    st.lists(st.floats(0.0, 1.0), min_size=1, max_size=40),
    st.integers(1, 200),
)
@example(CONTACTOR, [0.13, 1.0, 1.0, 0.0], 10)  # a duty that jumps up in a round must not wait for its end
@settings(deadline=None)
def test_the_heat_given_is_the_heat_owed_within_two_bands_at_every_moment(
    switching: Switching, levels: list[float], each: int
) -> None:
    duties = [level for level in levels for _ in range(each)]
    band_s = max(switching.cycle_s / 4.0 + 0.5, switching.shortest_on_s, switching.shortest_off_s)
    owed = given_s = 0.0
    for duty, on in zip(duties, run(switching, duties), strict=True):
        owed += duty
        given_s += on
        assert abs(owed - given_s) <= 2.0 * band_s + 1.0


@pytest.mark.parametrize("duty", [0.0, 0.013, 0.25, 1 / 3, 0.5, 0.77, 0.99, 1.0])
@pytest.mark.parametrize("switching", [SOLID_STATE, CONTACTOR])
def test_the_average_over_hours_is_the_duty(switching: Switching, duty: float) -> None:
    wanted = run(switching, [duty] * 36_000)
    assert sum(wanted) / 36_000 == pytest.approx(duty, abs=6.0 / 36_000)


@pytest.mark.parametrize("duty", [0.02, 0.1, 0.37, 0.5, 0.63, 0.9, 0.98])
def test_a_contactor_s_shortest_times_and_its_cycle_are_kept(duty: float) -> None:
    lengths = runs(run(CONTACTOR, [duty] * 20_000))
    assert min(length for _, length in lengths) >= 4
    cycles = [a[1] + b[1] for a, b in zip(lengths[::2], lengths[1::2], strict=False)]
    assert sum(cycles) / len(cycles) >= 20.0 - 1e-9


@pytest.mark.parametrize("duty", [0.04, 0.1, 0.3, 0.5, 0.7, 0.9, 0.96])
def test_no_round_of_a_contactor_is_shorter_than_its_cycle_however_restless_the_duty(duty: float) -> None:
    lot = random.Random(3)
    duties = [min(1.0, max(0.0, duty + 0.03 * lot.gauss(0.0, 1.0))) for _ in range(7200)]
    lengths = runs(run(CONTACTOR, duties))
    rounds = [one[1] + after[1] for one, after in itertools.pairwise(lengths) if one[0]]  # begun with heat
    assert min(rounds) >= 20
    assert sum(rounds) / len(rounds) < max(22.5, 4.5 / min(duty, 1.0 - duty))


@pytest.mark.parametrize("duty", [0.25, 0.35, 0.5, 0.65, 0.8])
def test_a_steady_duty_gives_even_rounds_of_just_a_cycle_and_owes_nothing_in_the_mean(duty: float) -> None:
    wanted = run(CONTACTOR, [duty] * 4000)
    lengths = runs(wanted[1000:])
    assert {one[1] + after[1] for one, after in itertools.pairwise(lengths) if one[0]} == {20}
    assert len({length for on, length in lengths if on}) <= 2  # a tick more or less
    owed = np.cumsum(duty - np.array(wanted, float))
    assert abs(owed[1000:].mean()) <= 0.6


@pytest.mark.parametrize("duty", [0.33, 0.13, 0.44, 0.56, 0.67, 0.87])
def test_what_is_owed_comes_back_to_within_a_part_of_a_tick_in_each_round(duty: float) -> None:
    wanted = np.array(run(CONTACTOR, [duty] * 4000))
    owed = np.cumsum(duty - wanted)[1000:]
    turns = np.diff(wanted[1000:].astype(int)) == (1 if duty < 0.5 else -1)  # the longer of the two ends
    assert np.ptp(owed[:-1][turns]) <= min(duty, 1.0 - duty) + 1e-9


@given(st.lists(st.floats(0.0, 1.0), min_size=200, max_size=400))
@settings(deadline=None)
def test_a_contactor_s_shortest_off_time_is_kept_whatever_the_duty_does(duties: list[float]) -> None:
    lengths = runs(run(CONTACTOR, duties))
    assert all(length >= 4 for on, length in lengths if not on)


def test_no_duty_is_no_heat_and_full_duty_is_unbroken_heat() -> None:
    assert not any(run(CONTACTOR, [0.0] * 100))
    assert all(run(CONTACTOR, [1.0] * 100)[10:])


def test_heat_that_was_refused_is_not_given_in_a_burst_later() -> None:
    relay = Relay()
    for _ in range(600):
        relay, _on = proportion(relay, SOLID_STATE, 0.5, False, 1.0)
    given_s = 0
    for _ in range(60):
        relay, on = proportion(relay, SOLID_STATE, 0.0, True, 1.0)
        given_s += on
    assert given_s <= 4


def test_a_refusal_ends_heat_in_the_relay_s_own_account() -> None:
    relay, on = proportion(Relay(), CONTACTOR, 1.0, True, 1.0)
    while not on:
        relay, on = proportion(relay, CONTACTOR, 1.0, True, 1.0)
    relay, on = proportion(relay, CONTACTOR, 1.0, False, 1.0)
    assert not on  # the shortest off time runs from the refusal


@pytest.mark.parametrize("duty", [0.0, 0.3, 0.5, 0.7, 1.0])
def test_a_tick_in_no_time_changes_nothing_that_is_owed(duty: float) -> None:
    """A clock that has not moved since the last tick (a coarse one, an order at once) is no fault."""
    relay = Relay()
    for _ in range(50):
        after, _ = proportion(relay, CONTACTOR, duty, True, 0.0)
        assert after.owed_s == relay.owed_s
        relay, _ = proportion(after, CONTACTOR, duty, True, 1.0)
