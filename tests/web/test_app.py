"""The application's answers: what is passed on, what is told, and what a wrong call gets."""

from __future__ import annotations

import asyncio
import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import httpx
import numpy as np
import pytest
from fastapi import FastAPI

from controller.errors import RecordError
from tests.web import invented
from tests.web.fake_controller import CODE, LOOKS, FakeController
from web import curves, hub
from web.app import STATIC, build_app
from web.pages import page

OWN = {"Origin": "http://localhost"}
PREPARED = {"ticked": [look["id"] for look in LOOKS], "reachable": "Ada, 12"}


def call(app: FastAPI, method: str, path: str, **more: Any) -> httpx.Response:
    """One request to the application, its own page being at http://localhost."""

    async def story() -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            return await client.request(method, path, **more)

    return asyncio.run(story())


def post(app: FastAPI, kind: str, body: Any = None) -> httpx.Response:
    return call(app, "POST", f"/api/requests/{kind}", json=body or {}, headers=OWN)


@pytest.fixture
def app(controller: FakeController, tmp_path: Path) -> FastAPI:
    return build_app(controller.path, tmp_path / "record.db")


@pytest.fixture
def alone(tmp_path: Path) -> FastAPI:
    """An application without a controller and without a record."""
    return build_app(tmp_path / "nobody.sock", tmp_path / "record.db")


def test_a_request_is_passed_on_as_the_pages(app: FastAPI, controller: FakeController) -> None:
    answer = post(app, "note", {"text": "two hairline cracks"})
    assert (answer.status_code, answer.json()) == (200, {"ok": True, "says": "note: done"})
    assert controller.asked == [{"request": "note", "by": "page", "text": "two hairline cracks"}]


def test_the_first_page_comes_with_the_newest_temperature_in_it(app: FastAPI) -> None:
    told = []
    for c in (409.4, 1093.2, None):
        app.state.hub.frame = invented.changed(air={"c": c, "fault": None, "age_s": 0.1})
        told.append(call(app, "GET", "/").text)
    app.state.hub.frame = None  # the controller is lost
    told.append(call(app, "GET", "/").text)
    assert '<p class="huge num" id="air" aria-labelledby="air-label air">409</p>' in told[0]
    assert 'id="air-label">Chamber air, °C</p>' in told[0]
    assert '<p class="huge four num" id="air" aria-labelledby="air-label air">1093</p>' in told[1]
    assert told[2] == told[3] == page("index")


@pytest.mark.parametrize("kind", ["abort", "hold"])
def test_colder_needs_no_code(app: FastAPI, controller: FakeController, kind: str) -> None:
    assert post(app, kind).json()["ok"] is True
    assert controller.asked == [{"request": kind, "by": "page"}]


def test_a_refusal_carries_the_controllers_own_words(app: FastAPI) -> None:
    answer = post(app, "release", {"presence": "0000"})
    assert answer.status_code == 409
    assert answer.json()["says"].startswith("wrong code (4 tries left)")
    assert post(app, "release", {"presence": CODE}).status_code == 200


def test_by_cannot_be_forged(app: FastAPI, controller: FakeController) -> None:
    assert post(app, "hold", {"by": "console"}).status_code == 422
    assert controller.asked == []


@pytest.mark.parametrize("path", ["/etc/passwd", "../wax", "a/b", "a\\b", "wax.toml", ""])
def test_a_start_names_a_profile_and_never_a_file(
    app: FastAPI, controller: FakeController, path: str
) -> None:
    answer = post(app, "start", {"schedule": path, "presence": CODE})
    assert answer.status_code == 422
    assert answer.json()["says"].startswith("body.schedule: ")
    assert controller.asked == []


@pytest.mark.parametrize("schedule", ["wax-silica-shell", 'title = "own"\n[[stage]]\n'])
def test_a_start_takes_a_profiles_name_or_a_whole_text(app: FastAPI, schedule: str) -> None:
    assert post(app, "start", {"schedule": schedule, "presence": CODE, **PREPARED}).status_code == 200


def test_the_list_before_a_start_is_passed_on_and_so_is_what_was_ticked(
    app: FastAPI, controller: FakeController
) -> None:
    controller.lacking = "the leads were never checked"
    told = post(app, "prefire", {"schedule": "wax-silica-shell"}).json()
    assert told == {"ok": True, "says": "the leads were never checked", "items": LOOKS}
    start = {"schedule": "wax-silica-shell", "presence": CODE, **PREPARED}
    assert post(app, "start", start).json() == {"ok": False, "says": "the leads were never checked"}
    assert post(app, "start", {**start, "attended": True}).status_code == 200
    assert controller.asked[-1] == {"request": "start", "by": "page", **start, "attended": True}


def test_a_job_sheet_goes_with_the_start_as_it_is(app: FastAPI, controller: FakeController) -> None:
    start = {"schedule": "wax-silica-shell", "presence": CODE, **PREPARED}
    assert post(app, "start", start | {"job": 'title = "Otter"\n'}).status_code == 200
    assert controller.asked[-1]["job"] == 'title = "Otter"\n'
    assert post(app, "start", start | {"job": "#" * 20_001}).status_code == 422


@pytest.mark.parametrize(
    ("kind", "body", "status", "says"),
    [
        ("explode", {}, 404, "there is no such request; there are prefire, start,"),
        ("note", {"text": "x" * 4001}, 422, "body.text: "),
        ("note", {"text": 7}, 422, "body.text: "),
        ("note", {"colour": "red"}, 422, "body.colour: "),
    ],
)
def test_what_is_no_request_is_told_in_one_line(
    app: FastAPI, kind: str, body: Any, status: int, says: str
) -> None:
    answer = post(app, kind, body)
    assert answer.status_code == status
    assert answer.json()["says"].startswith(says)
    assert "\n" not in answer.json()["says"]


def test_a_body_that_is_no_json_is_told_in_one_line(app: FastAPI) -> None:
    headers = {**OWN, "Content-Type": "application/json"}
    answer = call(app, "POST", "/api/requests/hold", content=b"{", headers=headers)
    assert answer.status_code == 422
    assert answer.json()["says"].startswith("body.1: ")


def test_without_a_controller_a_request_says_so(alone: FastAPI) -> None:
    answer = post(alone, "abort")
    assert answer.status_code == 503
    assert "no controller answers" in answer.json()["says"]


def test_an_abort_does_not_wait_behind_others(app: FastAPI, controller: FakeController) -> None:
    """With every other lane full of requests that hang, the abort still goes out at once."""
    taken: list[str] = []
    release = asyncio.Event()

    async def story() -> None:
        loop = asyncio.get_running_loop()

        def ask(request: dict[str, Any]) -> dict[str, Any]:
            taken.append(request["request"])
            if request["request"] != "abort":
                asyncio.run_coroutine_threadsafe(release.wait(), loop).result(5)
            return {"ok": True, "says": "done"}

        app.state.client = SimpleNamespace(ask=ask)
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:

            def send(kind: str) -> Any:
                return client.post(f"/api/requests/{kind}", json={}, headers=OWN)

            hanging = [asyncio.create_task(send("hold")) for _ in range(60)]
            while len(taken) < 8:
                await asyncio.sleep(0.01)
            async with asyncio.timeout(1):
                assert (await send("abort")).status_code == 200
            release.set()
            await asyncio.gather(*hanging)

    asyncio.run(story())
    assert taken.index("abort") == 8


def test_an_unknown_address_is_one_line(app: FastAPI) -> None:
    for path in (
        "/nothing",
        "/api/nothing",
        "/static/nothing.js",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
    ):
        answer = call(app, "GET", path)
        assert answer.status_code == 404, path
        assert answer.json()["says"].startswith("there is nothing at /")
    assert call(app, "PUT", "/api/health", json={}, headers=OWN).status_code == 405


def test_a_fault_of_the_pages_own_is_one_line(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret detail")

    monkeypatch.setattr(hub.Hub, "silent_s", broken)
    answer = call(app, "GET", "/api/health")
    assert answer.status_code == 500
    assert answer.json() == {"ok": False, "says": "the page has a fault of its own"}


def test_the_page_itself_is_served(app: FastAPI) -> None:
    answer = call(app, "GET", "/")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/html")
    assert answer.text == page("index")


def test_no_part_of_the_page_asks_another_server() -> None:
    for part in STATIC.glob("*.*"):
        text = part.read_text().replace("http://www.w3.org/2000/svg", "")
        assert "http:" not in text, part
        assert "https:" not in text, part


def test_the_curve_without_a_record_is_empty_and_says_why(alone: FastAPI) -> None:
    answer = call(alone, "GET", "/api/curve")
    assert answer.status_code == 200
    assert answer.json()["t_s"] == []
    assert answer.json()["says"] == "nothing is running"


def test_the_curve_of_a_firing_without_a_record_says_so(tmp_path: Path) -> None:
    assert curves.so_far(tmp_path / "record.db", 3, None)["says"] == "there is no record yet"


def test_a_broken_record_costs_only_the_curve(tmp_path: Path) -> None:
    (tmp_path / "record.db").write_bytes(b"this is no database" * 100)
    found = curves.so_far(tmp_path / "record.db", 3, None)
    assert found["t_s"] == []
    assert str(tmp_path / "record.db") in found["says"]


def test_what_was_not_measured_is_nothing_in_the_curve(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Measured(SimpleNamespace):
        def __len__(self) -> int:
            return 2

    measured = Measured(
        t_s=np.array([0.0, 1.0]),
        setpoint_c=np.array([20.0, math.nan]),
        air_c=np.array([20.04, 20.06]),
        load_c=np.array([math.nan, math.inf]),
        utc_s=np.array([1_000_000.0, 1_000_001.0]),
    )
    asked = []

    class Stub:
        def __init__(self, path: Path) -> None:
            self.path = path

        def thinned(self, number: int, points: int) -> Any:
            asked.append((self.path, number, points))
            return measured

    monkeypatch.setattr("controller.record.queries.Record", Stub)
    (tmp_path / "record.db").touch()
    frame = invented.changed(utc="1970-01-12T13:46:44.500Z", mono_s=50.0)  # 3.5 s after the last tick
    assert curves.so_far(tmp_path / "record.db", 3, frame) == {
        "firing": 3,
        "mono_0_s": 45.5,
        "t_s": [0.0, 1.0],
        "setpoint_c": [20.0, None],
        "air_c": [20.0, 20.1],
        "load_c": [None, None],
        "says": "",
    }
    assert asked == [(tmp_path / "record.db", 3, 600)]


def test_a_record_that_cannot_be_read_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(path: Path) -> None:
        raise RecordError("record: locked")

    monkeypatch.setattr("controller.record.queries.Record", locked)
    (tmp_path / "record.db").touch()
    assert curves.so_far(tmp_path / "record.db", 3, None)["says"] == "record: locked"
