"""A TOML file knows the line of each of its keys, and says where it is not TOML."""

from __future__ import annotations

import time
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.errors import StokeholdError, UsageError
from controller.schedule.located import LARGEST_BYTES, FileProblems, Problem, load_toml, read_toml

EVERYTHING = '''# a comment [with] = brackets
title = "a # b"
"quoted k.y" = 'lit"eral'
a.b . "c" = [1, # one ]
  "]", [ {x = 1, "y z" = "}"},
    2 ] ,
]
m = """
multi = 3
[[stage]]
a\\""""""
n = \'\'\'
x = 1\'\'\'\'\'
when = 1979-05-27 07:32:00
empty = ""
[t.u]
k = { p.q = 1, "r s" = [ 1,2] }
[[stage]]
kind = "ramp"
[stage.sub]
z = 1
[[stage.inner]]
i = 1
[[stage]]
kind = "hold"
[[stage.inner]]
[[stage.inner]]
j = 1
[later] # x
e = true'''

LINES: list[tuple[tuple[str | int, ...], int]] = [
    (("title",), 2),
    (("quoted k.y",), 3),
    (("a",), 4),
    (("a", "b", "c"), 4),
    (("a", "b", "c", 0), 4),
    (("a", "b", "c", 1), 5),
    (("a", "b", "c", 2, 0, "y z"), 5),
    (("a", "b", "c", 2, 1), 6),
    (("m",), 8),
    (("n",), 12),
    (("when",), 14),
    (("empty",), 15),
    (("t",), 16),
    (("t", "u", "k", "p", "q"), 17),
    (("t", "u", "k", "r s", 1), 17),
    (("stage",), 18),
    (("stage", 0), 18),
    (("stage", 0, "kind"), 19),
    (("stage", 0, "sub", "z"), 21),
    (("stage", 0, "inner", 0, "i"), 23),
    (("stage", 1), 24),
    (("stage", 1, "kind"), 25),
    (("stage", 1, "inner", 0), 26),
    (("stage", 1, "inner", 1, "j"), 28),
    (("later", "e"), 30),
]


@pytest.mark.parametrize(("path", "line"), LINES, ids=str)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_every_key_has_its_line(path: tuple[str | int, ...], line: int, newline: str) -> None:
    assert read_toml(EVERYTHING.replace("\n", newline), "f.toml").line(*path) == line


def test_what_is_not_there_has_its_nearest_parents_line() -> None:
    located = read_toml(EVERYTHING, "f.toml")
    assert located.line("stage", 1, "rate") == 24
    assert located.line("stage", 7, "rate") == 18
    assert located.line("t", "u", "nothing", 3) == 16
    assert located.line("nothing") == 1
    assert located.line() == 1


def test_the_values_are_tomllibs() -> None:
    assert read_toml(EVERYTHING, "f.toml").data == tomllib.loads(EVERYTHING)
    assert read_toml("", "f.toml").data == {}


def walk(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """Every path of a TOML value: all tables, array items and leaves."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(deeper for key, item in items for deeper in walk(item, (*path, key)))]


# Values as text, with the lines that they take; quotes, brackets and comments that could mislead.
VALUES = st.sampled_from(
    [
        "1",
        '"]"',
        "'''\n[[stage]]\n'''",
        '"""\nk = 1 \\""""',
        '[1,\n # ]\n "a,b" ]',
        '{ x = [ 1, 2 ], "y=" = "}" }',
        "[\n]",
        "[ {}, [ [ ], ], ]",
        "-inf",
        "07:32:00",
    ]
)
KEYS = st.sampled_from(["a", "b-1", '"c d"', "'e.f'", "3", '"\\u00e9"'])
BLANKS = st.sampled_from(["", '# [x] = "\n', "\n\n", "  \t"])


@given(
    st.lists(st.tuples(st.booleans(), st.dictionaries(KEYS, VALUES, max_size=4), BLANKS), max_size=5), BLANKS
)
def test_any_file_has_a_line_for_each_of_its_keys(tables: list[Any], head: str) -> None:
    """A file is written table by table; each key's line is counted while it is written."""
    text, expected = head, {}
    stages = 0
    for index, (array, keys, blank) in enumerate(tables):
        text += ("\n" if text and not text.endswith("\n") else "") + (
            f"[[stage]]{blank}" if array else f"[t{index}]\n{blank}"
        )
        text += "\n"
        table: tuple[str | int, ...] = ("stage", stages) if array else (f"t{index}",)
        stages += array
        for key, value in keys.items():
            expected[(*table, next(iter(tomllib.loads(f"{key} = 1"))))] = text.count("\n") + 1
            text += f"{key} = {value} # end\n"
    located = read_toml(text, "f.toml")
    assert {path: located.line(*path) for path in expected} == expected
    assert set(walk(located.data)[1:]) == set(located.positions)


@pytest.mark.parametrize(
    ("text", "line", "found"),
    [
        ("a = 1\nb 2\n", 2, "b 2"),
        ("a = 1\n\na = 2\n", 3, "a = 2"),
        ('a = 1\nb = "x\n', 2, 'b = "x'),
        ("a = 1\nb = [1,\n2\n\n", 3, "2"),
        ("[a]\n[a]\n", 2, "[a]"),
        ("a = 1\nb = 2024-13-45\n", 2, "b = 2024-13-45"),
        ("a = 1\nb = 815 C\n", 2, "b = 815 C"),
        ("a = " + "9" * 5000, 1, "a = 9999"),
        ("\x00", 1, "\ufffd"),
    ],
)
def test_a_syntax_error_names_its_line(text: str, line: int, found: str) -> None:
    with pytest.raises(FileProblems) as raised:
        read_toml(text, "f.toml")
    (problem,) = raised.value.problems
    assert (problem.file, problem.line) == ("f.toml", line)
    assert problem.found.startswith(found)
    assert "TOML" in problem.expected
    assert "\n" not in str(problem)


def test_brackets_beyond_reason_are_a_problem_and_no_crash() -> None:
    with pytest.raises(FileProblems, match="nested too deep"):
        read_toml("a = " + "[" * 100_000, "f.toml")


def test_a_problem_is_one_line_and_all_are_told_in_the_order_of_their_lines() -> None:
    late = Problem("f.toml", 9, "stage 2", "x", "y")
    early = Problem("f.toml", 3, "title", "a", "b")
    problems = FileProblems([late, early])
    assert problems.problems == (early, late)
    assert str(problems) == "f.toml:3: title: found a, expected b\nf.toml:9: stage 2: found x, expected y"
    assert isinstance(problems, StokeholdError)


def test_a_file_is_loaded_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "f.toml"
    path.write_bytes(b"\xef\xbb\xbftitle = 1\n")
    located = load_toml(path)
    assert located.data == {"title": 1}
    assert located.file == str(path)
    assert located.text == "title = 1\n"


def test_a_file_that_is_not_utf_8_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "f.toml"
    path.write_bytes(b"a = 1\nb = '\xff'\n")
    with pytest.raises(FileProblems) as raised:
        load_toml(path)
    (problem,) = raised.value.problems
    assert (problem.line, problem.found, problem.expected) == (2, "the byte 0xff", "text in UTF-8")


def test_a_file_may_be_one_mebibyte_and_no_more(tmp_path: Path) -> None:
    path = tmp_path / "f.toml"
    path.write_bytes(b"#" * LARGEST_BYTES)
    assert load_toml(path).data == {}
    path.write_bytes(b"#" * (LARGEST_BYTES + 1))
    with pytest.raises(FileProblems, match="1 MiB"):
        load_toml(path)


def test_a_file_that_cannot_be_read_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"nothing\.toml: cannot be read"):
        load_toml(tmp_path / "nothing.toml")
    with pytest.raises(UsageError, match="cannot be read"):
        load_toml(tmp_path)


@pytest.mark.parametrize(
    "line",
    [
        "a" + 40 * ".a" + " = 1",
        "a" + 40 * " . a" + " = 1",
        "a" + 40 * r'."\".\""' + " = 1",
        "a" + 40 * ".'.'" + " = 1",
        "[" + 40 * "a." + "a]",
        "x = { " + 40 * "a." + "a = 1 }",
    ],
)
def test_a_key_that_would_take_all_memory_is_refused_before_it_is_read(line: str) -> None:
    """58 kB of such a key take tomllib 3 GB and half a minute; any paired device can send it."""
    with pytest.raises(FileProblems, match=r"^x:2: file: found a key nested too deep, expected TOML$"):
        read_toml(f"title = 'one'\n{line}\n", "x")


def test_a_key_of_some_parts_and_a_text_of_many_dots_are_read() -> None:
    text = "a" + 30 * ".a" + " = 1 # " + 99 * "." + "\nb = '" + 99 * "And on ... " + "'\n"
    assert read_toml(text, "x").line("b") == 2


@pytest.mark.parametrize("part", ["a", '\\"', "'", '"', " ", ".", '"\\\n'])
def test_the_search_for_one_takes_no_time_to_speak_of(part: str) -> None:
    began_s = time.process_time()
    with pytest.raises(FileProblems):
        read_toml(60_000 // len(part) * part + "\x00", "x")
    assert time.process_time() - began_s < 2.0
