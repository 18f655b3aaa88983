"""Every mistake that a schedule file can have is told with its line, its place, what was found and expected.

In each case the line that must be named ends in the mark `#!`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest

from controller.schedule.located import FileProblems, Problem
from controller.schedule.reader import load_schedule, read_schedule

MARK = "#!"
RAMP = '[[stage]]\nkind = "ramp"\nname = "up"\nto = "200 C"\nrate = "60 C/h"\n'
KEEP = '[[stage]]\nkind = "checkpoint"\nname = "look"\nsays = "Look."\nheat = "keep"\n'
OFF = '[[stage]]\nkind = "checkpoint"\nname = "drain"\nsays = "Drain."\nheat = "off"\n'
POUR = '[[stage]]\nkind = "hold"\nname = "pour"\nfor = "until released"\n'
HOLD = '[[stage]]\nkind = "hold"\nname = "stay"\nfor = "1 h"\n'
COOL = '[[stage]]\nkind = "cool"\nname = "down"\nto = "100 C"\n'


class Case(NamedTuple):
    """A text with one mistake; `where`, `found` and `expected` must be in what is told."""

    name: str
    text: str
    where: str
    found: str
    expected: str


def titled(stages: str) -> str:
    return 'title = "T"\n' + stages


def swap(stage: str, old: str, new: str) -> str:
    assert old in stage
    return stage.replace(old, new)


def headed(stage: str, more: str = "") -> str:
    """A stage whose header line is the one to be named."""
    return stage.replace("[[stage]]", "[[stage]] #!") + more


CASES = [
    Case("no title", RAMP.replace("[[stage]]", "[[stage]] ") + "", "title", "nothing", 'title = "'),
    Case(
        "follow of what is not measured",
        titled(RAMP + 'follow = "limit" #!\n'),
        "follow",
        '"limit"',
        '"air" or',
    ),
    Case(
        "follow without lead", titled(headed(RAMP, 'follow = "load"\n')), "lead", "nothing", 'lead = "40 K"'
    ),
    Case("lead without follow", titled(RAMP + 'lead = "40 K" #!\n'), "lead", '"40 K"', "goes with follow"),
    Case(
        "lead of nothing",
        titled(RAMP + 'follow = "load"\nlead = "0 K" #!\n'),
        "lead",
        '"0 K"',
        "more than zero",
    ),
    Case(
        "lead into the ceiling",
        'title = "T"\nceiling = "230 C"\n' + RAMP + 'follow = "load"\nlead = "21 K" #!\n',
        "lead",
        '"21 K"',
        "at most 20 K",
    ),
    Case("title not text", "title = 7 #!\n" + RAMP, "title", "7", "text in quotes"),
    Case("title empty", 'title = " " #!\n' + RAMP, "title", '""', "text that can be read"),
    Case("title unprintable", 'title = "a\\u0007" #!\n' + RAMP, "title", "\ufffd", "text that can be read"),
    Case("title too long", f'title = "{"x" * 101}" #!\n' + RAMP, "title", "101 characters", "at most 100"),
    Case(
        "unknown key", 'title = "T"\npour_att = "815 C" #!\n' + RAMP, "pour_att", "not known", "pour_at (or"
    ),
    Case("unknown mould", 'title = "T"\nmould = "sand" #!\n' + RAMP, "mould", '"sand"', '"silica shell", '),
    Case(
        "unit of pour_at",
        'title = "T"\npour_at = "150" #!\n' + RAMP,
        "pour_at",
        "without a unit",
        "temperature",
    ),
    Case(
        "pour too hot", 'title = "T"\npour_at = "210 C" #!\n' + RAMP, "pour_at", '"210 C"', "at most 200.0 C"
    ),
    Case("no stages", 'title = "T"\n', "stage", "no stage", "[[stage]]"),
    Case("empty stages", 'title = "T"\nstage = [] #!\n', "stage", "no stage", "[[stage]]"),
    Case(
        "single brackets",
        titled(RAMP.replace("[[stage]]", "[stage] #!")),
        "stage",
        "single [stage]",
        "[[stage]]",
    ),
    Case("stage is text", 'title = "T"\nstage = "ramp" #!\n', "stage", "something else", "[[stage]]"),
    Case("stages are numbers", 'title = "T"\nstage = [1] #!\n', "stage", "something else", "[[stage]]"),
    Case(
        "gypsum without ceiling",
        'title = "T"\nmould = "gypsum-bonded"\n' + RAMP,
        "ceiling",
        "nothing",
        "730 C",
    ),
    Case(
        "gypsum above its limit",
        'title = "T"\nmould = "gypsum-bonded"\nceiling = "731 C" #!\n' + RAMP,
        "ceiling",
        '"731 C"',
        "at most 730 C",
    ),
    Case(
        "no kind",
        titled(headed(swap(RAMP, 'kind = "ramp"\n', ""))),
        'stage 1 "up", kind',
        "nothing",
        "kind =",
    ),
    Case(
        "unknown kind",
        titled(swap(RAMP, '"ramp"', '"soak" #!')),
        'stage 1 "up", kind',
        '"soak"',
        '"ramp", "hold"',
    ),
    Case(
        "kind not text", titled(swap(RAMP, '"ramp"', "[1] #!")), 'stage 1 "up", kind', "[1]", '"ramp", "hold"'
    ),
    Case("no name", titled(headed(swap(RAMP, 'name = "up"\n', ""))), "stage 1, name", "nothing", "name ="),
    Case("name not text", titled(swap(RAMP, '"up"', "3 #!")), "stage 1, name", "3", "text in quotes"),
    Case(
        "name too long", titled(swap(RAMP, '"up"', f'"{"x" * 61}" #!')), "name", "61 characters", "at most 60"
    ),
    Case(
        "name twice",
        titled(RAMP + swap(swap(RAMP, '"up"', '"UP" #!'), "200 C", "300 C")),
        'stage 2 "UP", name',
        '"UP"',
        "line 4 has it already",
    ),
    Case(
        "name twice on one line",
        'title = "T"\nstage = [{kind = "ramp", name = "a", to = "200 C", rate = "full"}, '
        '{kind = "cool", name = "a", to = "90 C"}] #!\n',
        'stage 2 "a", name',
        '"a"',
        "line 2 has it already",
    ),
    Case("name unprintable", titled(swap(RAMP, '"up"', '"u\\u001b" #!')), "stage 1", "\ufffd", "can be read"),
    Case(
        "key of another kind",
        titled(RAMP + 'band = "5 K" #!\n'),
        'stage 1 "up", band',
        "not known",
        "wait_within",
    ),
    Case(
        "misspelt key", titled(RAMP + 'wait_witin = "5 K" #!\n'), "wait_witin", "not known", "wait_within (or"
    ),
    Case(
        "ramp without to",
        titled(headed(swap(RAMP, 'to = "200 C"\n', ""))),
        'stage 1 "up", to',
        "nothing",
        "to =",
    ),
    Case(
        "ramp without rate", titled(headed(swap(RAMP, 'rate = "60 C/h"\n', ""))), "rate", "nothing", "rate ="
    ),
    Case("no unit", titled(swap(RAMP, '"200 C"', '"200" #!')), "to", '"200", without a unit', "temperature"),
    Case(
        "a bare number", titled(swap(RAMP, '"200 C"', "200 #!")), "to", "200, without a unit", "temperature"
    ),
    Case("unknown unit", titled(swap(RAMP, '"200 C"', '"200 R" #!')), "to", '"200 R"', "temperature"),
    Case(
        "below absolute zero", titled(swap(RAMP, '"200 C"', '"-300 C" #!')), "to", '"-300 C"', "absolute zero"
    ),
    Case("rate zero", titled(swap(RAMP, '"60 C/h"', '"0 C/h" #!')), "rate", '"0 C/h"', "more than zero"),
    Case(
        "rate negative", titled(swap(RAMP, '"60 C/h"', '"-60 C/h" #!')), "rate", '"-60 C/h"', "more than zero"
    ),
    Case("rate without time", titled(swap(RAMP, '"60 C/h"', '"60 C" #!')), "rate", '"60 C"', "a rate"),
    Case(
        "wait_within zero",
        titled(RAMP + 'wait_within = "0 K" #!\n'),
        "wait_within",
        '"0 K"',
        "more than zero",
    ),
    Case(
        "extraction as text", titled(RAMP + 'extraction = "yes" #!\n'), "extraction", '"yes"', "true or false"
    ),
    Case(
        "a ramp that goes down",
        titled(RAMP + swap(swap(RAMP, '"up"', '"on"'), '"200 C"', '"150 C" #!')),
        'stage 2 "on", to',
        '"150 C"',
        "more than 200 C, where the stage before ended; to go down, use a stage of kind cool",
    ),
    Case(
        "a ramp that goes nowhere",
        titled(RAMP + swap(swap(RAMP, '"up"', '"on"'), '"200 C"', '"200 C" #!')),
        'stage 2 "on", to',
        '"200 C"',
        "more than 200 C",
    ),
    Case(
        "a ramp below where the heat went off",
        titled(RAMP + OFF + swap(swap(RAMP, '"up"', '"on"'), '"200 C"', '"190 C" #!')),
        'stage 3 "on", to',
        '"190 C"',
        "at least 200 C",
    ),
    Case(
        "hold without for", titled(RAMP + headed(swap(HOLD, 'for = "1 h"\n', ""))), "for", "nothing", "for ="
    ),
    Case(
        "hold of no time",
        titled(RAMP + swap(HOLD, '"1 h"', '"0 min" #!')),
        "for",
        '"0 min"',
        '"until released"',
    ),
    Case(
        "hold of negative time",
        titled(RAMP + swap(HOLD, '"1 h"', '"-1 h" #!')),
        "for",
        '"-1 h"',
        "not negative",
    ),
    Case(
        "hold without unit",
        titled(RAMP + swap(HOLD, '"1 h"', "90 #!")),
        "for",
        "90, without a unit",
        "a duration",
    ),
    Case(
        "hold elsewhere",
        titled(RAMP + HOLD + 'at = "210 C" #!\n'),
        'stage 2 "stay", at',
        '"210 C"',
        "200 C, where",
    ),
    Case(
        "hold below",
        titled(RAMP + HOLD + 'at = "199 C" #!\n'),
        'stage 2 "stay", at',
        '"199 C"',
        "200 C, where",
    ),
    Case(
        "first hold nowhere", titled(headed(HOLD)), 'stage 1 "stay", at', "nothing", "nothing has been heated"
    ),
    Case(
        "hold after heat off",
        titled(RAMP + OFF + headed(HOLD)),
        'stage 3 "stay", at',
        "nothing",
        "heat was off",
    ),
    Case(
        "hold above where the heat went off",
        titled(RAMP + OFF + HOLD + 'at = "210 C" #!\n'),
        'stage 3 "stay", at',
        '"210 C"',
        "at most 200 C",
    ),
    Case("band zero", titled(RAMP + HOLD + 'band = "0 K" #!\n'), "band", '"0 K"', "more than zero"),
    Case(
        "pour hold without end",
        titled(RAMP + headed(POUR)),
        'stage 2 "pour", at_most',
        "nothing",
        "at_most =",
    ),
    Case(
        "at_most on a timed hold",
        titled(RAMP + HOLD + 'at_most = "4 h" #!\n'),
        "at_most",
        '"4 h"',
        "no at_most here",
    ),
    Case(
        "expect on a timed hold",
        titled(RAMP + HOLD + 'expect = "4 h" #!\n'),
        "expect",
        '"4 h"',
        "no expect here",
    ),
    Case(
        "a pour hold expected beyond its end",
        titled(RAMP + POUR + 'at_most = "1 h"\nexpect = "2 h" #!\n'),
        "expect",
        '"2 h"',
        'no longer than at_most, "1 h"',
    ),
    Case(
        "checkpoint says nothing",
        titled(headed(swap(KEEP, 'says = "Look."\n', ""))),
        "says",
        "nothing",
        "says =",
    ),
    Case(
        "says too long",
        titled(swap(KEEP, "Look.", "x" * 501).replace('xx"', 'xx" #!')),
        "says",
        "501",
        "at most 500",
    ),
    Case("heat missing", titled(headed(swap(KEEP, 'heat = "keep"\n', ""))), "heat", "nothing", "heat ="),
    Case("heat on", titled(swap(KEEP, '"keep"', '"on" #!')), "heat", '"on"', '"off" or "keep"'),
    Case(
        "remind never so often",
        titled(KEEP + 'remind_every = "0 s" #!\n'),
        "remind_every",
        '"0 s"',
        "more than zero",
    ),
    Case(
        "then without after",
        titled(headed(KEEP, 'then = "go on"\n')),
        "after",
        "nothing",
        "there is a `then`",
    ),
    Case(
        "after without then", titled(headed(KEEP, 'after = "1 h"\n')), "then", "nothing", "`after` that time"
    ),
    Case(
        "unknown then",
        titled(KEEP + 'after = "1 h"\nthen = "give up" #!\n'),
        "then",
        '"give up"',
        '"keep waiting"',
    ),
    Case("ticks are text", titled(KEEP + 'tick = "look" #!\n'), "tick", '"look"', "a list of texts"),
    Case(
        "a tick is no text",
        titled(KEEP + 'tick = [\n"Looked",\n7, #!\n]\n'),
        'stage 1 "look", tick',
        "7",
        "text in quotes",
    ),
    Case("a tick is empty", titled(KEEP + 'tick = [\n" ", #!\n]\n'), "tick", '""', "text that can be read"),
    Case(
        "a tick is too long",
        titled(KEEP + 'tick = [\n"a",\n"' + "x" * 81 + '", #!\n]\n'),
        "tick",
        "81 characters",
        "at most 80",
    ),
    Case(
        "a tick twice",
        titled(KEEP + 'tick = [\n"Tray out", "Door shut",\n"Tray  out", #!\n]\n'),
        "tick",
        '"Tray out"',
        "a line that does not stand there already",
    ),
    Case(
        "too many ticks",
        titled(KEEP + f"tick = {[f'{n}' for n in range(13)]} #!\n"),
        "tick",
        "13 lines",
        "at most 12",
    ),
    Case("then not text", titled(KEEP + 'after = "1 h"\nthen = true #!\n'), "then", "true", '"keep waiting"'),
    Case(
        "then without unit",
        titled(RAMP + KEEP + 'after = "1 h"\nthen = "keep waiting at 150" #!\n'),
        "then",
        "unit",
        "temp",
    ),
    Case(
        "a forgotten checkpoint gets hotter",
        titled(RAMP + OFF + 'after = "1 h"\nthen = "keep waiting at 201 C" #!\n'),
        'stage 2 "drain", then',
        '"keep waiting at 201 C"',
        "at most 200 C; a forgotten checkpoint never gets hotter",
    ),
    Case(
        "a forgotten checkpoint heats a cold kiln",
        titled(OFF + 'after = "1 h"\nthen = "keep waiting at 60 C" #!\n'),
        'stage 1 "drain", then',
        '"keep waiting at 60 C"',
        "nothing is hot yet",
    ),
    Case(
        "a checkpoint expected beyond its after",
        titled(KEEP + 'after = "10 min"\nthen = "go on"\nexpect = "11 min" #!\n'),
        "expect",
        '"11 min"',
        'no longer than after, "10 min"',
    ),
    Case(
        "cool first",
        titled(swap(COOL, '"cool"', '"cool" #!')),
        'stage 1 "down", kind',
        '"cool"',
        "heats first",
    ),
    Case("cool up", titled(RAMP + swap(COOL, '"100 C"', '"250 C" #!')), "to", '"250 C"', "less than 200 C"),
    Case(
        "cool nowhere", titled(RAMP + swap(COOL, '"100 C"', '"200 C" #!')), "to", '"200 C"', "less than 200 C"
    ),
    Case("cool for ever", titled(RAMP + swap(COOL, '"100 C"', '"39 C" #!')), "to", '"39 C"', "at least 40 C"),
    Case("cool at full rate", titled(RAMP + COOL + 'rate = "full" #!\n'), "rate", '"full"', "heat off"),
    Case(
        "a ramp back to where a cooling ended",
        titled(RAMP + COOL + swap(swap(RAMP, '"up"', '"on"'), '"200 C"', '"100 C" #!')),
        'stage 3 "on", to',
        '"100 C"',
        "more than 100 C",
    ),
    Case(
        "a ramp to where a hold after heat off stays",
        titled(
            RAMP + OFF + HOLD + 'at = "150 C"\n' + swap(swap(RAMP, '"up"', '"on"'), '"200 C"', '"150 C" #!')
        ),
        'stage 4 "on", to',
        '"150 C"',
        "more than 150 C",
    ),
    Case(
        "a limit with a decimal",
        titled(swap(RAMP, '"200 C"', '"1500 F"') + HOLD + 'at = "820 C" #!\n'),
        'stage 2 "stay", at',
        '"820 C"',
        "815.6 C, where the stage before ended",
    ),
    Case("cool without to", titled(RAMP + headed(swap(COOL, 'to = "100 C"\n', ""))), "to", "nothing", "to ="),
    Case(
        "a ramp at the schedule's ceiling",
        'title = "T"\nceiling = "209 C"\n' + swap(RAMP, '"200 C"', '"200 C" #!'),
        'stage 1 "up", to',
        '"200 C"',
        "at most 199 C, 10 K below the ceiling of 209 C",
    ),
    Case(
        "a ramp at its own ceiling",
        titled(swap(RAMP, '"200 C"', '"200 C" #!') + 'ceiling = "205 C"\n'),
        "to",
        '"200 C"',
        "at most 195 C",
    ),
    Case(
        "a hold at its own ceiling",
        titled(RAMP + headed(HOLD, 'ceiling = "205 C"\n')),
        'stage 2 "stay", at',
        "200 C",
        "at most 195 C",
    ),
    Case(
        "a first hold at the schedule's ceiling",
        'title = "T"\nceiling = "209 C"\n' + HOLD + 'at = "200 C" #!\n',
        'stage 1 "stay", at',
        '"200 C"',
        "at most 199 C",
    ),
    Case(
        "a checkpoint that begins at its ceiling",
        titled(RAMP + KEEP + 'ceiling = "205 C" #!\n'),
        'stage 2 "look", ceiling',
        '"205 C"',
        "at least 210 C",
    ),
    Case(
        "a cooling that begins at its ceiling",
        titled(RAMP + COOL + 'ceiling = "150 C" #!\n'),
        'stage 2 "down", ceiling',
        '"150 C"',
        "at least 210 C",
    ),
    Case(
        "a stage's ceiling above the schedule's",
        'title = "T"\nceiling = "300 C"\n' + RAMP + 'ceiling = "301 C" #!\n',
        'stage 1 "up", ceiling',
        '"301 C"',
        "at most the schedule's ceiling, 300 C",
    ),
]


def problems_of(act: Callable[[], object]) -> tuple[Problem, ...]:
    with pytest.raises(FileProblems) as raised:
        act()
    return raised.value.problems


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_mistake_is_told_once_with_its_line_its_place_and_what_was_expected(case: Case) -> None:
    (problem,) = problems_of(lambda: read_schedule(case.text, "s.toml"))
    lines = case.text.split("\n")
    marked = [number for number, line in enumerate(lines, start=1) if line.endswith(MARK)] or [1]
    assert [problem.line] == marked
    assert problem.file == "s.toml"
    assert case.where in problem.where
    assert case.found in problem.found
    assert case.expected in problem.expected
    assert str(problem).startswith(f"s.toml:{problem.line}: ")
    assert "\n" not in str(problem)


# Just inside each limit: no mistake.
ALLOWED = {
    "cool to where it still ends": titled(RAMP + swap(COOL, "100 C", "40 C")),
    "expected as long as it waits": titled(KEEP + 'after = "10 min"\nthen = "go on"\nexpect = "10 min"\n'),
    "expected to its end": titled(RAMP + POUR + 'at_most = "1 h"\nexpect = "1 h"\n'),
    "waits as hot as it was left": titled(RAMP + OFF + 'after = "1 h"\nthen = "keep waiting at 200 C"\n'),
    "a stage's ceiling as high as the schedule's": 'ceiling = "300 C"\n'
    + titled(RAMP + 'ceiling = "300 C"\n'),
    "begins ten kelvin below its ceiling": titled(RAMP + KEEP + 'ceiling = "210 C"\n'),
    "gypsum at its limit": 'mould = "gypsum-bonded"\nceiling = "730 C"\n'
    + titled(swap(RAMP, "200 C", "720 C")),
    "poured as hot as the hottest stage": 'pour_at = "200 C"\n' + titled(RAMP),
    "a long title": f'title = "{"x" * 100}"\n' + RAMP,
    "a long name": titled(swap(RAMP, "up", "x" * 60)),
}


@pytest.mark.parametrize("text", ALLOWED.values(), ids=ALLOWED)
def test_what_is_just_inside_a_limit_is_allowed(text: str) -> None:
    assert read_schedule(text, "s.toml").stages


def test_all_mistakes_of_a_file_are_told_at_once_in_the_order_of_their_lines() -> None:
    told = [
        case for case in CASES if case.text.startswith('title = "T"\n[[stage]]') and case.where != "stage"
    ]
    bodies = [case.text.removeprefix('title = "T"\n') for case in told if case.text.count("[[stage]]") == 1]
    assert len(bodies) > 20
    problems = problems_of(lambda: read_schedule("ceiling = 3\n" + "".join(bodies), "s.toml"))
    assert len(problems) > len(bodies)
    assert [problem.line for problem in problems] == sorted(problem.line for problem in problems)
    assert {problem.where for problem in problems} >= {"title", "ceiling"}


def test_nothing_is_held_against_a_stage_behind_a_mistake_that_hides_where_the_kiln_is() -> None:
    unread = swap(RAMP, '"200 C"', '"200"')
    for follower in (HOLD, KEEP, COOL, OFF + 'after = "1 h"\nthen = "keep waiting at 150 C"\n'):
        problems = problems_of(lambda text=follower: read_schedule(titled(unread + text), "s.toml"))  # type: ignore[misc]
        assert [problem.where for problem in problems] == ['stage 1 "up", to']


def test_the_walk_goes_on_where_the_kiln_is_known_again() -> None:
    unread = swap(RAMP, '"200 C"', '"200"')
    again = swap(swap(RAMP, '"up"', '"again"'), '"200 C"', '"300 C"')
    problems = problems_of(lambda: read_schedule(titled(unread + again + HOLD + 'at = "310 C"\n'), "s.toml"))
    assert [problem.where for problem in problems] == ['stage 1 "up", to', 'stage 3 "stay", at']


def test_a_wrong_rate_does_not_hide_where_a_ramp_ends() -> None:
    wrong = swap(RAMP, '"60 C/h"', '"60"')
    problems = problems_of(lambda: read_schedule(titled(wrong + HOLD + 'at = "310 C"\n'), "s.toml"))
    assert [problem.where for problem in problems] == ['stage 1 "up", rate', 'stage 2 "stay", at']


def test_a_temperature_that_cannot_be_read_is_not_told_as_missing_too() -> None:
    problems = problems_of(lambda: read_schedule(titled(RAMP + OFF + HOLD + 'at = "150"\n'), "s.toml"))
    assert [problem.where for problem in problems] == ['stage 3 "stay", at']
    half = OFF + 'after = "1"\nthen = "go on"\n' + POUR + 'at = "1 C"\nat_most = "1"\n'
    problems = problems_of(lambda: read_schedule(titled(half), "s.toml"))
    assert [problem.where for problem in problems] == ['stage 1 "drain", after', 'stage 2 "pour", at_most']


def test_a_syntax_error_is_told_like_any_other() -> None:
    (problem,) = problems_of(lambda: read_schedule('title = "T"\n[[stage]\n', "s.toml"))
    assert (problem.file, problem.line) == ("s.toml", 2)


def test_a_text_that_is_no_text_is_told(tmp_path: Path) -> None:
    (problem,) = problems_of(lambda: read_schedule('title = "T"\n# \ud800\n', "s.toml"))
    assert (problem.line, problem.expected) == (2, "text in UTF-8")
    (problem,) = problems_of(lambda: read_schedule("#" * (1 << 20) + "\n", "s.toml"))
    assert problem.expected == "a file of at most 1 MiB"
    path = tmp_path / "s.toml"
    path.write_bytes(b'title = "T"\n\xff\n')
    (problem,) = problems_of(lambda: load_schedule(path))
    assert (problem.file, problem.line) == (str(path), 2)
