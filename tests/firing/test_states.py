"""The state table: a row for every state and every cue, and what the rows promise."""

import re
from pathlib import Path

import pytest

from controller.firing.states import GOING_OUT, HEATING, OPEN, TABLE, Cue, Go, Refuse, State, Stay, diagram

# The whole table, written a second time by hand: a cell names the state to which the cue leads; a dot takes
# the cue and changes nothing; a number is one of the refusals below.
WHOLE = """
           start   hold    restart    release stop     abort    reset trip     done     finished
idle       running 1       1          1       1        .        .     .        8        9
running    2       holding 4          .       stopping aborting 6     aborting 8        complete
holding    2       .       4          5       stopping aborting 6     aborting held     9
held       2       .       restarting 5       stopping aborting 6     aborting 8        9
restarting 2       holding .          5       stopping aborting 6     aborting running  9
stopping   7       7       7          7       .        aborting 7     aborting stopped  9
stopped    3       3       3          3       .        .        idle  .        8        9
aborting   7       7       7          7       7        .        7     .        aborted  9
aborted    3       3       3          3       3        .        idle  .        8        9
complete   3       3       3          3       3        .        idle  .        8        9
"""
REFUSALS = {
    "1": "nothing is running",
    "2": "a firing is running already; stop or abort it first",
    "3": "this firing has ended; reset, then start a new one",
    "4": "the firing is not held",
    "5": "the firing is held; restart it first",
    "6": "the firing has not ended; stop or abort it first",
    "7": "the heat is being switched off; wait until it is proven off",
    "8": "no transition is under way",
    "9": "the schedule is not running",
}
ENDED = {State.STOPPED, State.ABORTED, State.COMPLETE}
DOCUMENT = Path(__file__).parents[2] / "DEVELOPERS.md"


def test_every_state_has_a_row_for_every_cue() -> None:
    assert set(TABLE) == set(State)
    for state, row in TABLE.items():
        assert set(row) == set(Cue), state


def test_the_table_is_the_one_that_was_agreed() -> None:
    cues, *rows = (line.split() for line in WHOLE.strip().splitlines())
    assert cues == [cue.value for cue in Cue]
    assert [row[0] for row in rows] == [state.value for state in State]
    for state, *cells in rows:
        for cue, cell in zip(cues, cells, strict=True):
            what = TABLE[State(state)][Cue(cue)]
            found = "." if what == Stay() else what.to.value if isinstance(what, Go) else what.why  # type: ignore[union-attr]
            assert found == REFUSALS.get(cell, cell), (state, cue)


def test_heat_may_be_asked_for_while_a_firing_goes_on_and_is_proven_off_on_its_way_out() -> None:
    heating = {State.RUNNING, State.HOLDING, State.HELD, State.RESTARTING}
    assert heating == HEATING
    assert {State.STOPPING, State.ABORTING} == GOING_OUT
    assert heating | {State.STOPPING, State.ABORTING} == OPEN


def test_words_of_states_and_cues_are_those_of_the_record() -> None:
    assert [state.value for state in State] == [state.name.lower() for state in State]
    assert [cue.value for cue in Cue] == [cue.name.lower() for cue in Cue]


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
