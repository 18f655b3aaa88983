"""The forecast as a whole: its band, its shell, and that it is the same each time."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, inf, isfinite, isnan, nan

import numpy as np
import pytest

from controller.forecast.ensemble import LEFT_OUT_PART, LEFT_OUT_S, Runs, banded
from controller.forecast.forecast import Forecast, forecast
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import SIGMAS, KilnKnown, fitted_kiln, unknown_kiln
from controller.forecast.known import known
from controller.forecast.load import Load, dry_kg, loaded, remembered
from controller.forecast.load_fit import (
    FURTHEST,
    TOLD_BY_LOAD,
    Factors,
    load_c,
    typical_exchange,
    with_factors,
    with_load,
)
from controller.forecast.makes import TYPICAL, variants
from controller.forecast.models import FREE, FittedKiln
from controller.forecast.past import EVERY_S, Seen
from controller.forecast.run import Run, step_for
from controller.physics.curve import at
from controller.physics.grey import typical
from controller.schedule.index import find, names
from controller.schedule.model import Hold, Ramp, Schedule
from controller.schedule.reader import load_schedule

SHEET = JobSheet(dry_kg=6.0, wet_kg=6.6, pattern_kg=0.5, fill=0.3)
JOBS = {
    "wax-silica-shell": JobSheet(material="wax"),
    "castable-resin-gypsum": JobSheet(material="castable resin"),
    "empty-shell-reheat": JobSheet(reheated=True),
}
SHORT = Schedule(
    "short",
    (
        Ramp("up", 400.0, 200.0),
        Hold("even", 400.0, 1800.0, 10.0),
        Hold("pour", 400.0, None, 10.0, 7200.0, 600.0),
    ),
)


def fitted(spread: float = 0.05) -> FittedKiln:
    covariance = np.diag(np.full(len(FREE), spread**2))
    rows = tuple(tuple(float(v) for v in row) for row in covariance)
    return FittedKiln(typical(6500.0), rows, 7, 12.0, 20.0, 815.0, 1.0, nan)


def ahead(sheet: JobSheet = SHEET, name: str = "printed-pla-silica-shell") -> Forecast:
    return forecast(load_schedule(find(name)), sheet, unknown_kiln(6500.0), 300.0)


def test_a_straight_line_s_band_is_the_root_of_the_sum_of_the_squares() -> None:
    low, middle, high = banded(10.0, [(7.0, 13.0), (14.0, 6.0)])
    assert (low, middle, high) == (5.0, 10.0, 15.0)


def test_what_only_makes_it_later_widens_only_the_late_side() -> None:
    low, _, high = banded(10.0, [(10.0, 13.0), (12.0, 14.0)])
    assert low == 10.0
    assert high == 15.0


def test_what_may_never_come_has_no_late_end() -> None:
    assert banded(10.0, [(9.0, inf)]).high == inf
    assert banded(inf, [(9.0, inf)]) == (9.0, inf, inf)


@pytest.mark.parametrize("name", names())
def test_every_profile_is_feasible_on_the_demo_kiln_with_the_job_it_is_made_for(name: str) -> None:
    found = forecast(
        load_schedule(find(name)), JOBS.get(name), unknown_kiln(6500.0), 300.0, longest_s=96 * 3600.0
    )
    assert [str(of) for of in found.findings if of.weight != "note" and of.key != "too long"] == []
    assert not found.refused
    assert isfinite(found.end_s.typical)


def test_the_same_question_has_the_same_answer() -> None:
    one, other = ahead(), ahead()
    assert one.ready_s == other.ready_s
    assert np.array_equal(one.core_c.high, other.core_c.high)


def test_bands_hold_what_is_typical_and_stages_follow_one_another() -> None:
    found = ahead()
    for curves in (found.air_c, found.load_c, found.core_c):
        assert (curves.low <= curves.typical + 1e-9).all()
        assert (curves.typical <= curves.high + 1e-9).all()
    begins = [stage.begins_s.typical for stage in found.stages]
    assert begins == sorted(begins)
    assert all(stage.begins_s.low <= stage.begins_s.typical <= stage.begins_s.high for stage in found.stages)
    assert found.ready_s is not None
    assert found.ready_s.typical == pytest.approx(begins[11], abs=600.0)
    assert ((found.duty >= 0.0) & (found.duty <= 1.0)).all()
    assert found.energy_kwh.typical == pytest.approx(
        float(found.duty.sum()) * 30.0 * 6500.0 / 3.6e6, rel=1e-6
    )


def test_the_simulated_kiln_is_ready_within_the_band() -> None:
    """13.03 h: the demo kiln's own run with 0.6 kg of water (tests/in_process.py, seed 1)."""
    ready = ahead().ready_s
    assert ready is not None
    assert ready.low / 3600.0 < 13.03 < ready.high / 3600.0
    assert abs(ready.typical / 3600.0 - 13.03) < 0.1 * 13.03


def test_more_water_comes_later_and_what_is_not_told_widens_the_band() -> None:
    dry, wet = ahead(replace(SHEET, wet_kg=6.05)).ready_s, ahead(replace(SHEET, wet_kg=6.24)).ready_s
    untold = ahead(JobSheet(dry_kg=6.0, pattern_kg=0.5, fill=0.3)).ready_s
    assert dry is not None
    assert wet is not None
    assert untold is not None
    assert dry.typical < wet.typical - 1200.0
    assert untold.typical == wet.typical
    assert untold.high - untold.low > 1.1 * (wet.high - wet.low)


def test_a_kiln_that_is_known_better_has_a_narrower_band() -> None:
    well = forecast(SHORT, SHEET, fitted_kiln(fitted(0.02), FREE), 300.0).ready_s
    badly = forecast(SHORT, SHEET, fitted_kiln(fitted(0.3), FREE), 300.0).ready_s
    assert well is not None
    assert badly is not None
    assert well.typical == badly.typical
    assert well.high - well.low < 0.9 * (badly.high - badly.low)


def test_the_ways_of_a_fit_lie_along_its_covariance() -> None:
    kiln = fitted_kiln(fitted(0.1), FREE)
    _, (low, high) = kiln.ways[0], kiln.ways[1]
    moved = [getattr(high, name) / getattr(low, name) for name in FREE]
    off = [value for value in moved if abs(value - 1.0) > 1e-9]
    assert len(off) == 1
    assert abs(np.log(off[0])) == pytest.approx(2.0 * SIGMAS * 0.1)
    assert "firing 7" in kiln.says


@pytest.mark.parametrize(("time_s", "off_s"), [(36000.0, LEFT_OUT_PART * 36000.0), (600.0, LEFT_OUT_S)])
def test_a_time_is_never_known_better_than_what_no_run_knows(time_s: float, off_s: float) -> None:
    kiln, load, _ = loaded(known(SHEET), unknown_kiln(6500.0))
    when = Runs(Run(30.0), (), kiln, load).at_s(lambda _: time_s)
    assert when == pytest.approx((time_s - off_s, time_s, time_s + off_s))


def test_what_is_now_is_known() -> None:
    kiln, load, _ = loaded(known(SHEET), unknown_kiln(6500.0))
    assert Runs(Run(30.0), (), kiln, load).at_s(lambda _: 0.0) == (0.0, 0.0, 0.0)


def test_a_firing_tells_how_its_load_warms_and_dries() -> None:
    """Made with a kiln whose load takes heat half as fast and dries three times as slowly; then learnt."""
    job = known(SHEET)
    kiln = fitted_kiln(fitted(), FREE)
    true = kiln._replace(
        kiln=kiln.kiln._replace(load_w_per_k=0.5 * kiln.kiln.load_w_per_k, load_m2=0.5 * kiln.kiln.load_m2),
        dries=0.33,
        sees=0.12,
    )
    air_c = np.interp(
        np.arange(0.0, 8 * 3600.0, EVERY_S), [0.0, 4000.0, 20000.0, 28000.0], [20.0, 90.0, 90.0, 250.0]
    )
    seen = Seen(air_c, load_c(true, job, Seen(air_c, np.full(len(air_c), nan))))
    before_k = float(np.abs(load_c(kiln, job, seen) - seen.load_c).max())
    learnt = with_load(kiln, job, seen)
    after_k = float(np.abs(load_c(learnt, job, seen) - seen.load_c).max())
    assert learnt.water_known
    assert before_k > 10.0
    assert after_k < 0.3 * before_k
    assert learnt.sees == pytest.approx(0.12, abs=0.04)


def learnt_from(sheet: JobSheet) -> KilnKnown:
    """A kiln whose firing with that shell told its load."""
    return with_factors(
        fitted_kiln(fitted(), FREE), known(sheet), Factors(1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.1)
    )


def test_a_load_that_was_seen_to_warm_is_no_doubt_of_the_kiln_s_any_more() -> None:
    kiln = learnt_from(SHEET)
    for one, other in kiln.ways:
        for name in TOLD_BY_LOAD:
            assert getattr(one, name) == getattr(other, name) == getattr(kiln.kiln, name)
    assert any(one != other for one, other in kiln.ways)


def test_the_search_begins_at_a_typical_load_too_however_wrong_the_fit_has_it() -> None:
    kiln = remembered(fitted_kiln(fitted(), FREE), known(SHEET))
    astray = kiln._replace(kiln=kiln.kiln._replace(load_w_per_k=7.0 * kiln.kiln.load_w_per_k, load_m2=1e-9))
    off = typical_exchange(astray) - typical_exchange(kiln)
    assert off[0] == pytest.approx(-np.log(7.0))
    assert off[2] == 0.0
    assert np.abs(typical_exchange(astray)).max() <= 0.5 * FURTHEST


def test_only_a_load_that_was_weighed_tells_how_another_will_warm() -> None:
    def doubt(kiln: KilnKnown) -> float:
        (slow, _), (fast, _) = loaded(known(SHEET), kiln).ways[2]
        return fast.load_m2 / slow.load_m2

    assert doubt(unknown_kiln(6500.0)) == pytest.approx(3.2)
    assert doubt(fitted_kiln(fitted(), FREE)) == pytest.approx(3.2)
    assert doubt(learnt_from(SHEET)) < 1.1


def test_a_shell_of_four_times_the_area_dries_twice_as_fast_once_or_four_times() -> None:
    job = known(replace(SHEET, thickness_m=0.008))
    fourfold = known(replace(SHEET, dry_kg=24.0, wet_kg=24.6, thickness_m=0.008))
    kiln = learnt_from(replace(SHEET, thickness_m=0.008))
    one, large = loaded(job, kiln), loaded(fourfold, kiln)

    def dries(load: Load) -> float:
        return at(load.drying_w_per_m, 80.0) / at(one.load.drying_w_per_m, 80.0)

    (_, least), (_, most) = large.ways[5]
    assert (dries(least), dries(large.load), dries(most)) == pytest.approx((1.0, 2.0, 4.0))
    assert large.kiln.load_m2 == pytest.approx(4.0 * one.kiln.load_m2)
    unlearnt = fitted_kiln(fitted(), FREE)
    of_one, of_four = loaded(job, unlearnt).load, loaded(fourfold, unlearnt).load
    assert at(of_four.drying_w_per_m, 80.0) == pytest.approx(4.0 * at(of_one.drying_w_per_m, 80.0))


def test_a_wall_that_is_thinner_than_measured_has_more_area_and_lets_more_through() -> None:
    kiln = learnt_from(SHEET)
    found = loaded(known(replace(SHEET, thickness_m=0.008)), kiln)
    (_, thick), (thin_kiln, thin) = found.ways[4]
    assert thin_kiln.load_m2 == pytest.approx(1.07 * found.kiln.load_m2)
    assert thin.through_w_per_k == pytest.approx(1.07**2 * found.load.through_w_per_k)
    assert thin.core_j_per_k == found.load.core_j_per_k
    (_, (unmeasured_kiln, unmeasured)) = loaded(known(SHEET), kiln).ways[4]
    assert (
        unmeasured.through_w_per_k / found.load.through_w_per_k > thin.through_w_per_k / thick.through_w_per_k
    )
    assert unmeasured_kiln.load_m2 > thin_kiln.load_m2


def test_two_weighings_on_one_scale_err_alike() -> None:
    water = known(replace(SHEET, dry_kg=6.0, wet_kg=6.5)).water_kg
    assert water is not None
    assert (water.low, water.typical, water.high) == pytest.approx((0.48, 0.5, 0.52))
    little = known(replace(SHEET, dry_kg=6.0, wet_kg=6.01)).water_kg
    assert little is not None
    assert little.low == pytest.approx(0.005)


def test_what_ends_soon_is_run_ahead_finely_and_a_stage_begins_between_the_steps() -> None:
    assert (step_for(3600.0), step_for(5 * 3600.0), step_for(14.4 * 3600.0)) == (10.0, 30.0, 36.0)
    up, _, pour = SHORT.stages
    long = Schedule("long", (up, Hold("even", 400.0, 10800.0, 100.0), pour))
    found = forecast(long, JobSheet(reheated=True), unknown_kiln(20000.0), 300.0, room_c=21.0)
    begun_s = 379.0 / 200.0 * 3600.0
    assert found.stages[1].begins_s.typical == pytest.approx(begun_s, abs=1e-6)
    assert found.ready_s is not None
    assert found.ready_s.typical == pytest.approx(begun_s + 10800.0, abs=1e-6)


def test_a_firing_without_a_load_or_a_weight_tells_nothing_of_it() -> None:
    kiln = fitted_kiln(fitted(), FREE)
    air_c = np.linspace(20.0, 300.0, 200)
    assert with_load(kiln, known(SHEET), Seen(air_c, np.full(200, nan))) == kiln
    assert with_load(kiln, known(JobSheet()), Seen(air_c, air_c)) == kiln


def test_a_load_that_nothing_explains_tells_nothing() -> None:
    """A thermocouple that cools while the kiln warms: no shell does that."""
    kiln = fitted_kiln(fitted(), FREE)
    air_c = np.linspace(20.0, 300.0, 200)
    assert with_load(kiln, known(SHEET), Seen(air_c, 200.0 - 0.6 * air_c)) == kiln


def test_a_load_that_was_not_weighed_is_taken_as_the_last_one_or_widely() -> None:
    job, kiln = known(JobSheet()), fitted_kiln(fitted(), FREE)
    variant = variants(job)[TYPICAL]
    wide = dry_kg(job, kiln, variant)
    like_the_last = dry_kg(job, kiln._replace(load_dry_kg=5.0, load_m2=0.3), variant)
    assert like_the_last.typical == 5.0
    assert wide.high / wide.low > like_the_last.high / like_the_last.low > 1.0
    assert loaded(known(JobSheet(dry_kg=9.0)), kiln).load.core_j_per_k == pytest.approx(0.5 * 9.0 * 900.0)


def test_no_setpoint_stands_where_the_heat_is_off() -> None:
    found = ahead()
    off = next(stage for stage in found.stages if stage.name == "patch and drain")
    middle = int((off.begins_s.typical + off.ends_s.typical) / 2.0 / 30.0)
    assert isnan(found.setpoint_c[middle])
    assert found.duty[middle] == 0.0


def test_the_curve_s_band_is_put_together_as_the_time_s_is() -> None:
    found = ahead()
    load = found.load_c
    place = len(load.typical) // 4
    core = found.core_c
    assert core.high[place] - core.typical[place] >= load.high[place] - load.typical[place] - 1e-6
    assert hypot(3.0, 4.0) == 5.0 == banded(0.0, [(0.0, 3.0), (0.0, 4.0)]).high
