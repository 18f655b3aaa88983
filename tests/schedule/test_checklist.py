"""What is ticked off at a checkpoint: the schedule's own lines, none, or the usual ones."""

from __future__ import annotations

import pytest

from controller.schedule.checklist import USUAL, to_tick
from controller.schedule.forms import LONGEST_TICK, MOST_TICKS, lines_to_tick
from controller.schedule.index import names, profile
from controller.schedule.model import Checkpoint
from controller.schedule.reader import load_schedule, read_schedule

STAGE = 'title = "T"\n[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "off"\n'


def ticks(more: str = "") -> tuple[str, ...]:
    stage = read_schedule(STAGE + more, "s").stages[0]
    assert isinstance(stage, Checkpoint)
    return to_tick(stage)


def test_a_schedules_own_lines_are_ticked_in_its_order() -> None:
    assert ticks('tick = ["Tray  out", "Door shut"]\n') == ("Tray out", "Door shut")


def test_without_the_key_the_usual_lines_are_ticked_and_an_empty_list_means_none() -> None:
    assert ticks() == USUAL
    assert ticks("tick = []\n") == ()


def test_the_usual_lines_could_stand_in_a_file() -> None:
    assert lines_to_tick(list(USUAL)) == USUAL
    assert len(USUAL) <= MOST_TICKS
    assert max(map(len, USUAL)) <= LONGEST_TICK


@pytest.mark.parametrize("name", names())
def test_every_shipped_checkpoint_has_lines_of_its_own(name: str) -> None:
    for stage in load_schedule(profile(name)).stages:
        if isinstance(stage, Checkpoint):
            assert stage.tick, stage.name
