"""What is estimated, for the page: the forecast that is asked for, and the live estimate of a firing."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import time
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
from fastapi import FastAPI

from controller.live import Frame
from controller.record.jobs import write_job
from controller.record.journal import Journal
from controller.record.observing import write_observation
from controller.record.rows import FiringRow, TickRow
from controller.review.kiln_text import heater_power_w
from controller.schedule.plan import plan
from controller.schedule.reader import read_schedule
from tests.web import invented
from web.app import build_app
from web.estimates import live
from web.estimates.kiln import SIMULATED, kiln_here
from web.estimates.renewal import Renewal
from web.estimates.worker import BusyError, here
from web.hub import Hub

OWN = {"Origin": "http://localhost"}
NOW_S = 2_000_000_000.0

SCHEDULE = """
title = "A short one"
mould = "silica shell"

[[stage]]
kind = "ramp"
name = "up"
to = "400 C"
rate = "200 C/h"

[[stage]]
kind = "checkpoint"
name = "look"
says = "Heat is off. Look for cracks."
heat = "off"
expect = "10 min"
after = "30 min"
then = "keep waiting at 150 C"

[[stage]]
kind = "ramp"
name = "fire"
to = "500 C"
rate = "200 C/h"

[[stage]]
kind = "hold"
name = "keep for the pour"
at = "500 C"
for = "until released"
band = "15 C"
expect = "10 min"
at_most = "8 h"
"""
DRY = '[shell]\ndry = "1 kg"\nwet = "1.01 kg"\nthickness = "8 mm"\n[pattern]\nmass = "200 g"\nfill = "30 %"\n'


async def here_again(name: str, *args: object) -> dict[str, Any]:
    """A worker that is this process."""
    return here(name, *args)


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    """An application without controller, record and worker process."""
    return build_app(tmp_path / "nobody.sock", tmp_path / "record.db", run=here_again)


def ask(app: FastAPI, **body: Any) -> httpx.Response:
    async def story() -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            return await client.post("/api/forecast", json={"schedule": SCHEDULE} | body, headers=OWN)

    return asyncio.run(story())


def test_a_forecast_has_the_hours_the_people_the_energy_and_the_lines(app: FastAPI) -> None:
    answer = ask(app, job=DRY, start_utc_s=NOW_S, price_per_kwh=0.5)
    told = answer.json()
    assert (answer.status_code, told["ok"], told["title"]) == (200, True, "A short one")
    assert [row["name"] for row in told["rows"]] == ["up", "look", "fire", "keep for the pour"]
    assert [row["person"] for row in told["rows"]] == [False, True, False, True]
    look = told["rows"][1]
    assert look["says"] == "Heat is off. Look for cracks."
    assert look["if_nobody_comes"] == "If nobody comes within 30 min it keeps waiting at 150 C."
    assert look["begins_s"]["low"] < look["begins_s"]["typical"] < look["begins_s"]["high"]
    assert look["begins_utc_s"] == NOW_S + look["begins_s"]["typical"]
    ready = told["ready_s"]
    assert 2.0 < ready["typical"] / 3600.0 < 6.0
    assert told["pour_utc_s"] == told["ready_utc_s"]["typical"] == NOW_S + ready["typical"]
    assert told["furnace"]["lights_utc_s"]["typical"] < told["pour_utc_s"]
    assert told["cost"]["typical"] == pytest.approx(0.5 * told["energy_kwh"]["typical"], abs=0.03)
    assert {finding["severity"] for finding in told["findings"]} <= {"stop", "warn", "note"}
    assert all(finding["says"] and finding["remedy"] for finding in told["findings"])
    air, band = told["curves"]["air"], told["curves"]["band"]
    assert air[0] == [0.0, 20.0]
    assert air[-1][0] == pytest.approx(told["end_s"]["typical"], abs=31.0)
    assert all(b[1] <= a[1] <= b[2] for a, b in zip(air, band, strict=True))
    assert [t for t, _ in told["curves"]["core"]] == [t for t, _ in air]
    assert len(air) <= 242


def test_with_a_pour_it_works_back_to_a_start_that_is_early_enough(app: FastAPI) -> None:
    told = ask(app, job=DRY, pour_at_utc_s=time.time() + 86400.0).json()
    assert told["start_utc_s"] + told["ready_s"]["high"] == pytest.approx(told["pour_utc_s"], abs=1.0)
    assert told["late"] is False
    assert "early enough" in told["says"]
    late = ask(app, job=DRY, pour_at_utc_s=time.time() + 600.0).json()
    assert late["late"] is True
    assert "it should have started" in late["says"]


def test_without_a_job_sheet_it_says_so_and_the_band_is_wider(app: FastAPI) -> None:
    none, told = ask(app, job=None).json(), ask(app, job=DRY).json()
    assert none["job"] == {"says": "no job sheet: defaults", "told": ["mould"]}
    assert "dry_kg" in told["job"]["told"]
    assert none["ready_s"]["high"] - none["ready_s"]["low"] > told["ready_s"]["high"] - told["ready_s"]["low"]
    assert none["cost"] is None


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({"schedule": "no-such"}, 'schedule: found "no-such"'),
        ({"schedule": "../wax"}, "body.schedule: "),
        ({"schedule": "title = 1\n", "job": "[shell]\ncoats = 0\n"}, "job sheet:2: shell, coats: "),
        ({"start_utc_s": 1.0, "pour_at_utc_s": 2.0}, "expected one of them"),
        ({"start_utc_s": -1.0}, "body.start_utc_s: "),
        ({"job": "#" * 20_001}, "body.job: "),
        ({"colour": "red"}, "body.colour: "),
    ],
)
def test_what_cannot_be_answered_is_told_with_all_that_is_wrong(
    app: FastAPI, body: dict[str, Any], says: str
) -> None:
    answer = ask(app, **body)
    assert (answer.status_code, answer.json()["ok"]) == (422, False)
    assert says in answer.json()["says"]
    if "job" in body and "schedule" in body:
        assert answer.json()["says"].startswith("schedule:1: ")


def test_the_kiln_is_the_one_named_else_the_last_one_fired_else_the_simulated(tmp_path: Path) -> None:
    record = tmp_path / "record.db"
    assert kiln_here(None, record).says.startswith("simulated kiln: no kiln's file was named")
    other = SIMULATED.read_text(encoding="utf-8").replace('name = "simulated kiln"', 'name = "shed kiln"')
    with Journal(record, flush_every_s=0.01) as journal:
        journal.open_firing(FIRING._replace(kiln_text=other))
    assert kiln_here(None, record).says == "shed kiln, as it was when it was last fired"
    assert kiln_here(str(SIMULATED), record).says == "simulated kiln"


def test_the_pages_own_process_loads_no_model() -> None:
    code = (
        "import sys, web.app; print(*sorted(m for m in sys.modules if m.startswith('controller.forecast')))"
    )
    found = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout
    assert "controller.forecast.job_file" in found
    assert "controller.forecast.forecast" not in found
    assert "controller.forecast.ensemble" not in found


# The live estimate.

FIRING = FiringRow(
    started_utc_s=NOW_S,
    started_mono_s=500.0,
    title="A short one",
    schedule_text=SCHEDULE,
    schedule_name="short.toml",
    kiln_name="simulated kiln",
    kiln_text=SIMULATED.read_text(encoding="utf-8"),
    software_version="0.0",
    speed=1.0,
    simulated=True,
)
LASTS_S = 5400.0


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One and a half hours of a firing that goes on: the air as planned, the load a little behind."""
    path = tmp_path_factory.mktemp("estimates") / "record.db"
    planned = plan(read_schedule(SCHEDULE, "short.toml"), 20.0, 300.0)
    with Journal(path, flush_every_s=0.01) as journal:
        firing = journal.open_firing(FIRING)
        for n in range(int(LASTS_S / 30.0) + 1):
            journal.tick(firing, a_tick(n, planned.at_c(30.0 * n), planned.at_c(max(0.0, 30.0 * n - 300.0))))
    return path


def a_tick(n: int, air_c: float, load_c: float) -> TickRow:
    return TickRow(
        n=n,
        mono_s=500.0 + 30.0 * n,
        utc_s=NOW_S + 30.0 * n,
        state="running",
        stage=0,
        setpoint_c=air_c,
        air_c=air_c,
        load_c=load_c,
        limit_c=air_c,
        faults="",
        contacts="",
        duty=0.5,
        heat_on=True,
        lease_s=3.0,
        main_on=True,
        reasons="",
        late=False,
    )


def frame(**changes: Any) -> Frame:
    now: dict[str, Any] = {
        "firing": 1,
        "mono_s": 500.0 + LASTS_S,
        "utc": "2033-05-18T05:03:20Z",
        "elapsed_s": LASTS_S,
        "setpoint_c": 320.0,
        "stage": {"index": 0, "elapsed_s": LASTS_S, "name": "up", "kind": "ramp", "count": 4},
    }
    return invented.changed(**(now | changes))


def test_a_firing_is_estimated_from_its_ticks_and_its_newest_job_sheet(record: Path) -> None:
    bare = live.estimate(str(record), frame())
    assert bare["job"]["says"] == "no job sheet: defaults"
    write_job(record, 1, "page", DRY, NOW_S)
    told = live.estimate(str(record), frame())
    assert (told["ok"], told["firing"], told["mono_s"]) == (True, 1, 500.0 + LASTS_S)
    assert told["job"]["says"] == "200 g, 8 mm, 1 kg dry, 1.01 kg wet"
    shell = told["shell"]
    assert shell["face_c"]["typical"] == pytest.approx(303.3, abs=3.0)  # the load, 300 s behind at 200 C/h
    assert shell["core_c"]["low"] < shell["core_c"]["typical"] < shell["face_c"]["typical"]
    assert shell["water_kg"]["typical"] == 0.0
    assert 0.0 < shell["plastic_kg"]["typical"] < 0.2
    assert 0.0 <= shell["strength_part"]["typical"] < 0.05
    assert told["ready_s"]["low"] < told["ready_s"]["typical"] < told["ready_s"]["high"]
    assert shell["plastic_kg"]["high"] < 0.5 * bare["shell"]["plastic_kg"]["high"]
    assert told["rows"][0]["begins_s"]["typical"] == 0.0
    assert told["rows"][1]["begins_utc_s"] == told["utc_s"] + told["rows"][1]["begins_s"]["typical"]
    assert told["curves"]["air"][0][1] == pytest.approx(320.0, abs=3.0)
    assert told["curves"]["core"][0][1] == pytest.approx(shell["core_c"]["typical"], abs=1.0)
    power_w = heater_power_w(FIRING.kiln_text)
    assert power_w is not None
    assert told["used_kwh"] == pytest.approx(power_w * LASTS_S / 3.6e6, abs=0.01)  # heat was on all along
    assert told["energy_kwh"]["typical"] > 0.0
    past = told["curves"]["core_past"]
    assert past[0][0] == -LASTS_S
    assert past[-1] == [0.0, shell["core_c"]["typical"]]
    write_observation(record, 1, "page", "drained", {"kg": 0.19}, NOW_S + LASTS_S - 600.0, 1)
    weighed = live.estimate(str(record), frame())
    assert weighed["job"]["says"].endswith("1.01 kg wet; 190 g drained, weighed")
    assert weighed["shell"]["plastic_kg"]["high"] < 0.5 * shell["plastic_kg"]["high"]
    write_job(record, 1, "page", "[of]\nanother = 'version'\n", NOW_S + 1.0)
    assert "this version cannot read it: defaults;" in live.estimate(str(record), frame())["job"]["says"]


def test_ticks_are_read_once(record: Path, tmp_path: Path) -> None:
    copy = tmp_path / "record.db"
    with Journal(copy, flush_every_s=0.01) as journal:
        firing = journal.open_firing(FIRING)
        for n in range(3):
            journal.tick(firing, a_tick(n, 20.0, 20.0))
    read = live._read(copy, firing)
    assert (read.last_n, read.columns.shape) == (2, (4, 3))
    with Journal(copy, flush_every_s=0.01) as journal:
        journal.tick(firing, a_tick(3, 25.0, 24.0))
    again = live._read(copy, firing)
    assert again is read
    assert again.columns.shape == (4, 4)
    assert again.columns[:3, -1].tolist() == [90.0, 25.0, 24.0]
    assert live._read(record, 1) is not read


def test_without_a_firing_or_ticks_there_is_no_estimate_and_it_is_told_why(tmp_path: Path) -> None:
    nothing = live.estimate(str(tmp_path / "none.db"), frame(firing=None, stage=None))
    assert nothing == {"ok": False, "firing": None, "says": "nothing is fired"}
    lost = live.estimate(str(tmp_path / "none.db"), frame())
    assert "found no such file" in lost["says"]


class CountingRun:
    """A worker that counts, and answers as told."""

    def __init__(self) -> None:
        self.calls = 0
        self.fails: Exception | None = None

    async def __call__(self, name: str, *args: object) -> dict[str, Any]:
        self.calls += 1
        await asyncio.sleep(0)
        if self.fails is not None:
            raise self.fails
        return {"ok": True, "says": "", "firing": cast(Frame, args[1])["firing"], "number": self.calls}


def renewal(tmp_path: Path, at: list[float]) -> tuple[Renewal, Hub, CountingRun]:
    run, hub = CountingRun(), Hub(tmp_path / "nobody.sock")
    return Renewal(hub, "record.db", run, lambda: at[0]), hub, run


def test_forty_phones_cost_one_computation_and_an_old_one_is_renewed(tmp_path: Path) -> None:
    at = [100.0]
    kept, hub, run = renewal(tmp_path, at)

    async def story() -> None:
        hub.frame = frame()
        told = await asyncio.gather(*(kept.newest() for _ in range(40)))
        assert (run.calls, {each["number"] for each in told}) == (1, {1})
        assert (told[0]["age_s"], told[0]["again_in_s"]) == (0.0, 20.0)
        at[0] += 19.0
        assert (await kept.newest())["age_s"] == 19.0
        at[0] += 2.0
        assert (await kept.newest())["number"] == 2
        hub.frame = frame(firing=2)  # another firing: the old one's estimate is nobody's
        assert (await kept.newest())["number"] == 3

    asyncio.run(story())


def test_an_estimate_that_fails_leaves_the_last_one_growing_old_with_the_reason(tmp_path: Path) -> None:
    at = [100.0]
    kept, hub, run = renewal(tmp_path, at)

    async def story() -> None:
        hub.frame = frame()
        await kept.newest()
        run.fails, at[0] = BusyError("too many ask"), 130.0
        told = await kept.newest()
        assert (told["ok"], told["says"], told["age_s"]) == (True, "too many ask", 30.0)
        run.fails, at[0] = ZeroDivisionError("oh"), 160.0
        assert "failed" in (await kept.newest())["says"]

    asyncio.run(story())


def test_nothing_is_worked_out_while_nothing_is_fired_or_the_controller_is_lost(tmp_path: Path) -> None:
    kept, hub, run = renewal(tmp_path, [0.0])

    async def story() -> None:
        assert "lost" in (await kept.newest())["says"]
        hub.frame = invented.idle()
        assert (await kept.newest())["says"] == "nothing is fired"
        assert run.calls == 0

    asyncio.run(story())
