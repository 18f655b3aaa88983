"""Edges that no scene can stand on exactly: what is equal to a limit, what is counted, what is carried."""

from __future__ import annotations

import threading
from dataclasses import astuple

import pytest

from controller.guard import (
    ROWS,
    Carried,
    Given,
    Latch,
    LatchFile,
    Limits,
    Memory,
    Sight,
    find,
    fresh_memory,
    judge,
    watch_leases,
)
from controller.guard.judge import add_up
from controller.guard.memory import Still, sample_of
from tests.guard.bench import Bench
from tests.guard.sights import LIMITS, Judged, look, sight

QUIET = (0.0,) * len(ROWS)


def sampled(share: float = 0.0, slope_k_per_s: float = 0.0, disturbed_s: float = float("-inf")) -> Memory:
    """A memory with a sample in it."""
    return Memory(
        QUIET,
        disturbed_s=disturbed_s,
        sample=sample_of(1000.0, 500.0, 0.0, slope_k_per_s, share, (Still(500.0, 1000.0, (500.0,), 0.0),)),
    )


def given(bench: Bench) -> Given:
    return bench.guard.carries.given


def test_a_rise_of_just_what_heat_can_explain_and_the_margin_is_a_surge() -> None:
    seen = sight(1000.0)
    assert (
        find.surge(look(seen, Given(), sampled(slope_k_per_s=5.0 / 60.0), LIMITS)) == "5 K/min with 0% heat"
    )
    assert find.surge(look(seen, Given(), sampled(slope_k_per_s=4.99 / 60.0), LIMITS)) is None
    assert find.surge(look(seen, Given(), sampled(1.0, 35.0 / 60.0), LIMITS)) == "35 K/min with 100% heat"
    assert find.surge(look(seen, Given(), sampled(1.0, 34.9 / 60.0), LIMITS)) is None


@pytest.mark.parametrize(("ago_s", "found"), [(599.9, False), (600.0, True)])
def test_behind_a_door_that_was_open_slopes_and_differences_say_nothing_for_a_while(
    ago_s: float, found: bool
) -> None:
    memory = sampled(1.0, 1.0, disturbed_s=1000.0 - ago_s)
    assert (find.surge(look(sight(1000.0), Given(), memory, LIMITS)) is not None) == found
    assert (find.differ(look(sight(1000.0, load_c=550.0), Given(), memory, LIMITS)) is not None) == found


@pytest.mark.parametrize(("share", "found"), [(0.099, False), (0.1, True)])
def test_a_load_is_only_too_hot_for_its_air_while_heat_is_given(share: float, found: bool) -> None:
    hot = sight(1000.0, load_c=540.0)
    assert (find.differ(look(hot, Given(), sampled(share), LIMITS)) is not None) == found


def test_a_difference_says_what_differs() -> None:
    assert (
        find.differ(look(sight(1000.0, limit_c=540.0), Given(), fresh_memory(), LIMITS))
        == "air 500 C, limit 540 C"
    )
    found = find.differ(look(sight(1000.0, load_c=540.0), Given(), sampled(1.0), LIMITS))
    assert found == "load 540 C, air 500 C, in heat"


def test_a_load_is_held_against_the_hotter_of_air_and_limit() -> None:
    assert (
        find.differ(look(sight(1000.0, load_c=540.0, limit_c=500.5), Given(), sampled(1.0), LIMITS)) is None
    )
    assert (
        find.differ(look(sight(1000.0, load_c=540.0, limit_c=499.0), Given(), sampled(1.0), LIMITS))
        is not None
    )
    assert (
        find.differ(look(sight(1000.0, load_c=540.0, limit_c=None), Given(), sampled(1.0), LIMITS))
        is not None
    )
    assert find.differ(look(sight(1000.0, load_c=540.0), Given(), fresh_memory(), LIMITS)) is None


def test_a_heater_that_is_on_at_the_very_end_of_its_lease_still_has_it() -> None:
    assert (
        find.heat_unasked(look(sight(10.0, heat_on=True), Given(lease_end_s=10.0), fresh_memory(), LIMITS))
        is None
    )
    assert find.heat_unasked(look(sight(10.1, heat_on=True), Given(lease_end_s=10.0), fresh_memory(), LIMITS))


def test_what_was_granted_is_followed_to_the_very_end_of_the_lease() -> None:
    lease = Given(granted=True, lease_end_s=10.0, main_opened=False)
    assert find.not_followed(look(sight(10.0, heat_on=False), lease, fresh_memory(), LIMITS))
    assert find.not_followed(look(sight(10.1, heat_on=False), lease, fresh_memory(), LIMITS)) is None


def test_a_main_contactor_that_cannot_be_read_back_is_not_missed() -> None:
    for main_on, reads_main_back in ((None, False), (True, True), (False, True), (True, False)):
        seen = sight(1.0, main_on=main_on, reads_main_back=reads_main_back)
        assert find.not_answering(look(seen, Given(), fresh_memory(), LIMITS)) is None


def test_every_contact_that_cannot_be_read_is_named() -> None:
    seen = sight(1.0, door_ok=None, key_ok=None)
    assert find.contact_unknown(look(seen, Given(), fresh_memory(), LIMITS)) == "door, key"


def test_a_refusal_counts_for_a_minute_after_the_last() -> None:
    refused = Given(refused_since_s=0.0, refused_at_s=140.0)
    assert (
        find.refusing(look(sight(200.0), refused, fresh_memory(), LIMITS))
        == "no order to heat taken for 200 s"
    )
    assert find.refusing(look(sight(200.1), refused, fresh_memory(), LIMITS)) is None


def test_the_older_of_two_beginnings_is_a_firing_s() -> None:
    day_s = 86_400.0
    for told_s, armed_s in ((0.0, day_s), (day_s, 0.0), (0.0, None), (None, 0.0)):
        seen = sight(2 * day_s, firing_since_s=told_s)
        assert find.too_long(look(seen, Given(armed_since_s=armed_s), fresh_memory(), LIMITS)) == "48 h"
    assert find.too_long(look(sight(2 * day_s), Given(), fresh_memory(), LIMITS)) is None


def test_frozen_readings_are_named_by_their_roles() -> None:
    then = (500.0, 400.0, 450.0)
    for place, role in enumerate(("air", "load", "limit")):
        still = [Still(c + 20.0, 999.0, then, 0.0) for c in then]
        still[place] = Still(then[place], 0.0, then, 0.0)
        memory = sampled()._replace(sample=sample_of(1000.0, 520.0, 0.0, 0.0, 0.0, tuple(still)))
        found = find.frozen(look(sight(1000.0), Given(), memory, LIMITS))
        assert found == f"{role}: {then[place]:.1f} C to the bit for 17 min"


def test_a_reading_that_is_not_there_is_no_frozen_one_and_no_other_that_moves() -> None:
    gone = Still(None, 0.0, (500.0, None, 500.0), 0.0)
    still = Still(500.0, 0.0, (500.0, None, 500.0), 0.0)
    back = Still(400.0, 990.0, (500.0, None, 500.0), 0.0)
    for other in (gone, back, Still(None, 990.0, (500.0, 400.0, 500.0), 0.0)):
        memory = sampled()._replace(sample=sample_of(1000.0, 500.0, 0.0, 0.0, 0.0, (still, other, still)))
        assert find.frozen(look(sight(1000.0), Given(), memory, LIMITS)) is None
    lost = Still(500.0, 0.0, (500.0, 400.0, 500.0), 0.0)
    memory = sampled()._replace(sample=sample_of(1000.0, 500.0, 0.0, 0.0, 0.0, (lost, gone, lost)))
    assert find.frozen(look(sight(1000.0), Given(), memory, LIMITS)) is None


def still(since_s: float, heated_s: float) -> Still:
    """A reading that has stood still since then, when so much heat had been granted."""
    return Still(500.0, since_s, (500.0, 500.0), heated_s)


@pytest.mark.parametrize(
    ("since_s", "had_s", "found"),
    [
        ((0.0, 700.0), (0.0, 9.0), "no reading has moved for 5 min, with heat"),
        ((0.0, 0.0), (0.0, 0.0), "no reading has moved for 17 min, with heat"),
        ((0.0, 700.1), (0.0, 9.0), None),
        ((0.0, 0.0), (0.0, 10.0), None),
    ],
)
def test_all_stand_still_since_the_last_one_moved_and_with_any_heat_since(
    since_s: tuple[float, float], had_s: tuple[float, float], found: str | None
) -> None:
    stills = tuple(still(*one) for one in zip(since_s, had_s, strict=True))
    memory = Memory(QUIET, sample=sample_of(1000.0, 500.0, 10.0, 0.0, 0.0, stills))
    assert find.all_still(look(sight(1000.0), Given(), memory, LIMITS)) == found


@pytest.mark.parametrize(
    ("moved_k", "heated_s", "lasted_s", "found"),
    [
        (15.0, 0.0, 300.0, True),
        (-15.0, 0.0, 300.0, True),
        (14.9, 284.9, 300.0, False),
        (0.0, 285.0, 300.0, True),
        (15.0, 300.0, 299.9, False),
    ],
)
def test_a_frozen_reading_has_others_that_move_or_unbroken_heat(
    moved_k: float, heated_s: float, lasted_s: float, found: bool
) -> None:
    then = (500.0, 400.0)
    other = Still(400.0 + moved_k, 990.0, then, 0.0)
    sample = sample_of(
        1000.0, 500.0, 7.0 + heated_s, 0.0, 0.0, (Still(500.0, 1000.0 - lasted_s, then, 7.0), other)
    )
    seen = sight(1000.0)
    two = seen._replace(readings=(seen.readings[0], seen.readings[2]))
    assert (find.frozen(look(two, Given(), Memory(QUIET, sample=sample), LIMITS)) is not None) == found


@pytest.mark.parametrize(
    ("air_c", "load_c", "limit_c", "found"),
    [
        (500.0, 420.0, 495.0, None),  # whole degrees
        (500.25, 420.5, 495.75, None),  # quarters
        (500.0, 420.0, None, None),
        (500.0, 420.1, 495.0, "air: 500.0 C to the bit for 17 min"),
        (500.1, 420.0, 495.0, "air: 500.1 C to the bit for 17 min"),
        (500.0, 420.0, 495.1, "air: 500.0 C to the bit for 17 min"),
    ],
)
def test_where_readings_may_be_coarse_a_load_that_moves_says_nothing_of_a_quiet_air_and_limit(
    air_c: float, load_c: float, limit_c: float | None, found: str | None
) -> None:
    then = (air_c, 400.0, limit_c)
    stills = (Still(air_c, 0.0, then, 0.0), Still(load_c, 999.0, then, 0.0), Still(limit_c, 0.0, then, 0.0))
    memory = sampled()._replace(sample=sample_of(1000.0, air_c, 0.0, 0.0, 0.0, stills))
    assert find.frozen(look(sight(1000.0), Given(), memory, LIMITS)) == found


@pytest.mark.parametrize(
    ("air_c", "limit_c", "heated_for_s", "found"),
    [
        (490.0, 503.1, 120.0, "air down 10 K in unbroken heat"),
        (490.1, 503.1, 120.0, None),
        (490.0, 503.0, 120.0, None),
        (490.0, 503.1, 119.9, None),
        (490.0, None, 120.0, None),
        (None, 503.1, 120.0, None),
        (5.0, 500.0, 1.0, None),
        (4.9, None, 1.0, "air down 495 K in unbroken heat"),
    ],
)
def test_a_reading_falls_when_it_should_not(
    air_c: float | None, limit_c: float | None, heated_for_s: float, found: str | None
) -> None:
    memory = Memory(QUIET, full_heat_since_s=1000.0 - heated_for_s, full_heat_from_c=(500.0, 500.0))
    seen = sight(1000.0, air_c, limit_c=limit_c)
    assert find.falls(look(seen, Given(), memory, LIMITS)) == found
    assert find.falls(look(seen, Given(), memory._replace(full_heat_since_s=None), LIMITS)) is None
    blind = memory._replace(full_heat_from_c=(500.0, None))
    assert (find.falls(look(seen, Given(), blind, LIMITS)) is None) == (air_c is None or air_c >= 5.0)


def test_heat_is_counted_second_by_second_and_to_the_end_of_a_lease_at_most() -> None:
    bench = Bench()
    for seconds in (0.0, 1.0, 2.0):
        assert bench.tick()
        assert given(bench).heated_s == seconds
    bench.now_s += 0.5
    assert not bench.tick(wants=False)  # a second and a half after the last grant
    assert given(bench).heated_s == 3.5
    assert given(bench).heat_end_s == given(bench).lease_end_s == bench.now_s
    bench.tick()
    bench.now_s += 10.0
    assert bench.guard.keep_leases()
    assert given(bench).heated_s == 6.5
    assert given(bench).lease_end_s == bench.now_s - 7.0
    assert given(bench).heat_end_s == bench.now_s


def test_heat_after_a_long_pause_counts_for_one_lease() -> None:
    bench = Bench()
    bench.tick()
    bench.now_s += 9.0
    bench.tick()
    assert given(bench).heated_s == 3.0


def test_a_lease_is_counted_from_before_it_is_sent() -> None:
    bench = Bench()
    plain = bench.relay.energise

    def slow(lease_s: float) -> None:
        plain(lease_s)
        bench.now_s += 0.25

    bench.relay.energise = slow  # type: ignore[method-assign]
    assert bench.tick()
    assert given(bench).lease_end_s == given(bench).heat_end_s == bench.now_s - 0.25 + 3.0


def test_what_a_guard_carries_is_what_it_did() -> None:
    bench = Bench()
    assert bench.guard.carries == Carried(fresh_memory(), Given(), float("-inf"), False)
    bench.tick()
    carried = bench.guard.carries
    assert (carried.granted_s, carried.main_closed) == (bench.now_s, True)
    assert carried.given == Given(True, bench.now_s + 3.0, bench.now_s + 3.0, 0.0, False, bench.now_s)
    bench.tick(wants=False, wants_main=False)
    assert given(bench).armed_since_s is None
    assert given(bench).main_opened


def test_a_lease_and_its_length_are_answered_and_a_refusal_gives_none() -> None:
    bench = Bench()
    bench.tick()
    assert (bench.grant.heat, bench.grant.lease_s, bench.grant.refused_by) == (True, 3.0, ())
    bench.tick(wants=False)
    assert bench.grant == (False, 0.0, ())
    bench.tick(door_ok=False)
    assert bench.grant == (False, 0.0, ("door_open",))
    bench.tick(wants=False, door_ok=False)
    assert bench.grant == (False, 0.0, ())
    bench.relay.refuses = True
    bench.tick()
    assert bench.grant == (False, 0.0, ("heater_silent",))


def test_refusals_are_named_once_each_latches_first() -> None:
    bench = Bench()
    bench.tick(emergency_stop_ok=False)
    bench.guard.withdraw()
    bench.tick(emergency_stop_ok=False, door_ok=False, late_s=1.0)
    assert bench.grant.refused_by == ("emergency_stop", "door_open", "tick_late", "withdrawn")


def test_a_stage_that_begins_is_judged_at_once_and_nothing_counts_twice() -> None:
    bench = Bench()
    for _ in range(3):
        bench.tick(extraction_ok=False)
    for seconds in range(11):
        bench.now_s += 1.0
        seen = sight(bench.now_s, extraction_ok=False, extraction_needed=True, stage_ceiling_c=450.0)
        if seconds == 0:
            bench.guard.judge(sight(bench.now_s, extraction_ok=False), 1e9)
            verdict = bench.guard.look_again(seen, 1e9)
        else:
            verdict = bench.guard.judge(seen, 1e9)
        assert [f.row.id for f in verdict.findings] == ["ceiling"] + ["no_extraction"] * (seconds == 10)
        assert bench.guard.grant(True, True, bench.now_s).heat is False
        assert bool(bench.guard.latches) == (seconds >= 2)


def test_what_the_first_look_latched_stays_latched_after_the_second() -> None:
    bench = Bench()
    bench.now_s += 1.0
    bench.guard.judge(sight(bench.now_s, emergency_stop_ok=False), 5.0)
    verdict = bench.guard.look_again(sight(bench.now_s), 5.0)
    assert (verdict.trip, verdict.cut, verdict.findings) == (True, True, ())
    assert bench.guard.latches == (Latch("emergency_stop", "pressed", 5.0, True),)


def test_clearing_without_a_trip_and_clearing_that_the_disk_does_not_take() -> None:
    bench = Bench()
    bench.tick()
    assert bench.guard.clear() == (True, "no trip stands")
    bench.tick(emergency_stop_ok=False)
    assert bench.guard.clear() == (False, "still standing: Emergency stop, or key removed (pressed)")
    bench.tick()

    def full(*_: object) -> None:
        raise OSError("no space left")

    plain = bench.latch_file.save
    bench.latch_file.save = full  # type: ignore[method-assign]
    assert bench.guard.clear() == (False, "the latches cannot be cleared on disk: no space left")
    bench.latch_file.save = plain  # type: ignore[method-assign]
    assert [latch.row_id for latch in bench.guard.latches] == ["emergency_stop"]
    assert not bench.tick()
    assert bench.guard.clear() == (True, "trips cleared")
    assert bench.guard.grant(True, True, bench.now_s).heat


def test_a_cut_that_may_trip_keeps_a_trip_from_being_cleared() -> None:
    bench = Bench()
    bench.tick(emergency_stop_ok=False)
    bench.tick(load_c=None)
    assert bench.guard.clear() == (False, "still standing: A thermocouple gives no good reading (load: open)")
    bench.tick(door_ok=False)
    assert bench.guard.clear() == (True, "trips cleared")
    assert bench.guard.findings[0].row.id == "door_open"


def test_of_trips_that_come_together_the_one_that_began_first_came_first() -> None:
    bench = Bench()
    bench.tick()
    for seconds in range(3):
        bench.tick(limit_c=905.0, enclosure_c=75.0 if seconds else None, emergency_stop_ok=seconds < 2)
    assert [(one.row_id, one.first_out) for one in bench.guard.latches] == [
        ("ceiling", True),
        ("emergency_stop", False),
    ]
    bench.tick(limit_c=905.0, enclosure_c=75.0, emergency_stop_ok=False)
    assert [one.row_id for one in bench.guard.latches] == ["ceiling", "emergency_stop", "enclosure_hot"]
    assert [one.first_out for one in bench.guard.latches] == [True, False, False]


def test_the_keeper_is_a_thread_that_ends_with_the_program_and_looks_as_often_as_told() -> None:
    looked, stopped = threading.Event(), threading.Event()

    class Counting:
        def keep_leases(self) -> bool:
            looked.set()
            return False

    thread = watch_leases(Counting(), 0.001, stopped)  # type: ignore[arg-type]
    assert thread.daemon
    assert thread.name == "lease keeper"
    assert looked.wait(5.0)
    stopped.set()
    thread.join(5.0)
    assert not thread.is_alive()


def test_a_failure_of_the_relay_is_told_until_the_relay_takes_a_command_again() -> None:
    bench = Bench()
    bench.relay.broken = True
    bench.tick()
    assert given(bench).write_failed == "no answer"
    bench.relay.broken = False
    bench.tick()
    bench.tick()
    assert given(bench).write_failed == ""


def test_a_heater_that_is_silent_when_a_guard_begins_is_told_until_it_answers() -> None:
    bench = Bench()
    bench.relay.broken = True
    bench.guard = bench.another()
    assert given(bench).write_failed == "no answer"
    bench.relay.broken = False
    bench.tick(wants=False, wants_main=False)
    assert given(bench).write_failed == ""
    assert not bench.relay.on
    assert not bench.relay.main


def test_an_error_without_words_is_told_by_its_kind() -> None:
    bench = Bench()

    def fail() -> None:
        raise OSError

    bench.relay.drop = fail  # type: ignore[method-assign]
    bench.tick(wants=False)
    assert given(bench).write_failed == "OSError()"


def test_a_finding_loses_what_it_gathered_at_a_quarter_of_the_pace() -> None:
    judged, row = Judged(), next(n for n, one in enumerate(ROWS) if one.id == "door_open")
    judged.see(sight(0.0))
    for n in range(1, 5):
        judged.see(sight(float(n), door_ok=False))
    assert judged.memory.lasted_s[row] == 4.0
    judged.see(sight(6.0))
    assert judged.memory.lasted_s[row] == 3.5
    for n in range(7, 30):
        judged.see(sight(float(n)))
    assert judged.memory.lasted_s == QUIET


def test_a_pause_in_the_ticks_counts_for_ten_seconds() -> None:
    judged, row = Judged(), next(n for n, one in enumerate(ROWS) if one.id == "door_open")
    judged.see(sight(0.0, door_ok=False))
    judged.see(sight(1000.0, door_ok=False))
    assert judged.memory.lasted_s[row] == 10.0
    assert judged.verdict is not None
    assert judged.verdict.findings[0].since_s == pytest.approx(1000.0, abs=1e-3)


def test_a_finding_says_since_when_it_stands() -> None:
    judged = Judged()
    for n in range(11):
        judged.see(sight(float(n), door_ok=n < 4))
    assert judged.verdict is not None
    assert judged.verdict.findings[0].since_s == pytest.approx(4.0, abs=1e-3)
    assert judged.verdict.findings[0].found == "open"


def test_findings_are_added_up() -> None:
    assert add_up(()) == ((), False, False, False)
    memory, verdict = judge(fresh_memory(), Given(), sight(1.0, record_trouble="full"), LIMITS)
    assert verdict[1:] == (False, False, False)
    assert memory.seen_s == 1.0


def test_a_latch_file_is_written_whole_and_beside_itself(tmp_path: object) -> None:
    from pathlib import Path

    folder = Path(str(tmp_path))
    file = LatchFile(folder / "latches.json")
    assert file.load() == ()
    latches = (Latch("ceiling", "too hot", 7.5, True), Latch("door_open", "open", 8.0, False))
    file.save(latches)
    assert file.load() == latches
    assert [one.name for one in folder.iterdir()] == ["latches.json"]


def test_before_anything_is_judged_nothing_is_found_and_nothing_granted() -> None:
    bench = Bench()
    assert bench.guard.findings == ()
    assert bench.guard.latches == ()
    assert bench.guard.latch_trouble is None
    grant = bench.guard.grant(True, True, bench.now_s)
    assert grant == (False, 0.0, ("tick_late",))
    assert bench.relay.said == ["drop", "open_main", "drop"]


def test_the_keeper_says_nothing_while_there_is_nothing_to_end() -> None:
    bench = Bench()
    bench.tick(wants=False)
    said = len(bench.relay.said)
    assert not bench.guard.keep_leases()
    bench.tick()
    assert not bench.guard.keep_leases()
    assert len(bench.relay.said) == said + 1  # the heat of the tick
    bench.relay.broken = True
    bench.tick(wants=False)
    bench.relay.broken = False
    assert not bench.guard.keep_leases()
    assert bench.relay.said[-1] == "drop"
    assert not bench.relay.on
    said = len(bench.relay.said)
    bench.guard.keep_leases()
    assert len(bench.relay.said) == said


def test_the_main_contactor_is_told_once_and_again_only_if_it_did_not_take() -> None:
    bench = Bench()
    for _ in range(3):
        bench.tick(wants=False)
    assert bench.relay.said.count("close_main") == 1
    bench.relay.broken = True
    bench.tick(wants=False, wants_main=False)
    bench.relay.broken = False
    bench.tick(wants=False, wants_main=False)
    bench.tick(wants=False, wants_main=False)
    assert bench.relay.said.count("open_main") == 2
    assert bench.guard.carries.main_closed is False


def test_withdrawing_says_yes_only_when_both_have_taken_it() -> None:
    bench = Bench()
    bench.tick()

    def refuse() -> None:
        raise OSError("no")

    plain, plain_drop = bench.relay.open_main, bench.relay.drop
    bench.relay.open_main = refuse  # type: ignore[method-assign]
    assert bench.guard.withdraw() is False
    bench.relay.open_main = plain  # type: ignore[method-assign]
    bench.relay.drop = refuse  # type: ignore[method-assign]
    assert bench.guard.withdraw() is False
    assert bench.guard.carries.main_closed is False
    bench.relay.drop = plain_drop  # type: ignore[method-assign]
    assert bench.guard.withdraw() is True


def test_an_abort_lasts_until_the_firing_wants_no_main_contactor_any_more() -> None:
    bench = Bench()
    bench.tick()
    bench.guard.withdraw()
    bench.tick(wants=False)
    assert given(bench).withdrawn
    bench.tick(wants=False, wants_main=False)
    assert not given(bench).withdrawn


def test_a_new_refusal_after_a_pause_begins_anew() -> None:
    bench = Bench()
    bench.relay.refuses = True
    bench.tick()
    first_s = bench.now_s
    assert (given(bench).refused_since_s, given(bench).refused_at_s) == (first_s, first_s)
    bench.now_s += 59.0
    bench.tick()
    assert (given(bench).refused_since_s, given(bench).refused_at_s) == (first_s, bench.now_s)
    bench.now_s += 59.5
    bench.tick()
    assert given(bench).refused_since_s == bench.now_s
    bench.relay.refuses = False
    bench.tick()
    assert given(bench).refused_since_s is None


def test_latches_are_written_when_they_change_and_not_again() -> None:
    bench = Bench()
    saved: list[int] = []
    plain = bench.latch_file.save

    def counting(latches: tuple[Latch, ...]) -> None:
        saved.append(len(latches))
        plain(latches)

    bench.latch_file.save = counting  # type: ignore[method-assign]
    bench.tick()
    assert saved == []
    for _ in range(3):
        bench.tick(emergency_stop_ok=False)
    assert saved == [1]
    bench.tick()
    assert bench.guard.clear() == (True, "trips cleared")
    assert bench.guard.latch_trouble is None
    for _ in range(3):
        bench.tick()
    assert saved == [1, 0]


def test_heat_that_ends_as_it_was_granted_counts_for_nothing() -> None:
    bench = Bench()
    bench.tick()
    bench.guard.withdraw()
    assert given(bench).heated_s == 0.0


def test_what_a_sight_does_not_say_is_that_all_is_well_and_nothing_is_there() -> None:
    plain = Sight(1.0, None, (), None, None)
    assert plain[5:] == (True, True, True, True, None, False, 0.0, True, None, None, 0.0, "", False, None)


def test_the_guard_s_numbers_are_those_that_its_page_gives_the_reasons_for() -> None:
    assert astuple(Limits(900.0)) == (
        *(900.0, 3.0, 172_800.0, 2.0, 10.0, 120.0, 300.0, 15.0, 600.0, 10.0, 40.0, 60.0, 5.0, 180.0, 12.0),
        *(600.0, 3.0, 1800.0, 30.0, 5.0, 20.0, 600.0, 10.0, 55.0, 70.0, 5.0),
    )
