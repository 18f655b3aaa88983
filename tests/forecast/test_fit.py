"""A fit finds the kiln that made a record, says how sure it is, and refuses what does not fit."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from controller.errors import UsageError
from controller.forecast.fit import fit
from controller.forecast.fit_limits import MOST_FIRE_PART, why_refused
from controller.forecast.models import FREE, MODEL_NAME, FittedKiln, from_text, keep, load, to_text
from controller.physics.grey import GreyKiln, at_rest, holding_power_w, step, typical
from controller.record.curve import Curve

TRUE = typical(6000.0)._replace(
    chamber_j_per_k=26e3, face_w_per_k=6.0, inner_j_per_k=30e3, load_j_per_k=6e3, probe_s=35.0, room_c=18.0
)


def record(
    kiln: GreyKiln = TRUE,
    hours: float = 4.0,
    noise_k: float = 0.15,
    extra_w: float = 0.0,
    fire_w: float = 0.0,
) -> Curve:
    """Heat in pulses of changing share, as a controller gives it, up to some 600 C.

    `extra_w`: heat that is taken for an hour, as by water that boils off. `fire_w`: heat that is given while
    the chamber passes from 260 to 400 C, as by plastic that burns.
    """
    lot = np.random.default_rng(3)
    t_s = np.arange(0.0, hours * 3600.0, 2.0)
    state, owed, rows = at_rest(18.0), 0.0, []
    for t in t_s:
        rising = 0.25 + 0.35 * t / t_s[-1]
        share = rising + 0.12 * math.sin(t / 700.0) + (0.2 if (t % 5400.0) > 4500.0 else 0.0)
        owed += share
        heat = owed >= 1.0
        owed -= heat
        rows.append((state.probe_c, state.load_c, heat))
        burns = fire_w * (260.0 < state.chamber_c < 400.0)
        state = step(state, kiln, kiln.power_w * heat, 2.0, burns - extra_w * (3600.0 < t < 7200.0))
    air_c, load_c, heat_on = np.array(rows).T
    noise = noise_k * lot.standard_normal(len(t_s))
    return curve(t_s, air_c + noise, load_c, heat_on > 0.5)


def curve(t_s: np.ndarray, air_c: np.ndarray, load_c: np.ndarray, heat_on: np.ndarray) -> Curve:
    return Curve(
        n=np.arange(len(t_s)),
        t_s=t_s,
        utc_s=t_s,
        setpoint_c=air_c,
        air_c=air_c,
        load_c=load_c,
        limit_c=air_c,
        duty=heat_on.astype(float),
        heat_on=heat_on,
        stage=np.zeros(len(t_s), np.int64),
    )


@pytest.fixture(scope="module")
def fitted() -> FittedKiln:
    return fit(record(), TRUE.power_w, 7)


def test_the_kiln_that_made_the_record_is_found(fitted: FittedKiln) -> None:
    found = fitted.kiln
    assert found.chamber_j_per_k == pytest.approx(TRUE.chamber_j_per_k, rel=0.12)
    assert found.probe_s == pytest.approx(TRUE.probe_s, rel=0.25)
    assert found.face_w_per_k == pytest.approx(TRUE.face_w_per_k, rel=0.25)
    assert fitted.refused == ""
    assert fitted.rms_k < 0.5
    assert fitted.held_out_rms_k < 1.0


def test_it_foretells_another_firing_of_the_same_kiln(fitted: FittedKiln) -> None:
    states = [at_rest(18.0), at_rest(18.0)]
    for n in range(1800):
        power_w = 6000.0 * (0.45 if n < 900 else 0.2)
        states = [
            step(state, kiln, power_w, 10.0) for state, kiln in zip(states, (TRUE, fitted.kiln), strict=True)
        ]
    assert states[1].probe_c == pytest.approx(states[0].probe_c, abs=8.0)
    assert holding_power_w(fitted.kiln, 500.0) == pytest.approx(holding_power_w(TRUE, 500.0), rel=0.35)


def test_it_says_how_sure_it_is(fitted: FittedKiln) -> None:
    covariance = np.array(fitted.covariance)
    assert covariance == pytest.approx(covariance.T)
    assert (np.linalg.eigvalsh(covariance) > 0.0).all()
    # What is warmed is known well from a few hours; what is lost by the outermost layer is not.
    assert fitted.spread("chamber_j_per_k") < 0.12 < fitted.spread("room_w_per_k")


def test_what_it_was_fitted_on_goes_with_it(fitted: FittedKiln) -> None:
    assert (fitted.firing, fitted.span_h) == (7, pytest.approx(4.0, abs=0.01))
    assert fitted.lowest_c == pytest.approx(18.0, abs=1.0)
    assert fitted.highest_c > 400.0


def test_water_that_boils_off_does_not_pass_for_a_kiln() -> None:
    wet = fit(record(extra_w=500.0), TRUE.power_w, 1)
    assert wet.refused == ""
    assert wet.kiln.chamber_j_per_k == pytest.approx(TRUE.chamber_j_per_k, rel=0.2)


def test_neither_does_plastic_that_burns() -> None:
    burnt = fit(record(fire_w=1500.0), TRUE.power_w, 1)
    assert burnt.refused == ""
    assert burnt.kiln.chamber_j_per_k == pytest.approx(TRUE.chamber_j_per_k, rel=0.1)
    assert burnt.rms_k < 1.0
    assert burnt.fire_part > 2.0 * fit(record(), TRUE.power_w, 1).fire_part


def test_a_very_wet_shell_is_no_reason_to_refuse_a_fit_and_twice_that_is(fitted: FittedKiln) -> None:
    assert why_refused(replace(fitted, unknown_w=0.09 * TRUE.power_w)) == ""
    assert "1080 W (RMS) of heat is not the kiln's" in why_refused(
        replace(fitted, unknown_w=0.18 * TRUE.power_w)
    )


def test_heat_given_at_another_time_than_the_record_says_is_refused() -> None:
    seen = record(hours=3.0)
    later = np.roll(seen.heat_on, -len(seen) // 3)
    assert fit(curve(seen.t_s, seen.air_c, seen.load_c, later), TRUE.power_w, 1).refused != ""


def test_heat_that_no_fire_could_give_is_refused(fitted: FittedKiln) -> None:
    assert why_refused(replace(fitted, fire_part=0.5 * MOST_FIRE_PART)) == ""
    assert "burning plastic would have to account for 15 %" in why_refused(replace(fitted, fire_part=0.15))


def test_a_record_whose_air_has_nothing_to_do_with_the_heat_is_refused() -> None:
    seen = record(hours=2.0)
    nonsense = curve(
        seen.t_s, 200.0 + 180.0 * np.sin(seen.t_s / 900.0), np.full(len(seen), np.nan), seen.heat_on
    )
    assert "misses the air by" in fit(nonsense, TRUE.power_w, 1).refused


def test_a_short_record_is_told_from_a_long_one() -> None:
    seen = record(hours=0.5)
    with pytest.raises(UsageError, match=r"firing 3: found less than 1 h"):
        fit(seen, TRUE.power_w, 3)


def test_so_is_one_that_never_got_warm() -> None:
    seen = record(hours=1.5)
    cold = curve(seen.t_s, 20.0 + 0.0 * seen.t_s, seen.load_c, seen.heat_on)
    with pytest.raises(UsageError, match="found a rise of 0 K"):
        fit(cold, TRUE.power_w, 3)


def test_one_without_a_thermocouple_and_one_without_heat() -> None:
    seen = record(hours=1.5)
    with pytest.raises(UsageError, match="no reading of the air"):
        fit(curve(seen.t_s, np.full(len(seen), np.nan), seen.load_c, seen.heat_on), TRUE.power_w, 3)
    with pytest.raises(UsageError, match="found no heat"):
        fit(curve(seen.t_s, seen.air_c, seen.load_c, np.zeros(len(seen), bool)), TRUE.power_w, 3)


def test_a_model_is_kept_and_read_again(fitted: FittedKiln, tmp_path: Path) -> None:
    assert load(tmp_path) is None
    assert keep(fitted, tmp_path) == tmp_path / MODEL_NAME
    assert load(tmp_path) == fitted
    assert (tmp_path / "models" / "firing-7.json").read_text() == to_text(fitted)


def test_a_refused_one_goes_to_the_history_and_leaves_the_good_one(
    fitted: FittedKiln, tmp_path: Path
) -> None:
    keep(fitted, tmp_path)
    bad = fitted.judged("it is bad")
    assert keep(bad, tmp_path).parent.name == "models"
    assert load(tmp_path) == fitted
    assert from_text((tmp_path / "models" / "firing-7.json").read_text(), "one") == bad


@pytest.mark.parametrize(
    "written",
    [b"", b"[]", b"{}", b'{"form": 2}', b"nonsense", b"\0" * 4096, b"\xff\xfe\0", b"[" * 100_000],
    ids=lambda written: repr(written[:8]),
)
def test_a_file_that_is_no_model_is_told_of_in_one_line(written: bytes, tmp_path: Path) -> None:
    (tmp_path / MODEL_NAME).write_bytes(written)
    with pytest.raises(UsageError, match=r"model\.json: found .*, expected a kiln model") as told:
        load(tmp_path)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("which", ["kiln", "quick"])
@pytest.mark.parametrize("name", GreyKiln._fields)
@pytest.mark.parametrize("number", [math.nan, math.inf, -1e5, -51.0, 1e9, 10**400])
def test_nor_is_one_with_a_number_that_no_kiln_has(
    which: str, name: str, number: float, fitted: FittedKiln
) -> None:
    told = json.loads(to_text(replace(fitted, quick=fitted.kiln)))
    told[which][name] = number
    with pytest.raises(UsageError, match=r"expected a kiln model") as refused:
        from_text(json.dumps(told), "model.json")
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("name", [name for name in GreyKiln._fields if name != "room_c"])
def test_nor_is_one_without_what_every_kiln_has(name: str, fitted: FittedKiln) -> None:
    with pytest.raises(UsageError, match="expected a kiln model"):
        from_text(to_text(replace(fitted, kiln=fitted.kiln._replace(**{name: 0.0}))), "model.json")


@pytest.mark.parametrize("other", [{"power_w": 2.0 * TRUE.power_w}, {"room_c": 30.0}])
def test_nor_is_one_whose_quick_numbers_are_another_kiln_s(
    other: dict[str, float], fitted: FittedKiln
) -> None:
    astray = replace(fitted, quick=fitted.kiln._replace(**other))
    with pytest.raises(UsageError, match="quick numbers of another power or room"):
        from_text(to_text(astray), "model.json")


def test_as_far_from_a_typical_kiln_as_a_fit_may_go_is_read(fitted: FittedKiln) -> None:
    usual = typical(TRUE.power_w)
    for times in (math.exp(-2.5), math.exp(2.5)):
        far = usual._replace(**{name: times * getattr(usual, name) for name in FREE})
        assert from_text(to_text(replace(fitted, kiln=far, quick=far)), "model.json").kiln == far
