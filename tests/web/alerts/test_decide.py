"""Who is told of what, by example: each event once, what is urgent until somebody acknowledges."""

from __future__ import annotations

from dataclasses import replace

import pytest

from controller.live import CUT_SHORT, Alarm
from tests.web import invented
from tests.web.alerts.scenes import ADA, ONE, TWO, Story, pour_in, quiet, with_changes
from web.alerts.ready import ready
from web.alerts.settings import Settings

DOOR = invented.DOOR


def titles(messages: list[object]) -> list[str]:
    return [message.title for message in messages]  # type: ignore[attr-defined]


def test_a_person_who_is_needed_is_told_at_once_what_where_since_when_and_what_to_do() -> None:
    story = Story()
    story.see(invented.running(), 60)
    [message] = story.see(invented.checkpoint())
    assert message.title == "Shed kiln: a person is needed: patch and drain"
    assert message.body.splitlines() == [
        invented.SAYS,
        "Since 01:58 (13 min).",
        "Go to the kiln.",
        "Air 151 C, load 149 C.",
    ]


def test_it_is_told_again_with_pauses_that_double_until_an_hour() -> None:
    story = Story()
    story.see(invented.checkpoint(), 4 * 3600)
    assert story.times() == pytest.approx([0, 300, 900, 2100, 4500, 8100, 11700], abs=20)
    assert "Not acknowledged yet." not in story.told[0][1].body
    assert "Not acknowledged yet." in story.told[1][1].body


def test_a_release_ends_it_and_the_next_stop_is_another_event() -> None:
    story = Story()
    story.see(invented.checkpoint(), 200)
    assert story.see(invented.running(), 7200) == []
    stage = invented.checkpoint()["stage"]
    assert stage is not None
    later = with_changes(invented.checkpoint(), stage={**stage, "index": 6, "name": "look"})
    assert titles(story.see(later)) == ["Shed kiln: a person is needed: look"]


@pytest.mark.parametrize("scene", [invented.checkpoint(), invented.tripped()])
def test_what_was_seen_on_the_page_is_told_no_more(scene: object) -> None:
    story = Story(TWO)
    story.see(invented.running())
    [message] = story.see(scene)  # type: ignore[arg-type]
    story.see(scene, acknowledged=frozenset(message.keys))  # type: ignore[arg-type]
    assert story.see(scene, 6 * 3600) == []  # type: ignore[arg-type]


def test_another_key_acknowledges_nothing() -> None:
    story = Story()
    story.see(invented.checkpoint(), acknowledged=frozenset({"alarm/door"}))
    assert story.see(invented.checkpoint(), 301) != []


def test_an_alarm_that_was_acknowledged_at_the_controller_is_told_no_more() -> None:
    story = Story()
    seen: Alarm = {**DOOR, "state": "acknowledged"}
    assert len(story.see(invented.alarm(), 100)) == 1
    assert story.see(invented.changed(alarms=[seen]), 6 * 3600) == []


def test_who_comes_after_is_told_when_nobody_has_acknowledged_and_hears_who_was_told_before() -> None:
    story = Story(TWO)
    story.see(invented.checkpoint(), 3600)
    assert story.times("Ben")[0] == pytest.approx(900, abs=2)
    body = next(message.body for _, message in story.told if message.to == "Ben")
    assert "Told before: Ada." in body
    assert all("Told before" not in message.body for _, message in story.told if message.to == "Ada")


def test_who_comes_after_is_told_at_once_when_nobody_before_can_be_reached() -> None:
    story = Story(TWO)
    story.see(invented.checkpoint(), 30, failing=frozenset({"Ada"}))
    assert story.times("Ben") == [0]


def test_a_glance_through_the_door_wakes_nobody() -> None:
    story = Story()
    story.see(invented.alarm(), 55)
    story.see(invented.running(), 600)
    assert story.told == []


def test_an_alarm_that_lasts_is_told_and_its_end_as_well_but_never_as_safe() -> None:
    story = Story()
    [message] = story.see(invented.alarm(), 70)
    assert message.title == "Shed kiln: alarm, no heat is granted: The door is open (contact door off)"
    assert "Shut the door." in message.body
    assert "Since 02:10 (1 min)." in message.body
    over: Alarm = {**DOOR, "state": "returned to normal"}
    [end] = story.see(invented.changed(alarms=[over]), 3600)
    assert end.title.startswith("Shed kiln: over now: alarm, no heat is granted: The door is open")
    assert "safe" not in (end.title + end.body).lower()


def test_a_trip_is_told_at_once_and_is_no_end_of_the_alarm_that_became_it() -> None:
    story = Story()
    story.see(invented.alarm(), 70)
    trip: Alarm = {**DOOR, "reaction": "trip"}
    messages = story.see(invented.changed(alarms=[trip]), 100)
    assert titles(messages) == ["Shed kiln: TRIP: The door is open (contact door off)"]  # type: ignore[arg-type]
    assert "switch it off at its supply" in messages[0].body


def test_a_shelved_alarm_is_neither_told_nor_over_and_is_told_anew_afterwards() -> None:
    story = Story()
    story.see(invented.alarm(), 70)
    shelved: Alarm = {**DOOR, "state": "shelved"}
    assert story.see(invented.changed(alarms=[shelved]), 3600) == []
    [message] = story.see(invented.alarm(), 70)
    assert message.sort == "alarm"


def test_several_trips_of_one_moment_are_one_message() -> None:
    story = Story()
    trips: list[Alarm] = [invented.TRIP, {**invented.TRIP, "id": "key", "says": "The key is out"}]
    [message] = story.see(with_changes(invented.tripped(), alarms=trips), 60)
    assert message.title.endswith(", and 1 more")
    assert "The key is out" in message.body


def test_a_door_that_is_open_while_a_person_is_at_the_stop_is_that_person() -> None:
    story = Story()
    story.see(with_changes(invented.checkpoint(), alarms=[DOOR]), 290)
    assert {message.sort for _, message in story.told} == {"person"}
    story.see(invented.alarm(), 100)
    assert story.told[-1][1].sort == "alarm"


def test_a_warning_wakes_nobody() -> None:
    story = Story()
    warning: Alarm = {**DOOR, "reaction": "warn"}
    assert story.see(invented.changed(alarms=[warning]), 7200) == []


def test_an_idle_kiln_is_quiet_but_for_a_trip() -> None:
    story = Story()
    assert story.see(with_changes(invented.idle(), alarms=[DOOR]), 7200) == []
    assert story.see(None, 7200) == []
    assert len(story.see(with_changes(invented.idle(), alarms=[invented.TRIP]))) == 1


def test_a_simulated_kiln_is_quiet_unless_asked_for() -> None:
    frame = with_changes(invented.checkpoint(), simulated=True)
    assert Story().see(frame, 3600) == []
    assert Story().see(with_changes(invented.running(), simulated=True)) == []
    [message] = Story(replace(ONE, simulated=True)).see(frame)
    assert message.title.startswith("Simulation, Shed kiln: ")


def test_a_simulated_kiln_that_is_lost_is_quiet_too() -> None:
    story = Story()
    story.see(with_changes(invented.running(), simulated=True))
    assert story.see(None, 3600) == []


def test_a_brief_restart_of_the_controller_is_not_told_and_repeats_nothing() -> None:
    story = Story()
    story.see(invented.checkpoint(), 100)
    assert story.see(None, 115) == []
    assert story.see(invented.checkpoint(), 60) == []


def test_a_lost_controller_is_told_with_what_was_last_seen_and_told_again() -> None:
    story = Story()
    story.see(invented.running())
    messages = story.see(None, 3600)
    assert messages[0].title == "Shed kiln: no word from the controller"
    assert "When last heard of: running, stage “burn out”. Air 409 C, load 377 C." in messages[0].body
    assert "Since 02:10 (2 min)." in messages[0].body
    assert "Nobody can say from here what the kiln does: go and look." in messages[0].body
    assert story.times() == pytest.approx([120, 420, 1020, 2220], abs=4)
    assert titles(story.see(invented.running(), 60)) == ["Shed kiln: over now: no word from the controller"]  # type: ignore[arg-type]


def test_a_controller_that_was_never_seen_is_not_told_as_lost() -> None:
    assert Story().see(None, 7200) == []


def test_what_stood_before_the_controller_was_lost_is_neither_told_nor_forgotten() -> None:
    story = Story()
    story.see(invented.checkpoint(), 10)
    assert {m.sort for m in story.see(None, 1800)} == {"lost"}
    assert {m.sort for m in story.see(invented.checkpoint(), 10)} == {"person", "over"}
    person = next(matter for matter in story.state.matters if matter.sort == "person")
    assert person.noticed_s == 1000.0


def test_a_firing_that_was_cut_short_needs_a_person_unless_it_resumes_by_itself() -> None:
    story = Story()
    waits = with_changes(invented.held(), waiting=CUT_SHORT)
    assert story.see(waits, 25) == []
    story.see(invented.running(), 5)
    assert titles(story.see(waits, 40)) == ["Shed kiln: a person is needed: the firing was cut short"]  # type: ignore[arg-type]


def test_a_firing_that_a_person_holds_needs_nobody() -> None:
    assert Story().see(invented.held(), 7200) == []


def test_the_pour_is_told_once_so_long_before_with_the_stop_that_comes_first() -> None:
    story = Story()
    assert story.see(pour_in(7200), 5390) == []
    [message] = story.see(pour_in(1810), 1700)
    assert message.title == "Shed kiln: pour in about 30 min"
    assert "ready for the pour at 04:10." in message.body
    stop = {"name": "patch and drain", "kind": "checkpoint", "in_s": 60.0}
    [other] = Story().see(with_changes(pour_in(1200), stop=stop))
    assert "Not before somebody has released “patch and drain”." in other.body


ANSWER = {
    "ok": True,
    "firing": 12,
    "mono_s": 1000.0,
    "ready_s": {"low": 1200.0, "typical": 1500.0, "high": 2400.0},
}


def test_the_forecast_comes_before_the_plan_and_is_told_as_an_estimate() -> None:
    frame = pour_in(9000.0, mono_s=1000.0)
    [message] = Story().see(frame, ready=ready(ANSWER))
    assert message.title == "Shed kiln: pour in about 25 min"
    assert "The forecast’s estimate: ready for the pour at 02:35, between 02:30 and 02:50." in message.body


@pytest.mark.parametrize(
    "other",
    [
        {"ok": False, "says": "nothing is fired"},
        {**ANSWER, "ready_s": None},
        {**ANSWER, "ready_s": {"low": 1.0, "typical": None, "high": 3.0}},
        {**ANSWER, "firing": 11},
        {**ANSWER, "mono_s": 50.0},
    ],
)
def test_an_estimate_that_is_none_or_old_or_of_another_firing_is_not_told(other: dict[str, object]) -> None:
    [message] = Story().see(pour_in(1200.0, mono_s=1000.0), ready=ready(other))
    assert "By the schedule’s plan" in message.body


def test_a_plan_that_moves_to_and_fro_tells_the_pour_once() -> None:
    story = Story()
    for in_s in (1801, 1795, 1900, 1700, 2900, 1790):
        story.see(pour_in(in_s), 1)
    assert len(story.times()) == 1


def test_nobody_is_told_of_a_pour_while_the_schedule_waits_for_a_person() -> None:
    story = Story()
    pour = {"name": "keep for the pour", "kind": "hold", "in_s": 1200.0}
    assert story.see(with_changes(invented.held(), pour=pour), 3600) == []
    story.see(with_changes(invented.checkpoint(), pour=pour), 10)
    assert story.times(sort="pour") == []


def test_the_furnace_is_lit_when_the_metal_takes_as_long_as_is_left() -> None:
    story = Story(replace(ONE, melting_s=3000.0))
    assert story.see(pour_in(3600), 590) == []
    [message] = story.see(pour_in(3010), 100)
    assert message.title == "Shed kiln: light the melting furnace"
    assert "That is in 50 min; melting takes 50 min." in message.body


def test_the_jobs_own_melting_time_comes_before_the_settings() -> None:
    story = Story(replace(ONE, melting_s=600.0))
    [message] = story.see(pour_in(3500), 10, melting_s=3600.0)
    assert message.title == "Shed kiln: light the melting furnace"


@pytest.mark.parametrize(
    ("end", "title"),
    [
        (invented.complete(), "Shed kiln: the firing is complete"),
        (invented.aborted(), "Shed kiln: the firing was aborted"),
        (invented.idle(), "Shed kiln: the firing is over"),
    ],
)
def test_the_end_of_a_firing_is_told_once(end: object, title: str) -> None:
    story = Story()
    story.see(invented.running())
    [message] = story.see(end, 7200)  # type: ignore[arg-type]
    assert message.title == title
    assert "Firing 12, Printed PLA in nine-coat silica shell." in message.body
    assert story.see(invented.idle(), 60) == []


def test_an_end_by_a_trip_is_told_as_the_trip_alone() -> None:
    story = Story()
    story.see(invented.running())
    assert {message.sort for message in story.see(invented.tripped(), 600)} == {"trip"}


def test_what_can_wait_waits_for_the_quiet_hours_to_end_and_what_is_urgent_does_not() -> None:
    story = Story(quiet(ONE, (22, 7)))
    story.see(invented.running())
    assert story.see(invented.complete(), 4.8 * 3600) == []
    [message] = story.see(invented.complete(), 120)
    assert message.title == "Shed kiln: the firing is complete"
    night = Story(quiet(ONE, (22, 7), can_wait=("finished", "pour")))
    assert len(night.see(invented.checkpoint())) == 1
    assert night.see(pour_in(600), 60) == []


def test_who_wants_only_some_kinds_gets_only_those() -> None:
    story = Story(Settings(to=(replace(ADA, kinds=("person", "alarm")),)))
    story.see(invented.running())
    story.see(invented.complete(), 60)
    story.see(invented.running())
    story.see(None, 600)
    assert story.told == []
    assert len(story.see(invented.checkpoint())) == 1


def test_who_comes_after_is_not_told_of_what_is_told_once() -> None:
    story = Story(TWO)
    story.see(invented.running())
    story.see(invented.complete(), 7200)
    assert story.times("Ada") != []
    assert story.times("Ben") == []


def test_a_fast_kilns_seconds_are_not_taken_for_ours() -> None:
    story = Story(replace(ONE, simulated=True))
    person = {"says": "Look.", "waited_s": 600.0}
    [message] = story.see(with_changes(invented.checkpoint(), speed=60.0, person=person))
    assert "(10 s)" in message.body
