"""What is quicker than the fit's own 15 s is found tick by tick, where a relay's rounds show it."""

from __future__ import annotations

import numpy as np
import pytest

from controller.control import Relay, Switching, proportion
from controller.forecast.fit import fit
from controller.forecast.fit_quick import quick_numbers
from controller.forecast.models import FittedKiln, from_text, to_text
from controller.forecast.samples import samples
from controller.physics.grey import GreyKiln, at_rest, step, typical
from controller.record.curve import Curve
from tests.forecast.test_fit import curve

SLOW = typical(6000.0)._replace(
    chamber_j_per_k=22e3, elements_j_per_k=1100.0, probe_s=12.0, sees_elements=0.1, room_c=18.0
)
CONTACTOR = Switching(30.0, 3.0, 3.0)


def pulsed(kiln: GreyKiln = SLOW, hours: float = 4.0, tick_s: float = 1.0, dead_s: float = 2.0) -> Curve:
    """Heat a kiln in a contactor's rounds of 30 s, ever more, and read it with noise."""
    t_s = np.arange(0.0, hours * 3600.0, tick_s)
    noise_k = 0.15 * np.random.default_rng(5).standard_normal(len(t_s))
    state, relay, wanted, late = at_rest(18.0), Relay(), False, [0.0] * max(1, int(dead_s / tick_s))
    air_c, heat = [], []
    for share in np.linspace(0.2, 0.55, len(t_s)):
        relay, wanted = proportion(relay, CONTACTOR, float(share), wanted, tick_s)
        air_c.append(state.probe_c)
        heat.append(wanted)
        late.append(float(wanted))
        state = step(state, kiln, kiln.power_w * late.pop(0), tick_s)
    return curve(t_s, np.array(air_c) + noise_k, np.full(len(t_s), np.nan), np.array(heat))


@pytest.fixture(scope="module")
def fitted() -> FittedKiln:
    return fit(pulsed(), SLOW.power_w, 1)


def test_a_lag_that_is_shorter_than_the_fit_s_step_is_found(fitted: FittedKiln) -> None:
    found = fitted.for_control
    assert found is fitted.quick
    assert found.probe_s == pytest.approx(SLOW.probe_s, rel=0.25)
    assert found.dead_s == pytest.approx(2.0, abs=0.7)
    assert abs(found.probe_s - SLOW.probe_s) < 0.5 * abs(fitted.kiln.probe_s - SLOW.probe_s)


def test_what_is_slow_stays_as_the_fit_found_it(fitted: FittedKiln) -> None:
    found = fitted.for_control
    assert found.inner_j_per_k == fitted.kiln.inner_j_per_k
    assert found.face_w_per_k == fitted.kiln.face_w_per_k
    assert found.chamber_j_per_k == pytest.approx(fitted.kiln.chamber_j_per_k, rel=0.1)


@pytest.mark.parametrize(
    ("seen", "why"),
    [(pulsed(tick_s=6.0), "slow ticks"), (pulsed(hours=1.0), "few windows")],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_record_that_says_nothing_of_it_changes_nothing(seen: Curve, why: str) -> None:
    assert quick_numbers(typical(6000.0), seen, samples(seen)) is None, why


def test_numbers_that_tell_the_other_windows_worse_are_not_taken() -> None:
    seen = pulsed()
    assert quick_numbers(SLOW, seen, samples(seen)) is None  # nothing is better than the truth


def test_a_gap_or_a_reading_that_is_missing_is_no_window() -> None:
    seen = pulsed(hours=2.0)
    seen.air_c[::500] = np.nan
    assert quick_numbers(typical(6000.0), seen, samples(seen)) is None


def test_it_is_kept_with_the_model_and_an_older_model_has_none(fitted: FittedKiln) -> None:
    text = to_text(fitted)
    assert from_text(text, "model.json").for_control == fitted.quick
    start = text.index(' "quick": {')
    older = text[:start] + text[text.index("}", start) + 3 :]
    assert from_text(older, "model.json").for_control == fitted.kiln
