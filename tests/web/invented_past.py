"""A record of invented firings, written by the journal itself. Nothing in it was measured anywhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from controller.record.journal import Journal
from controller.record.rows import FiringRow, TickRow

SCHEDULE = """title = "Printed PLA in nine-coat silica shell"
pour_at = "815 C"

[[stage]]
kind = "ramp"
name = "dry"
to = "95 C"
rate = "60 C/h"

[[stage]]
kind = "hold"
name = "dry through"
at = "95 C"
for = "1 h"

[[stage]]
kind = "ramp"
name = "burn out"
to = "815 C"
rate = "180 C/h"

[[stage]]
kind = "hold"
name = "fire"
at = "815 C"
for = "2 h"
"""
# The same with a stop: what is ticked at it is the schedule's own.
WITH_A_STOP = SCHEDULE.replace(
    '[[stage]]\nkind = "ramp"\nname = "burn out"',
    """[[stage]]
kind = "checkpoint"
name = "look and drain"
says = "Heat is off. Look for cracks, drain the plastic."
heat = "off"
tick = ["Tray taken out", "Cracks patched", "Door shut"]

[[stage]]
kind = "ramp"
name = "burn out\"""",
)
KILN = 'name = "Shed kiln"\n[heater]\npower = "6.5 kW"\n'
NASTY = "<img src=x onerror=\"document.title='owned'\"><b>x</b>"
BEGAN_UTC_S = 1_930_000_000.0  # 27 February 2031
TICK_S = 60.0
SPIKE_N = 333  # one tick that stands out: thinning must keep it


def planned_c(t_s: float, hot_c: float) -> tuple[int, float]:
    """Return the stage and the setpoint at a time: dry, dry through, burn out, fire."""
    dried_s, soaked_s = 4500.0, 8100.0
    if t_s < dried_s:
        return 0, 20.0 + 75.0 * t_s / dried_s
    if t_s < soaked_s:
        return 1, 95.0
    climbing_c = 95.0 + (hot_c - 600.0) * (t_s - soaked_s) / 3600.0
    return (2, climbing_c) if climbing_c < hot_c else (3, hot_c)


def tick(n: int, number: int, hot_c: float) -> TickRow:
    """Return one tick of a firing that was a little slow."""
    t_s = n * TICK_S
    stage, setpoint_c = planned_c(t_s, hot_c)
    lag_c = planned_c(max(0.0, t_s - 900.0), hot_c)[1]
    air_c = planned_c(max(0.0, t_s - 120.0), hot_c)[1] + 0.8 * ((n * 7) % 5 - 2)
    return TickRow(
        n=n,
        mono_s=5000.0 + t_s,
        utc_s=BEGAN_UTC_S + number * 86400.0 + t_s,
        state="running",
        stage=stage,
        setpoint_c=setpoint_c,
        air_c=air_c + (40.0 if n == SPIKE_N else 0.0),
        load_c=None if 100 <= n < 110 else lag_c,
        limit_c=air_c + 2.0,
        faults="",
        contacts="door=1",
        duty=0.4,
        heat_on=n % 3 == 0,
        lease_s=3.0,
        main_on=True,
        reasons="",
        late=False,
    )


def write(
    path: Path,
    firings: int = 3,
    ticks: int = 540,
    title: Callable[[int], str] = lambda number: "Printed PLA in nine-coat silica shell",
    last_open: bool = False,
    schedule: str = SCHEDULE,
) -> None:
    """Write a record of so many firings, every third aborted. `last_open`: the last one goes on."""
    with Journal(path, flush_every_s=0.01) as journal:
        for number in range(1, firings + 1):
            _write_one(journal, number, ticks, title(number), last_open and number == firings, schedule)


def _write_one(journal: Journal, number: int, ticks: int, title: str, goes_on: bool, schedule: str) -> None:
    began_s = BEGAN_UTC_S + number * 86400.0
    begin = FiringRow(
        began_s, 5000.0, title, schedule, "printed-pla.toml", "Shed kiln", KILN, "0.1.0", 1.0, False
    )
    firing = journal.open_firing(begin)
    hot_c = 815.0 - 30.0 * (number % 4)
    aborted = number % 3 == 2
    for n in range(ticks if not aborted else ticks * 2 // 3):
        journal.tick(firing, tick(n, number, hot_c))
    end_s = (ticks if not aborted else ticks * 2 // 3) * TICK_S

    def event(event_kind: str, severity: str, t_s: float, **fields: object) -> None:
        journal.event(firing, event_kind, fields, severity, began_s + t_s, 5000.0 + t_s)

    event("stage_began", "info", 0.0, stage="dry", kind="ramp", index=0)
    event("state_changed", "info", 0.0, was="idle", now="running", cue="start")
    event("checkpoint_reached", "person", 8100.0, stage="dry through", says="Look for cracks.")
    if aborted:
        event("trip", "alarm", end_s - 60.0, row="ceiling", says=NASTY, found="1153 C", first_out=True)
    else:
        event("pour_ready", "person", min(end_s, 24000.0), stage="fire", at_c=hot_c)
    if number % 2:
        journal.note(firing, "page", "Two hairline cracks at the pour cup, patched.", began_s + 9000.0)
    if not goes_on:
        journal.close_firing(firing, "aborted" if aborted else "complete", began_s + end_s, 5000.0 + end_s)
