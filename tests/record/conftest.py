"""Invented firings, and records of them in real files."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from controller.record.journal import Journal
from controller.record.rows import FiringRow, TickRow

SCHEDULE = """
title = "Two steps"

[[stage]]
kind = "ramp"
name = "dry"
to = "100 C"
rate = "60 C/h"

[[stage]]
kind = "hold"
name = "soak, damp"
at = "100 C"
for = "1 h"
band = "5 C"
"""

FIRING = FiringRow(
    started_utc_s=2_000_000_000.0,
    started_mono_s=500.0,
    title="Two steps",
    schedule_text=SCHEDULE,
    schedule_name="two_steps.toml",
    kiln_name="Test kiln",
    kiln_text='name = "Test kiln"',
    software_version="0.0",
    speed=1.0,
    simulated=True,
)


def a_tick(n: int, **other: object) -> TickRow:
    """Return the n-th one-second tick of an uneventful firing."""
    row = TickRow(
        n=n,
        mono_s=500.0 + n,
        utc_s=2_000_000_000.0 + n,
        state="running",
        stage=0,
        setpoint_c=20.0 + n / 60,
        air_c=19.5 + n / 60,
        load_c=None,
        limit_c=19.75 + n / 60,
        faults="load=open",
        contacts="door=1 emergency_stop=1",
        duty=0.25,
        heat_on=n % 4 == 0,
        lease_s=3.0,
        main_on=True,
        reasons="",
        late=False,
    )
    return row._replace(**other)  # type: ignore[arg-type]


@pytest.fixture
def tick_row() -> Callable[..., TickRow]:
    return a_tick


@pytest.fixture
def firing_row() -> FiringRow:
    return FIRING


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "home" / "record.db"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    with Journal(path, flush_every_s=0.01) as started:
        yield started


@pytest.fixture
def kept(path: Path) -> Path:
    """A record with one whole firing of ten ticks."""
    with Journal(path, flush_every_s=0.01) as journal:
        firing = journal.open_firing(FIRING)
        for n in range(10):
            journal.tick(firing, a_tick(n, stage=0 if n < 5 else 1))
        journal.event(firing, "stage_begins", {"stage": "dry"}, "info", utc_s=2_000_000_003.5, mono_s=503.5)
        journal.event(None, "controller_starts", {}, "info", utc_s=1.0, mono_s=1.0)
        journal.request(
            firing,
            "page",
            "hold",
            {"presence": "4711", "why": "a look"},
            accepted=True,
            says="held",
            utc_s=2_000_000_004.0,
            mono_s=504.0,
        )
        journal.note(firing, "bench", "two hairline cracks", 2_000_000_006.0)
        journal.close_firing(firing, "complete", 2_000_000_010.0, 510.0)
    return path
