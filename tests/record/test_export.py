"""An exported firing is plain CSV with its units."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from controller.errors import RecordError
from controller.record.export import HEADER, export
from controller.record.journal import Journal
from controller.record.queries import Record
from controller.record.rows import FiringRow, TickRow


def exported(path: Path) -> str:
    out = io.StringIO(newline="")
    export(Record(path), 1, out)
    return out.getvalue()


def test_every_tick_is_a_row_that_reads_back(kept: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(exported(kept), newline="")))
    assert len(rows) == 10
    row = rows[6]
    assert row["tick"] == "6"
    assert row["time (UTC)"] == "2033-05-18T03:33:26.000Z"
    assert float(row["elapsed (s)"]) == 6.0
    assert float(row["air (C)"]) == pytest.approx(19.6)
    assert (row["load (C)"], row["reader faults"]) == ("", "load=open")
    assert (row["heat (1 = on)"], row["main contactor (1 = closed)"], row["late (1 = yes)"]) == (
        "0",
        "1",
        "0",
    )


def test_a_name_with_a_comma_survives(kept: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(exported(kept), newline="")))
    assert (rows[0]["stage"], rows[0]["stage name"]) == ("1", "dry")
    assert (rows[9]["stage"], rows[9]["stage name"]) == ("2", "soak, damp")


def test_lines_end_as_the_standard_says(kept: Path) -> None:
    """RFC 4180, section 2: each record on its own line, ended by CRLF; fields with commas in quotes."""
    text = exported(kept)
    assert text.count("\r\n") == text.count("\n") == 11
    assert '"soak, damp"' in text


def test_every_number_wears_its_unit() -> None:
    bare = {"tick", "state", "stage", "stage name", "reader faults", "guard"}  # counts and words
    for name in HEADER:
        assert (name in bare) != bool(re.search(r" \(.+\)$", name)), name


def test_an_unreadable_schedule_costs_only_the_names(
    path: Path, firing_row: FiringRow, tick_row: Callable[..., TickRow]
) -> None:
    with Journal(path) as journal:
        firing = journal.open_firing(firing_row._replace(schedule_text="= what?"))
        journal.tick(firing, tick_row(0))
        journal.tick(firing, tick_row(1, stage=None, main_on=None))
    rows = list(csv.DictReader(io.StringIO(exported(path), newline="")))
    assert [(row["stage"], row["stage name"]) for row in rows] == [("1", ""), ("", "")]
    assert rows[1]["main contactor (1 = closed)"] == ""


def test_no_such_firing_writes_nothing(kept: Path) -> None:
    out = io.StringIO()
    with pytest.raises(RecordError):
        export(Record(kept), 5, out)
    assert out.getvalue() == ""
