"""The web process tells: from the hub's newest word to a receiver, once each, and to the page."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from controller.errors import ChannelError
from controller.record.journal import Journal
from controller.record.rows import FiringRow
from tests.web import invented
from tests.web.alerts.receiver import Receiver
from tests.web.alerts.scenes import pour_in
from web.alerts import watch as watch_room
from web.alerts.kept import FILE_NAME
from web.alerts.sender import How
from web.alerts.watch import NO_FILE, Estimate, Watch, time_now
from web.app import build_app

pytestmark = pytest.mark.wire

OWN = {"Origin": "http://localhost"}


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watch_room, "EVERY_S", 0.01)
    monkeypatch.setattr(watch_room, "LOOK_S", 0.01)
    monkeypatch.setattr(watch_room, "JOB_S", 0.05)


def settle(home: Path, receiver: Receiver, more: str = "") -> None:
    """Write alerts.toml for this receiver."""
    to = f'[[to]]\nname = "Ada"\nurls = ["{receiver.address()}"]\n'
    (home / "alerts.toml").write_text(more + to, encoding="utf-8")


class Notes:
    """Stands in for the way to the controller, which is lost after the first note."""

    def __init__(self) -> None:
        self.asked: list[dict[str, Any]] = []

    def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        self.asked.append(request)
        raise ChannelError("no controller answers")


class Hub:
    """Stands in for the hub: the newest frame, or none for so long."""

    def __init__(self) -> None:
        self.frame: Any = invented.running()
        self.silent = 0.0
        self.firing: int | None = 12

    def silent_s(self) -> float:
        return self.silent


def watching(home: Path, story: Callable[[Watch, Hub], Any], estimate: Estimate | None = None) -> None:
    """Run a watch, and a story beside it."""

    async def both() -> None:
        hub = Hub()
        watch = Watch(hub, home, How(pauses_s=(0.05,)), estimate)  # type: ignore[arg-type]
        task = asyncio.create_task(watch.run())
        try:
            await story(watch, hub)
        finally:
            task.cancel()
            await asyncio.wait([task])

    asyncio.run(both())


async def until(true: Callable[[], Any]) -> None:
    async with asyncio.timeout(20):  # the library is loaded first
        while not true():
            await asyncio.sleep(0.01)


def test_a_person_who_is_needed_is_told_and_a_page_that_starts_anew_tells_it_no_second_time(
    tmp_path: Path,
) -> None:
    with Receiver() as receiver:
        settle(tmp_path, receiver)

        async def first(watch: Watch, hub: Hub) -> None:
            hub.frame = invented.checkpoint()
            await until(lambda: receiver.titles == ["Shed kiln: a person is needed: patch and drain"])
            await until((tmp_path / FILE_NAME).exists)

        async def again(watch: Watch, hub: Hub) -> None:
            hub.frame = invented.checkpoint()
            await until(lambda: watch.state.matters)
            hub.frame = invented.tripped()
            await until(lambda: len(receiver.got) == 2)

        watching(tmp_path, first)
        watching(tmp_path, again)
    assert receiver.titles[1].startswith("Shed kiln: TRIP")
    assert (tmp_path / FILE_NAME).stat().st_mode & 0o077 == 0
    assert "token" not in (tmp_path / FILE_NAME).read_text()


def test_a_kept_state_that_is_none_only_tells_anew(tmp_path: Path) -> None:
    with Receiver() as receiver:
        settle(tmp_path, receiver)
        for broken in (
            b"\xff{",
            b"[]",
            b'{"utc_s": 1e12}',
            b'{"matters": 3, "utc_s": 1, "mono_s": 1, "last": 0}',
        ):
            (tmp_path / FILE_NAME).write_bytes(broken)

            async def story(watch: Watch, hub: Hub) -> None:
                count = len(receiver.got)
                hub.frame = invented.checkpoint()
                await until(lambda: len(receiver.got) == count + 1)

            watching(tmp_path, story)
    assert len(receiver.got) == 4


def test_a_lost_controller_is_told_by_the_web_process(tmp_path: Path) -> None:
    with Receiver() as receiver:
        settle(tmp_path, receiver)

        async def story(watch: Watch, hub: Hub) -> None:
            await until(lambda: watch.state.last.matters)
            hub.frame, hub.silent = None, 119.0
            await asyncio.sleep(0.05)
            assert watch.is_well()
            hub.silent = 121.0
            await until(lambda: receiver.titles == ["Shed kiln: no word from the controller"])
            assert watch.what_is_wrong() == "the controller is lost"

        watching(tmp_path, story)


def test_the_job_sheet_says_when_to_light_the_furnace(tmp_path: Path) -> None:
    with Receiver() as receiver, Journal(tmp_path / "record.db") as journal:
        settle(tmp_path, receiver)
        row = FiringRow(1e9, 0.0, "Otter", "", "pla.toml", "Shed kiln", "", "0", 1.0, False)
        firing = journal.open_firing(row)
        journal.job(firing, "page", '[metal]\nmelt_time = "2 h"\n', 1e9)

        async def story(watch: Watch, hub: Hub) -> None:
            hub.firing = firing
            hub.frame = pour_in(7000.0, firing=firing)
            await until(lambda: receiver.titles == ["Shed kiln: light the melting furnace"])
            assert "melting takes 2 h." in receiver.got[0]["message"]

        watching(tmp_path, story)


def test_the_forecast_is_asked_once_the_pour_is_near(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(watch_room, "ESTIMATE_S", 0.02)
    asked: list[float] = []
    band = {"low": 900.0, "typical": 1200.0, "high": 1500.0}

    async def estimate() -> dict[str, Any]:
        asked.append(0.0)
        if len(asked) == 1:
            raise OSError("the worker died")
        return {"ok": True, "firing": 12, "mono_s": 1000.0, "ready_s": band}

    with Receiver() as receiver:
        settle(tmp_path, receiver)

        async def story(watch: Watch, hub: Hub) -> None:
            await until(lambda: watch.read.settings.to)
            hub.frame = pour_in(5 * 3600.0, mono_s=1000.0)
            await asyncio.sleep(0.1)
            assert asked == []
            hub.frame = pour_in(3 * 3600.0, mono_s=1000.0)
            await until(lambda: receiver.titles == ["Shed kiln: pour in about 20 min"])

        watching(tmp_path, story, estimate)


def test_settings_are_read_again_when_they_change_and_a_mistake_leaves_the_ones_before(
    tmp_path: Path,
) -> None:
    with Receiver() as receiver:

        async def story(watch: Watch, hub: Hub) -> None:
            await until(lambda: watch.state.last.kiln)
            assert watch.view(time_now())["says"] == NO_FILE
            settle(tmp_path, receiver)
            await until(lambda: watch.view(time_now())["on"])
            (tmp_path / "alerts.toml").write_text("quiet_hours = 7")
            await until(lambda: watch.read.fault)
            view = watch.view(time_now())
            assert view["fault"].startswith(f"{tmp_path / 'alerts.toml'}:1: quiet_hours: found 7, expected")
            assert view["on"]
            assert not watch.is_well()
            hub.frame = invented.checkpoint()
            await until(lambda: receiver.got)

        watching(tmp_path, story)


def test_what_cannot_be_sent_is_told_to_the_page_and_stops_the_heartbeat(tmp_path: Path) -> None:
    with Receiver("broken") as receiver, Receiver() as monitor:
        beat = f'[heartbeat]\nurl = "http://127.0.0.1:{monitor.port}/ping"\n'
        settle(tmp_path, receiver)
        (tmp_path / "alerts.toml").write_text((tmp_path / "alerts.toml").read_text() + beat)

        async def story(watch: Watch, hub: Hub) -> None:
            await until(lambda: monitor.asked == ["/ping"])
            hub.frame = invented.checkpoint()
            await until(lambda: watch.view(time_now())["troubles"])
            view = watch.view(time_now())
            assert view["troubles"][0]["to"] == "Ada"
            assert "token" not in json.dumps(view)
            assert watch.what_is_wrong() == "alerts cannot be sent"
            watch.acknowledge(None)
            await until(watch.is_well)  # what somebody has seen need not be sent any more
            assert watch.view(time_now())["troubles"] != []

        watching(tmp_path, story)


def test_a_fault_in_deciding_ends_nothing_and_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    async def story(watch: Watch, hub: Hub) -> None:
        hub.frame = {"kiln": "of another version"}
        await until(watch.what_is_wrong)
        assert watch.what_is_wrong() == "alerts have a fault of their own: KeyError"
        await asyncio.sleep(0.05)
        hub.frame = invented.running()
        await until(watch.is_well)

    watching(tmp_path, story)
    assert [record.getMessage() for record in caplog.records if record.name == "stokehold.web"] == [
        "alerts have a fault of their own: KeyError"
    ]


def call(app: FastAPI, method: str, path: str, **more: Any) -> httpx.Response:
    async def story() -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            return await client.request(method, path, **more)

    return asyncio.run(story())


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    """The application at a checkpoint that was told once; nothing runs beside it."""
    found = build_app(tmp_path / "nobody.sock", tmp_path / "record.db")
    found.state.hub.frame = invented.checkpoint()
    found.state.client = Notes()
    found.state.alerts.step(time_now())
    return found


def test_the_page_sees_what_stands(app: FastAPI) -> None:
    answer = call(app, "GET", "/api/alerts")
    assert answer.headers["cache-control"] == "no-store"
    view = answer.json()
    assert (view["on"], view["says"], view["fault"], view["troubles"]) == (False, NO_FILE, "", [])
    [matter] = view["standing"]
    assert (matter["key"], matter["kind"]) == ("person/12/4", "person")
    assert matter["title"] == "a person is needed: patch and drain"
    assert matter["acknowledged"] is False


@pytest.mark.parametrize("body", [{}, {"keys": ["person/12/4", "moon"]}])
def test_a_person_on_the_page_acknowledges_what_it_shows(app: FastAPI, body: dict[str, Any]) -> None:
    answer = call(app, "POST", "/api/alerts/acknowledge", json=body, headers=OWN)
    assert answer.json() == {"ok": True, "says": "seen: no further message about it", "count": 1}
    asked = app.state.client.asked
    text = "Seen on the page: a person is needed: patch and drain"
    assert asked == [{"request": "note", "by": "page", "text": text}]
    app.state.alerts.step(time_now())
    again = call(app, "POST", "/api/alerts/acknowledge", json=body, headers=OWN)
    assert (again.json()["count"], len(asked)) == (0, 1)
    assert [one["acknowledged"] for one in call(app, "GET", "/api/alerts").json()["standing"]] == [True]


def test_nothing_is_acknowledged_by_another_key_or_from_another_site(app: FastAPI) -> None:
    other = call(app, "POST", "/api/alerts/acknowledge", json={"keys": ["alarm/door"]}, headers=OWN)
    assert other.json()["count"] == 0
    assert call(app, "POST", "/api/alerts/acknowledge", json={}).status_code == 403
    too_many = {"keys": ["a"] * 61}
    assert call(app, "POST", "/api/alerts/acknowledge", json=too_many, headers=OWN).status_code == 422
    app.state.alerts.step(time_now())
    assert not call(app, "GET", "/api/alerts").json()["standing"][0]["acknowledged"]


def test_an_outside_monitor_that_asks_gets_503_when_the_controller_is_lost(
    app: FastAPI, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert call(app, "GET", "/api/health/well").status_code == 200
    monkeypatch.setattr(app.state.hub, "silent_s", lambda: 121.0)
    answer = call(app, "GET", "/api/health/well")
    assert (answer.status_code, answer.json()["says"]) == (503, "the controller is lost")
    assert call(app, "GET", "/api/health").json()["wrong"] == "the controller is lost"
