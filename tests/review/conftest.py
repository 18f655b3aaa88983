"""Invented firings to review: a made-up kiln follows a made-up schedule."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from controller.record.journal import Journal
from controller.record.rows import FiringRow, TickRow
from controller.schedule.model import Schedule
from controller.schedule.plan import plan
from controller.schedule.reader import read_schedule

SCHEDULE = """
title = "Small bowl, two coats $5 and 3 % more"

[[stage]]
kind = "ramp"
name = "dry"
to = "95 C"
rate = "75 C/h"

[[stage]]
kind = "hold"
name = "dry through"
at = "95 C"
for = "45 min"
band = "5 K"

[[stage]]
kind = "ramp"
name = "melt"
to = "200 C"
rate = "105 C/h"

[[stage]]
kind = "checkpoint"
name = "look and drain"
says = "Heat is off. Look for cracks."
heat = "off"
expect = "20 min"

[[stage]]
kind = "ramp"
name = "burn out and fire"
to = "800 C"
rate = "300 C/h"

[[stage]]
kind = "hold"
name = "sinter"
at = "800 C"
for = "1 h"
band = "8 K"

[[stage]]
kind = "cool"
name = "end"
to = "700 C"
"""

KILN = """
name = "Bench kiln"
full_rate = "400 C/h"
[heater]
power = "6 kW"
"""

UTC_S = 1_950_000_000.0


def follow(schedule: Schedule, every_s: float, seed: int = 7) -> Iterator[TickRow]:
    """Give the ticks of a kiln that follows the plan, with a load that lags and a noisy air."""
    rng = random.Random(seed)
    planned = plan(schedule, 21.0, 400.0)
    air = load = limit = 21.0
    spans = iter(planned.spans)
    span = next(spans)
    for n in range(int(planned.total_s / every_s)):
        t_s = n * every_s
        while t_s >= span.end_s:
            span = next(spans)
        off = span.kind in {"checkpoint", "cool"}
        want = planned.at_c(t_s)
        air += (want - air) * every_s / 60 + rng.gauss(0, 0.15)
        load += (air - load) * every_s / 600
        limit += (air + 1.5 - limit) * every_s / 90
        duty = 0.0 if off else min(1.0, max(0.0, (air - 15) / 1100 + (want - air) / 30))
        yield TickRow(
            n=n,
            mono_s=100.0 + t_s,
            utc_s=UTC_S + t_s,
            state="running",
            stage=span.index,
            setpoint_c=None if off else want,
            air_c=air,
            load_c=load,
            limit_c=limit,
            faults="",
            contacts="door=1",
            duty=duty,
            heat_on=rng.random() < duty,
            lease_s=3.0,
            main_on=True,
            reasons="",
            late=False,
        )


Fire = Callable[..., Path]


@pytest.fixture
def fire(tmp_path: Path) -> Fire:
    """Return a function that makes a record with one firing and returns its path."""

    def make(
        text: str = SCHEDULE,
        *,
        every_s: float = 20.0,
        change: Callable[[TickRow], TickRow] = lambda row: row,
        end_state: str | None = "complete",
        trip: bool = False,
        **other: object,
    ) -> Path:
        schedule = read_schedule(text, "small_bowl.toml")
        start = FiringRow(
            started_utc_s=UTC_S,
            started_mono_s=100.0,
            title=schedule.title,
            schedule_text=text,
            schedule_name="small_bowl.toml",
            kiln_name="Bench kiln",
            kiln_text=KILN,
            software_version="0.1.0",
            speed=1.0,
            simulated=True,
        )._replace(**other)  # type: ignore[arg-type]
        path = tmp_path / "record.db"
        with Journal(path, flush_every_s=0.01) as journal:
            firing = journal.open_firing(start)
            for row in follow(schedule, every_s):
                journal.tick(firing, change(row))
            _events(journal, firing, schedule, trip)
            if end_state is not None:
                journal.close_firing(firing, end_state, UTC_S + 30_000)
        return path

    return make


def _events(journal: Journal, firing: int, schedule: Schedule, trip: bool) -> None:
    def event(t_s: float, kind: str, severity: str, /, **fields: object) -> None:
        journal.event(firing, kind, fields, severity, utc_s=UTC_S + t_s, mono_s=100.0 + t_s)

    event(0, "state_changed", "info", was="idle", now="running", cue="start")
    for span in plan(schedule, 21.0, 400.0).spans:
        event(span.start_s, "stage_began", "info", stage=span.name, kind=span.kind, index=span.index)
        if span.kind == "checkpoint":
            event(span.start_s, "checkpoint_reached", "person", stage=span.name, says="Look for cracks.")
            event(span.end_s, "released", "info", stage=span.name)
    event(9000, "alarm_warning", "warning", row="door", says="The door is open", found="door", reaction="cut")
    event(9060, "alarm_cleared", "info", row="door", says="The door is open")
    journal.note(firing, "bench", "two hairline cracks, patched", UTC_S + 12_000)
    if trip:
        event(
            20_000,
            "trip",
            "alarm",
            row="rises_unheated",
            says="The air rises with the heat off",
            found="air up 15.2 K with the heat off",
            first_out=True,
        )
