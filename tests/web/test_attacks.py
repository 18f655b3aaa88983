"""What other sites, other names, other files and other sizes get from a kiln that a phone is paired with.

Where an attack could aim at any address, every address that the application has is tried, also those that
were added after this was written.
"""

from __future__ import annotations

import asyncio
import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute

from tests.web.fake_controller import CODE, FakeController
from tests.web.from_afar import HERE, JSON, Afar, paired
from tests.web.invented_past import SCHEDULE
from web import body
from web.app import build_app
from web.network import Network

FOR_ANYONE = {
    ("GET", "/pair"),
    ("POST", "/api/pair"),
    ("GET", "/api/device"),
    ("GET", "/api/health/well"),
}
PRESENCE = json.dumps({"presence": CODE}).encode()
FOR_WATCHERS = {"/api/requests/hold", "/api/requests/abort"}
# What is asked with a body, and changes nothing.
LOOKS_AHEAD = {"/api/forecast", "/api/schedules/draw", "/api/job"}
OUTSIDE = (
    "../../../../etc/passwd",
    "..%2f..%2f..%2f..%2fetc%2fpasswd",
    "%2e%2e/%2e%2e/%2e%2e/etc/passwd",
    "..\\..\\etc\\passwd",
    "%00",
    "....//....//etc/passwd",
    "/etc/passwd",
    "%2fetc%2fpasswd",
    "file:///etc/passwd",
)


@pytest.fixture
def app(controller: FakeController, blank_home: Any) -> FastAPI:
    return build_app(controller.path, blank_home / "record.db", network=Network(frozenset({"kiln.example"})))


def routes(app: FastAPI) -> Iterator[tuple[str, str]]:
    """Yield every method and path of the application, parameters as they are written: {number}."""
    found = [route for route in app.routes if isinstance(route, APIRoute)]
    assert len(found) > 15
    for route in found:
        for method in route.methods:
            yield method, route.path


def as_taken(caller: Afar, path: str) -> dict[str, str]:
    """Return what our own page sends to this address."""
    return {**caller.own, "Content-Type": body.room(path).kinds[0]}


def filled(path: str, value: str) -> str:
    return re.sub(r"\{[^}]*\}", lambda _: value, path)


def test_a_stranger_reaches_no_address_but_those_for_anyone(app: FastAPI) -> None:
    stranger = Afar(app)
    for method, path in routes(app):
        there = filled(path, "1")
        answer = stranger.send(method, there, as_taken(stranger, there), content=b"{}")
        if (method, path) not in FOR_ANYONE:
            assert answer.status_code == 401, (method, path)


def test_a_watcher_changes_nothing_but_by_hold_and_abort(app: FastAPI, controller: FakeController) -> None:
    watcher = paired(app, "watcher")
    tried = 0
    for method, path in routes(app):
        if method in ("GET", "HEAD") or (method, path) in FOR_ANYONE or path in LOOKS_AHEAD:
            continue
        for word in ("1", "start", "release"):
            there = filled(path, word)
            answer = watcher.send(method, there, as_taken(watcher, there), content=PRESENCE)
            assert answer.status_code == 403, (method, there)
            tried += 1
    assert tried >= 9
    assert {watcher.post(path).status_code for path in FOR_WATCHERS} == {200}
    assert [each["request"] for each in controller.asked] != []


def test_what_a_watcher_looks_ahead_with_writes_nothing(app: FastAPI, controller: FakeController) -> None:
    home = app.state.record.parent
    watcher = paired(app, "watcher")

    def kept() -> list[tuple[Path, bytes]]:
        return sorted(
            (path, path.read_bytes()) for path in home.rglob("*") if path.suffix in {".toml", ".json"}
        )

    with closing(sqlite3.connect(app.state.record)) as record:
        before, rows = kept(), record.execute("SELECT count(*) FROM event").fetchone()
        told = {
            path: watcher.post(path, {name: SCHEDULE})
            for path, name in (
                ("/api/schedules/draw", "text"),
                ("/api/job", "text"),
                ("/api/requests/prefire", "schedule"),
            )
        }
        assert {path: answer.status_code for path, answer in told.items()} == dict.fromkeys(told, 200)
        assert told["/api/schedules/draw"].json()["plan"]["title"] == "Printed PLA in nine-coat silica shell"
        assert (kept(), record.execute("SELECT count(*) FROM event").fetchone()) == (before, rows)
    assert [each["request"] for each in controller.asked] == ["prefire"]
    refused = watcher.post("/api/schedules", {"name": "otter", "text": SCHEDULE})
    assert (refused.status_code, kept()) == (403, before)


FORMS = [
    pytest.param({"Origin": "http://evil.example", **JSON}, id="another site's script"),
    pytest.param({"Origin": "null", **JSON}, id="a page in a sandbox"),
    pytest.param({"Origin": HERE.replace("http:", "https:"), **JSON}, id="another scheme"),
    pytest.param({"Origin": HERE.replace("8321", "9000"), **JSON}, id="another port of this machine"),
    pytest.param({"Origin": "http://evil.example@192.0.2.1:8321", **JSON}, id="a name before the name"),
    pytest.param({"Origin": "http://192.0.2.1:8321.evil.example", **JSON}, id="a name after the name"),
    pytest.param(JSON, id="no origin"),
    pytest.param({"Origin": HERE}, id="no kind"),
    pytest.param({"Origin": HERE, "Content-Type": "text/plain"}, id="a form of plain text"),
    pytest.param({"Origin": HERE, "Content-Type": "application/x-www-form-urlencoded"}, id="a form"),
    pytest.param({"Origin": HERE, "Content-Type": "multipart/form-data; boundary=x"}, id="a form with files"),
    pytest.param({"Origin": HERE, "Sec-Fetch-Site": "cross-site", **JSON}, id="said by the browser"),
]


@pytest.mark.parametrize("headers", FORMS)
def test_another_sites_form_or_script_changes_nothing_though_the_cookie_goes_with_it(
    app: FastAPI, controller: FakeController, headers: dict[str, str]
) -> None:
    operator = paired(app, "operator")
    for method, path in routes(app):
        if method not in ("GET", "HEAD"):
            content = b"--x--" if "multipart" in headers.get("Content-Type", "") else b"{}"
            answer = operator.send(method, filled(path, "1"), headers, content=content)
            assert answer.status_code in (403, 415), (method, path)
    assert controller.asked == []
    assert operator.post("/api/requests/hold").status_code == 200  # and from our own page it goes


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "LOCK"])
def test_other_methods_are_judged_as_a_post_is(app: FastAPI, method: str) -> None:
    operator = paired(app, "operator")
    assert operator.send(method, "/api/requests/hold", {**JSON, "Origin": "http://evil.example"}).is_error
    assert operator.send(method, "/api/requests/hold", {}).status_code == 415


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_site_reads_no_stream_and_no_answer_though_the_cookie_goes_with_it(
    app: FastAPI, site: str
) -> None:
    operator = paired(app, "operator")
    for method, path in routes(app):
        if method == "GET" and path.startswith("/api/"):
            answer = operator.get(filled(path, "1"), **{"Sec-Fetch-Site": site})
            assert answer.status_code == 403, path
            assert answer.headers["cross-origin-resource-policy"] == "same-origin"


def test_no_answer_can_be_framed_whoever_gets_it(app: FastAPI) -> None:
    for caller in (Afar(app), paired(app, "watcher"), paired(app, "operator")):
        for path in ("/", "/pair", "/devices", "/firings", "/static/style.css", "/api/device", "/nothing"):
            headers = caller.get(path).headers
            assert headers["x-frame-options"] == "DENY", path
            policy = headers["content-security-policy"]
            assert "frame-ancestors 'none'" in policy, path
            assert "unsafe" not in policy
            assert "access-control-allow-origin" not in headers


def test_no_path_leads_out_of_what_is_served(app: FastAPI) -> None:
    operator = paired(app, "operator")
    paths = [path for method, path in routes(app) if "{" in path and method == "GET"]
    assert len(paths) >= 4
    for path in [*paths, "/static/{file}", "/static/vendor/{file}", "/{file}"]:
        for outside in OUTSIDE:
            answer = operator.get(filled(path, outside))
            assert answer.status_code in (404, 422), (path, outside)
            assert "root:" not in answer.text
    for path in ("/static/", "/static", "/static/vendor"):
        assert operator.get(path).status_code in (307, 404), path


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8321",
        "192.0.2.1.evil.example",
        "kiln.example.evil.example",
        "192.0.2.99:8321",  # an address that the connection did not come to
        "localhost.evil.example",
        "kiln.example@evil.example",
    ],
)
def test_a_foreign_name_that_is_made_to_point_here_gets_nothing(app: FastAPI, host: str) -> None:
    operator = paired(app, "operator")
    for path in ("/", "/pair", "/static/pairing/pair.js", "/api/device", "/api/live"):
        assert operator.get(path, Host=host).status_code == 421, path
    changed = {**operator.own, "Host": host, "Origin": f"http://{host}"}
    assert operator.send("POST", "/api/requests/hold", changed, content="{}").status_code == 421


@pytest.mark.parametrize("host", ["kiln.example:8321", "KILN.example", "192.0.2.1:8321", "localhost:8321"])
def test_own_names_and_the_one_that_the_user_allows_are_answered(app: FastAPI, host: str) -> None:
    assert Afar(app).get("/pair", Host=host).status_code == 200


def test_no_address_takes_more_than_it_may(app: FastAPI, controller: FakeController) -> None:
    operator = paired(app, "operator")
    for method, path in routes(app):
        if method not in ("GET", "HEAD"):
            there = filled(path, "1")
            much = b" " * (body.room(there).limit_bytes + 1)
            answer = operator.send(method, there, as_taken(operator, there), content=much)
            assert answer.status_code == 413, path
    assert controller.asked == []


def test_a_websocket_is_shut_before_anything_looks_at_it(app: FastAPI) -> None:
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {"type": "websocket.connect"}

    scope = {"type": "websocket", "path": "/api/live", "headers": [(b"host", b"localhost")]}
    asyncio.run(app(scope, receive, send))
    assert sent == [{"type": "websocket.close", "code": 1008}]


def test_a_name_from_the_network_is_told_as_plain_text(app: FastAPI) -> None:
    operator = paired(app, "operator", "<script>alert(1)</script>")
    answer: httpx.Response = operator.get("/api/devices")
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["x-content-type-options"] == "nosniff"
