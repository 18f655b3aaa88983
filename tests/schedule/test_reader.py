"""A good file becomes a frozen schedule, with its text, its defaults and its units converted."""

from __future__ import annotations

import dataclasses
import tomllib
from pathlib import Path
from typing import Any

import pytest

from controller.schedule.keys import KINDS, MOULDS, SCHEDULE_KEYS, STAGE_KEYS, Key
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Then
from controller.schedule.reader import load_schedule, read_schedule

FULL = """title = "All  of\\tit"
pour_at = "1500 F"
mould = "silica shell"
ceiling = "900 C"

[[stage]]
kind = "ramp"
name = "dry"
to = "200 F"
rate = "108 F/h"
wait_within = "18 F"
ceiling = "150 C"
extraction = true

[[stage]]
kind = "hold"
name = "stay"
for = "1 h 30 min"
band = "5 K"

[[stage]]
kind = "checkpoint"
name = "look"
says = '''
Look.
Brush.'''
heat = "off"
remind_every = "5 min"
after = "45 min"
then = "keep waiting at 50 C"
expect = "20 min"

[[stage]]
kind = "ramp"
name = "fire"
to = "1500 F"
rate = "full"

[[stage]]
kind = "hold"
name = "pour"
at = "815.6 C"
for = "until released"
at_most = "4 h"
expect = "30 min"
says = "Ready."

[[stage]]
kind = "cool"
name = "slowly"
to = "500 C"
rate = "75 C/h"

[[stage]]
kind = "cool"
name = "by itself"
to = "100 C"
"""

HOT_C = (1500 - 32) / 1.8


def test_a_whole_file_is_read_key_by_key() -> None:
    assert read_schedule(FULL, "s.toml") == Schedule(
        title="All of it",
        stages=(
            Ramp("dry", (200 - 32) / 1.8, 60.0, 10.0, 150.0, True),
            Hold("stay", (200 - 32) / 1.8, 5400.0, 5.0, ceiling_c=900.0),
            Checkpoint(
                "look", "Look. Brush.", "off", 300.0, 2700.0, Then("keep waiting", 50.0), 1200.0, 900.0
            ),
            Ramp("fire", HOT_C, None, None, 900.0),
            Hold("pour", HOT_C, None, 10.0, 14400.0, 1800.0, "Ready.", 900.0),
            Cool("slowly", 500.0, 75.0, 900.0),
            Cool("by itself", 100.0, None, 900.0),
        ),
        pour_at_c=HOT_C,
        mould="silica shell",
        ceiling_c=900.0,
        text=FULL,
        file="s.toml",
    )


def test_a_schedule_and_its_stages_are_frozen() -> None:
    schedule = read_schedule(FULL, "s.toml")
    with pytest.raises(dataclasses.FrozenInstanceError):
        schedule.title = "x"  # type: ignore[misc]
    with pytest.raises(dataclasses.FrozenInstanceError):
        schedule.stages[0].name = "x"  # type: ignore[misc]


def test_the_same_text_gives_the_same_schedule_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text(FULL, encoding="utf-8")
    assert load_schedule(path) == read_schedule(FULL, str(path))


def small(stage: str, head: str = 'title = "T"\n') -> Schedule:
    ramp = '[[stage]]\nkind = "ramp"\nname = "up"\nto = "200 C"\nrate = "60 C/h"\n'
    return read_schedule(head + ramp + stage, "s.toml")


def test_what_is_absent_has_its_default() -> None:
    schedule = small(
        '[[stage]]\nkind = "hold"\nname = "a"\nfor = "until released"\nat_most = "4 h"\n'
        '[[stage]]\nkind = "hold"\nname = "b"\nfor = "until released"\nat_most = "10 min"\n'
        '[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "keep"\n'
        '[[stage]]\nkind = "checkpoint"\nname = "d"\nsays = "x"\nheat = "off"\n'
        'after = "5 min"\nthen = "stop"\n'
    )
    assert (schedule.pour_at_c, schedule.mould, schedule.ceiling_c) == (None, "none", None)
    ramp, a, b, c, d = schedule.stages
    assert ramp == Ramp("up", 200.0, 60.0)
    assert a == Hold("a", 200.0, None, 10.0, 14400.0, 900.0)
    assert b == Hold("b", 200.0, None, 10.0, 600.0, 600.0)  # not expected beyond its end
    assert c == Checkpoint("c", "x", "keep", 300.0, None, Then("keep waiting"), 900.0)
    assert d == Checkpoint("d", "x", "off", 300.0, 300.0, Then("stop"), 300.0)


@pytest.mark.parametrize("then", ["keep waiting", "go on", "stop"])
def test_every_then_is_read(then: str) -> None:
    stage = '[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "off"\nafter = "1 h"\n'
    checkpoint = small(f'{stage}then = "{then}"\n').stages[1]
    assert isinstance(checkpoint, Checkpoint)
    assert checkpoint.then.action == then
    assert checkpoint.then.at_c is None


def test_reminders_may_be_switched_off() -> None:
    stage = '[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "off"\nremind_every = "never"\n'
    checkpoint = small(stage).stages[1]
    assert isinstance(checkpoint, Checkpoint)
    assert checkpoint.remind_every_s is None


@pytest.mark.parametrize("mould", MOULDS)
def test_every_mould_is_known(mould: str) -> None:
    assert small("", f'title = "T"\nmould = "{mould}"\nceiling = "730 C"\n').mould == mould


def test_a_hold_written_in_another_unit_keeps_the_setpoint_exactly_where_it_was() -> None:
    """1500 F is 815.555... C: a hold at 815.6 C must not make the setpoint jump."""
    stages = read_schedule(FULL, "s.toml").stages
    assert isinstance(stages[3], Ramp)
    assert isinstance(stages[4], Hold)
    assert stages[4].at_c == stages[3].to_c


def test_after_a_checkpoint_with_the_heat_off_the_kiln_may_go_back_or_stay_lower() -> None:
    off = '[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "off"\n'
    back = small(off + '[[stage]]\nkind = "ramp"\nname = "r"\nto = "200 C"\nrate = "60 C/h"\n')
    assert back.stages[2] == Ramp("r", 200.0, 60.0)
    lower = small(off + '[[stage]]\nkind = "hold"\nname = "h"\nat = "150 C"\nfor = "1 h"\n')
    assert lower.stages[2] == Hold("h", 150.0, 3600.0, 10.0)


def test_a_checkpoint_that_keeps_the_heat_leaves_the_kiln_where_it_was() -> None:
    keep = '[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "keep"\n'
    held = small(keep + '[[stage]]\nkind = "hold"\nname = "h"\nfor = "1 h"\n')
    assert held.stages[2] == Hold("h", 200.0, 3600.0, 10.0)


def test_a_schedule_may_begin_with_a_checkpoint_or_a_hold() -> None:
    checkpoint = '[[stage]]\nkind = "checkpoint"\nname = "c"\nsays = "x"\nheat = "off"\n'
    hold = '[[stage]]\nkind = "hold"\nname = "h"\nat = "60 C"\nfor = "1 h"\n'
    assert read_schedule('title = "T"\n' + checkpoint + hold, "s").stages[1] == Hold("h", 60.0, 3600.0, 10.0)
    assert read_schedule('title = "T"\n' + hold, "s").stages[0] == Hold("h", 60.0, 3600.0, 10.0)


def test_exactly_ten_kelvin_below_a_ceiling_is_allowed() -> None:
    assert small("", 'title = "T"\nceiling = "210 C"\n').stages[0].ceiling_c == 210.0


# The keys are one table: what it lists is read, and what is read is listed.

EXAMPLES: dict[str, str] = {
    "ramp": '[[stage]]\nkind = "ramp"\nname = "x"\nto = "300 C"\nrate = "90 C/h"\n',
    "hold": '[[stage]]\nkind = "hold"\nname = "x"\nfor = "until released"\nat_most = "5 h"\n',
    "checkpoint": '[[stage]]\nkind = "checkpoint"\nname = "x"\nsays = "s"\nheat = "keep"\n',
    "cool": '[[stage]]\nkind = "cool"\nname = "x"\nto = "90 C"\n',
}
# Where a key's own example is also its default, or does not fit the stage above: the line to write instead.
OTHER = {
    "ramp.to": 'to = "310 C"',
    "ramp.ceiling": 'ceiling = "400 C"',
    "hold.at": 'at = "200.05 C"',
    "hold.for": 'for = "2 h"\n# without at_most',
    "hold.band": 'band = "5 K"',
    "ramp.follow": 'follow = "load"\nlead = "30 K"',
    "ramp.lead": 'lead = "30 K"\nfollow = "load"',
    "hold.follow": 'follow = "load"\nlead = "30 K"',
    "hold.lead": 'lead = "30 K"\nfollow = "load"',
    "checkpoint.remind_every": 'remind_every = "7 min"',
    "checkpoint.after": 'after = "45 min"\nthen = "go on"',
    "checkpoint.then": 'then = "keep waiting at 150 C"\nafter = "45 min"',
}


def with_key(kind: str, key: Key) -> str:
    """A stage of a kind with one key set to the table's own example, or to one that fits the stage."""
    line = OTHER.get(f"{kind}.{key.name}", f"{key.name} = {key.example}")
    dropped = (f"{key.name} = ", "at_most = ") if "without at_most" in line else (f"{key.name} = ",)
    kept = [old for old in EXAMPLES[kind].splitlines() if not old.startswith(dropped)]
    return "\n".join([*kept, line]) + "\n"


@pytest.mark.parametrize(
    ("kind", "key"),
    [
        pytest.param(kind, key, id=f"{kind}.{key.name}")
        for kind in KINDS
        for key in STAGE_KEYS[kind]
        if key.name != "kind"
    ],
)
def test_every_listed_key_of_a_stage_is_read_and_changes_it(kind: str, key: Key) -> None:
    plain = small(EXAMPLES[kind]).stages[1]
    changed = small(with_key(kind, key)).stages[1]
    if key.name == "at":  # says where the stage already is
        assert changed == plain
    else:
        assert changed != plain


@pytest.mark.parametrize("key", SCHEDULE_KEYS, ids=lambda key: key.name)
def test_every_listed_key_of_a_schedule_is_read_and_changes_it(key: Key) -> None:
    value: Any = {"pour_at": '"150 C"', "mould": '"kiln lining"'}.get(key.name, key.example)
    head = f"{key.name} = {value}\n" + ("" if key.name == "title" else 'title = "T"\n')
    assert dataclasses.replace(small("", head), text="") != dataclasses.replace(small(""), text="")


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_has_a_meaning_and_an_example_that_can_be_read(kind: str) -> None:
    for key in STAGE_KEYS[kind] + SCHEDULE_KEYS:
        assert key.meaning
        key.read(tomllib.loads(f"x = {key.example}")["x"])
