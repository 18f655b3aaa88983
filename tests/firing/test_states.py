"""The state table: a row for every state and every cue, and what the rows promise."""

import re
from pathlib import Path

import pytest

from controller.firing.states import HEATING, OPEN, TABLE, Cue, Go, Refuse, State, Stay, diagram

ENDED = {State.STOPPED, State.ABORTED, State.COMPLETE}
DOCUMENT = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_every_state_has_a_row_for_every_cue() -> None:
    assert set(TABLE) == set(State)
    for state, row in TABLE.items():
        assert set(row) == set(Cue), state


@pytest.mark.parametrize("state", list(State))
def test_an_abort_is_never_refused_and_never_leads_to_heat(state: State) -> None:
    row = TABLE[state][Cue.ABORT]
    assert not isinstance(row, Refuse)
    after = row.to if isinstance(row, Go) else state
    assert after not in HEATING


@pytest.mark.parametrize("state", list(State))
def test_a_trip_leaves_no_state_in_which_heat_may_be_asked_for(state: State) -> None:
    row = TABLE[state][Cue.TRIP]
    assert not isinstance(row, Refuse)
    after = row.to if isinstance(row, Go) else state
    assert after not in HEATING


def test_only_start_and_restart_lead_from_no_heat_or_held_heat_to_running() -> None:
    ways = {
        (state, cue)
        for state, row in TABLE.items()
        for cue, what in row.items()
        if isinstance(what, Go) and what.to in HEATING and state not in HEATING
    }
    assert ways == {(State.IDLE, Cue.START)}


def test_an_ended_firing_is_left_by_a_reset_alone() -> None:
    for state in ENDED:
        leads = {cue for cue, what in TABLE[state].items() if isinstance(what, Go)}
        assert leads == {Cue.RESET}, state


def test_every_transitional_state_ends_by_done_and_no_resting_state_does() -> None:
    transitional = {State.HOLDING, State.RESTARTING, State.STOPPING, State.ABORTING}
    assert {state for state in State if isinstance(TABLE[state][Cue.DONE], Go)} == transitional


def test_every_refusal_says_why() -> None:
    for row in TABLE.values():
        for what in row.values():
            assert not isinstance(what, Refuse) or len(what.why) > 10


def test_every_state_can_be_reached_from_idle() -> None:
    reached = {State.IDLE}
    while (
        new := {what.to for state in reached for what in TABLE[state].values() if isinstance(what, Go)}
        - reached
    ):
        reached |= new
    assert reached == set(State)
    assert OPEN | ENDED | {State.IDLE} == set(State)


def test_a_firing_that_ended_is_not_rewritten_by_an_abort_or_a_trip() -> None:
    for state in ENDED:
        assert TABLE[state][Cue.ABORT] == Stay()
        assert TABLE[state][Cue.TRIP] == Stay()


def test_the_diagram_in_the_documentation_is_the_one_made_from_the_table() -> None:
    shown = re.search(r"```mermaid\n(.*?)```", DOCUMENT.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    assert shown.group(1) == diagram()
