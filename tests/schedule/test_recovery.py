"""The [recovery] table and a stage's `after_outage`: read, and every mistake with its line."""

from __future__ import annotations

import tomllib

import pytest

from controller.schedule.keys import RECOVERY_KEYS
from controller.schedule.located import FileProblems
from controller.schedule.model import Recovery
from controller.schedule.reader import read_schedule

STAGE = '[[stage]]\nkind = "ramp"\nname = "up"\nto = "200 C"\nrate = "60 C/h"\n'


def read(table: str, stage: str = STAGE) -> Recovery:
    return read_schedule(f'title = "T"\n{table}{stage}', "t.toml").recovery


def test_without_a_table_it_waits_for_a_person() -> None:
    assert read("") == Recovery(None, None, "wait")


def test_the_table_is_read() -> None:
    table = '[recovery]\nresume_within = "20 min"\nresume_if_fallen_by = "108 F"\notherwise = "stop"\n'
    assert read(table) == Recovery(1200.0, 60.0, "stop")


@pytest.mark.parametrize("key", RECOVERY_KEYS, ids=lambda key: key.name)
def test_every_key_of_the_table_has_a_meaning_and_an_example_that_changes_it(key: object) -> None:
    assert key.meaning  # type: ignore[attr-defined]
    line = f"{key.name} = {key.example}"  # type: ignore[attr-defined]
    assert tomllib.loads(line)
    assert read(f"[recovery]\n{line}\n") != Recovery()


@pytest.mark.parametrize("own", ["resume", "wait", "stop"])
def test_a_stage_may_say_it_itself(own: str) -> None:
    schedule = read_schedule(f'title = "T"\n{STAGE}after_outage = "{own}"\n', "t.toml")
    assert schedule.stages[0].after_outage == own


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('[recovery]\nresume_within = "20"\n', 3, "recovery, resume_within"),
        ('[recovery]\nresume_within = "5 h"\n', 3, "at most 4 h"),
        ('[recovery]\nresume_within = "0 s"\n', 3, "more than zero"),
        ('[recovery]\nresume_if_fallen_by = "0 C"\n', 3, "more than zero"),
        ('[recovery]\notherwise = "resume"\n', 3, '"wait" or "stop"'),
        ('[recovery]\nresume_withn = "20 min"\n', 3, "resume_within (or"),
        ('recovery = "wait"\n', 2, "a [recovery] table"),
    ],
)
def test_a_mistake_is_told_with_its_line(text: str, line: int, says: str) -> None:
    with pytest.raises(FileProblems) as raised:
        read(text)
    (problem,) = raised.value.problems
    assert problem.line == line
    assert says in str(problem)


def test_a_mistake_in_a_stage_is_told_with_its_line() -> None:
    with pytest.raises(FileProblems, match=r't.toml:7: .*after_outage.*"resume", "wait" or "stop"'):
        read("", STAGE + 'after_outage = "go on"\n')
