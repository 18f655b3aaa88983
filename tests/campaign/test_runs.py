"""How the campaign of faults judges a run: who says that the ceiling is reached, what no program ends."""

from __future__ import annotations

import pytest

from tests.campaign.faults import untold
from tests.campaign.kilns import CEILING_C
from tests.campaign.runs import TOLERANCE_K, Outcome, Run, carry_out


def run(*faults: str) -> Run:
    return Run(0, 1, "hold", faults)


@pytest.mark.parametrize(
    ("faults", "witnesses"),
    [
        ((), ("air", "load", "limit")),
        (("air_frozen",), ("air", "load", "limit")),
        (("air_frozen", "door_opened"), ("air", "load", "limit")),
        (("air_frozen", "relay_welded"), ("load", "limit")),
        (("relay_stuck", "limit_reads_low"), ("air", "load")),
        (("plastic_burns", "load_open"), ("air", "limit")),
        (("plastic_burns", "reader_frozen"), ("air", "load", "limit")),
        (("air_reads_low load_open limit_open", "relay_welded"), ("air", "load", "limit")),
    ],
)
def test_a_false_reading_is_no_witness_where_heat_flows_by_itself(
    faults: tuple[str, ...], witnesses: tuple[str, ...]
) -> None:
    assert run(*faults).witnesses == witnesses


@pytest.mark.parametrize(
    ("faults", "beyond"),
    [
        (("reader_frozen",), False),
        (("reader_frozen", "relay_stuck"), False),  # its contact reads back
        (("reader_frozen", "relay_welded"), True),
        (("plastic_burns", "reader_frozen"), True),
        (("plastic_burns", "air_frozen"), False),
        (("main_stuck_closed", "relay_stuck"), True),
        (("main_stuck_closed", "plastic_burns"), False),
        (("air_reads_low", "limit_short_unseen"), True),
        (("air_reads_low", "limit_frozen"), False),
    ],
)
def test_pairs_that_no_program_can_end_are_few_and_named(faults: tuple[str, ...], beyond: bool) -> None:
    assert Outcome(run(*faults), {}, False, 0.0, 0.0, 0.0).beyond_software is beyond


@pytest.mark.parametrize(
    ("faults", "found", "above_k", "missed"),
    [
        (("air_reads_low limit_reads_low",), {}, 10.0, True),
        (("air_reads_low limit_reads_low",), {"sensors_differ": 60.0}, 10.0, False),
        (("air_reads_low limit_reads_low", "element_half"), {}, float("-inf"), False),
        (("air_reads_low limit_reads_low", "load_short_unseen"), {}, 10.0, False),
        (("air_reads_low limit_reads_low", "load_frozen"), {}, 10.0, True),
    ],
)
def test_what_becomes_too_hot_is_told_of_where_anything_measured_shows_it(
    faults: tuple[str, ...], found: dict[str, float], above_k: float, missed: bool
) -> None:
    assert untold(Outcome(run(*faults), found, False, 0.0, 0.0, above_k)) is missed


def test_where_the_air_reads_low_the_limit_finds_a_welded_relay_below_the_ceiling() -> None:
    one = carry_out(Run(10, 32916, "hold", ("air_short_unseen", "relay_welded")))
    assert one.found["rises_unheated"] < 420.0
    assert one.tripped
    assert one.hottest_air_c < CEILING_C


def test_a_limit_that_lags_at_the_ceiling_is_allowed_its_lag_and_no_more() -> None:
    one = carry_out(Run(8, 1008, "hold", ("air_short_unseen", "relay_welded")))
    assert "ceiling" in one.found
    assert one.hottest_air_c > CEILING_C + 10.0
    assert 0.0 < one.above_k <= TOLERANCE_K


def test_a_kiln_whose_program_holds_the_heat_is_judged_by_the_truth() -> None:
    one = carry_out(Run(8, 1008, "hold", ("air_frozen",)))
    assert one.safe
    assert one.above_k < 0.0
