"""Pairing on the page's side: a code becomes a token, once; what it opens; and that revoking acts at once."""

from __future__ import annotations

import asyncio
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from controller.pairing.offer import LASTS_S, make_offer, open_offer
from controller.pairing.secret import hash_of
from controller.record.devices import devices
from controller.record.write_devices import revoke_device
from tests.web.fake_controller import CODE, FakeController
from tests.web.from_afar import HERE, Afar, cookie_name, offered, paired, wrong
from web.app import build_app
from web.network import Network
from web.pages import page
from web.pairing import holders
from web.pairing.tries import TRIES_OF_ALL


@pytest.fixture
def app(controller: FakeController, blank_home: Path) -> FastAPI:
    return build_app(controller.path, blank_home / "record.db", network=Network(frozenset({"kiln.example"})))


def test_a_stranger_sees_nothing_of_the_kiln_but_the_way_to_pair(app: FastAPI) -> None:
    stranger = Afar(app)
    for path in ("/", "/firings", "/firings/3", "/devices", "/nothing"):
        answer = stranger.get(path)
        assert (answer.status_code, answer.text) == (401, page("pair")), path
    for path in ("/api/live", "/api/curve", "/api/firings", "/api/health", "/api/devices", "/api/nothing"):
        answer = stranger.get(path)
        assert answer.status_code == 401, path
        assert "stokehold pair NAME" in answer.json()["says"]
    assert stranger.get("/static/pairing/pair.js").status_code == 200
    assert stranger.get("/pair").status_code == 200
    assert stranger.get("/api/device").json() == {"name": "", "role": "anyone", "own_computer": False}


@pytest.mark.parametrize("kind", ["abort", "hold", "start", "release", "note", "acknowledge"])
def test_a_stranger_asks_for_nothing(app: FastAPI, controller: FakeController, kind: str) -> None:
    assert Afar(app).post(f"/api/requests/{kind}", {"presence": CODE}).status_code == 401
    assert controller.asked == []


@pytest.mark.parametrize("by_link", [True, False])
def test_the_code_or_the_link_becomes_a_token_once(app: FastAPI, by_link: bool) -> None:
    code, link = offered(app)
    body = {"link": link} if by_link else {"code": f"{code[:4]} {code[4:]}"}
    phone, second = Afar(app), Afar(app, "192.0.2.8")
    answer = phone.post("/api/pair", body)
    assert (answer.status_code, answer.json()["ok"]) == (200, True)
    assert phone.get("/api/device").json()["name"] == "Ada's phone"
    assert phone.get("/api/health").status_code == 200
    again = second.post("/api/pair", body)
    assert again.status_code == 409
    assert "set-cookie" not in again.headers
    assert second.get("/api/health").status_code == 401


def test_the_cookie_is_for_this_server_alone_and_only_its_hash_is_kept(app: FastAPI) -> None:
    code, _ = offered(app)
    cookie = Afar(app).post("/api/pair", {"code": code}).headers["set-cookie"]
    name, _, rest = cookie.partition("=")
    token, *attributes = rest.split("; ")
    assert name == "stokehold-8321"
    assert {each.lower() for each in attributes} >= {"httponly", "samesite=strict", "path=/"}
    assert not any(each.lower().startswith(("secure", "domain")) for each in attributes)
    assert token.encode() not in b"".join(each.read_bytes() for each in app.state.record.parent.glob("rec*"))
    assert [device.token_hash for device in devices(app.state.record)] == [hash_of(token)]


def test_under_tls_the_cookie_is_secure_and_bound_to_the_host(app: FastAPI) -> None:
    code, _ = offered(app)
    phone = Afar(app, url="https://kiln.example")
    cookie = phone.post("/api/pair", {"code": code}).headers["set-cookie"]
    assert cookie.startswith("__Host-stokehold-")
    assert "; Secure" in cookie
    assert phone.get("/api/health").status_code == 200


def test_a_watcher_sees_holds_and_aborts_and_nothing_else(app: FastAPI, controller: FakeController) -> None:
    watcher = paired(app, "watcher", "Ben's phone")
    for path in ("/", "/api/health", "/api/curve", "/api/firings", "/firings"):
        assert watcher.get(path).status_code == 200, path
    for kind in ("hold", "abort"):
        assert watcher.post(f"/api/requests/{kind}").status_code == 200
    for kind in ("start", "restart", "release", "stop", "reset", "clear", "acknowledge", "note"):
        answer = watcher.post(f"/api/requests/{kind}", {"presence": CODE, "text": "x"})
        assert (answer.status_code, "Ben's phone is paired to watch" in answer.json()["says"]) == (403, True)
    for path in ("/devices", "/api/devices"):
        assert watcher.get(path).status_code == 403, path
    assert watcher.post("/api/devices/1/revoke").status_code == 403
    assert watcher.post("/api/firings/1/notes", {"text": "x"}).status_code == 403
    assert [(each["request"], each["by"]) for each in controller.asked] == [
        ("hold", "page: Ben's phone"),
        ("abort", "page: Ben's phone"),
    ]


def test_an_operator_asks_with_the_presence_code_and_under_its_own_name(
    app: FastAPI, controller: FakeController
) -> None:
    operator = paired(app, "operator", "Ada's phone")
    assert operator.post("/api/requests/release", {"presence": "0000"}).status_code == 409
    assert operator.post("/api/requests/release", {"presence": CODE}).status_code == 200
    assert {each["by"] for each in controller.asked} == {"page: Ada's phone"}


def test_the_kilns_own_computer_needs_no_pairing(app: FastAPI, controller: FakeController) -> None:
    own = Afar(app, "127.0.0.1", "http://localhost:8321")
    assert own.get("/api/device").json() == {"name": "", "role": "operator", "own_computer": True}
    assert own.post("/api/requests/hold").status_code == 200
    assert controller.asked[0]["by"] == "page"


PROXIED = [
    {"X-Forwarded-For": "203.0.113.5"},
    {"X-Forwarded-For": "127.0.0.1"},
    {"Forwarded": "for=203.0.113.5"},
    {"X-Real-IP": "127.0.0.1"},
    {"X-Forwarded-Proto": "https"},
    {"Via": "1.1 proxy"},
]


@pytest.mark.parametrize("headers", PROXIED, ids=lambda each: next(iter(each)))
def test_what_a_proxy_on_the_same_machine_passes_on_is_not_the_own_computer(
    app: FastAPI, headers: dict[str, str]
) -> None:
    own = Afar(app, "127.0.0.1", "http://localhost:8321")
    assert own.get("/api/health").status_code == 200
    assert own.get("/api/health", **headers).status_code == 401


def test_neither_is_another_machine_that_says_localhost_nor_loopback_under_another_name(app: FastAPI) -> None:
    assert Afar(app, "192.0.2.7", "http://localhost:8321").get("/api/health").status_code == 401
    assert Afar(app, "127.0.0.1", "http://kiln.example:8321").get("/api/health").status_code == 401
    assert Afar(app, "::ffff:192.0.2.7", "http://localhost:8321").get("/api/health").status_code == 401
    assert Afar(app, "::ffff:127.0.0.1", "http://localhost:8321").get("/api/health").status_code == 200


def test_a_proxy_that_speaks_http_1_0_and_hides_itself_is_not_the_own_computer(app: FastAPI) -> None:
    async def old(scope: dict[str, object], receive: object, send: object) -> None:
        scope["http_version"] = "1.0"
        await app(scope, receive, send)  # type: ignore[arg-type]

    assert Afar(old, "127.0.0.1", "http://localhost:8321").get("/api/health").status_code == 401  # type: ignore[arg-type]


@pytest.fixture
def proxied(controller: FakeController, blank_home: Path) -> FastAPI:
    return build_app(
        controller.path, blank_home / "record.db", network=Network(frozenset({"kiln.example"}), True)
    )


def test_behind_a_proxy_nobody_is_the_own_computer(proxied: FastAPI) -> None:
    assert Afar(proxied, "127.0.0.1", "http://localhost:8321").get("/api/health").status_code == 401


def test_behind_a_proxy_the_browsers_scheme_and_address_are_what_the_proxy_says(proxied: FastAPI) -> None:
    code, _ = offered(proxied)
    phone = Afar(proxied, "127.0.0.1", "http://kiln.example")
    passed = {**phone.own, "X-Forwarded-Proto": "https", "X-Forwarded-For": "10.0.0.1, 203.0.113.5"}
    plain = phone.send("POST", "/api/pair", passed, json={"code": code})
    assert plain.status_code == 403  # its Origin says http, its proxy says https
    passed["Origin"] = "https://kiln.example"
    assert phone.send("POST", "/api/pair", passed, json={"code": wrong(code)}).status_code == 409
    answer = phone.send("POST", "/api/pair", passed, json={"code": code})
    assert "; Secure" in answer.headers["set-cookie"]
    with closing(sqlite3.connect(proxied.state.record)) as connection:
        [fields] = connection.execute("SELECT fields FROM event WHERE kind = 'pairing_refused'").fetchone()
    assert "203.0.113.5" in fields


def test_without_an_offer_or_after_its_time_no_code_is_taken(
    app: FastAPI, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = Afar(app)
    assert "no pairing is open" in phone.post("/api/pair", {"code": "12345678"}).json()["says"]
    _, code, link = make_offer(tmp_path, "Ada's phone", "operator", time.monotonic() - LASTS_S)
    for body in ({"code": code}, {"link": link}):
        assert "no pairing is open" in phone.post("/api/pair", body).json()["says"]
    assert devices(app.state.record) == []


def test_tries_are_limited_by_address_and_the_picture_still_works(app: FastAPI) -> None:
    code, link = offered(app)
    phone, other = Afar(app), Afar(app, "192.0.2.8")
    says = [phone.post("/api/pair", {"code": wrong(code)}).json()["says"] for _ in range(5)]
    assert says[0] == "wrong code (4 tries left): use the eight digits on the kiln's own console"
    assert says[4] == "wrong code, too often: wait 60 s, or scan the picture"
    assert phone.post("/api/pair", {"code": code}).status_code == 429
    assert "4 tries left" in other.post("/api/pair", {"code": wrong(code)}).json()["says"]
    assert phone.post("/api/pair", {"link": link}).status_code == 200


def test_tries_are_limited_over_all_addresses_and_the_next_offer_begins_anew(app: FastAPI) -> None:
    code, _ = offered(app)
    for n in range(TRIES_OF_ALL):
        answer = Afar(app, f"203.0.113.{n}").post("/api/pair", {"code": wrong(code)})
        assert answer.status_code == 409, n
    assert Afar(app).post("/api/pair", {"code": code}).status_code == 429
    code, _ = offered(app)
    assert Afar(app).post("/api/pair", {"code": code}).status_code == 200


def test_in_ipv6_one_networks_addresses_are_one(app: FastAPI) -> None:
    code, _ = offered(app)
    for n in range(5):
        Afar(app, f"2001:db8::{n:x}").post("/api/pair", {"code": wrong(code)})
    assert Afar(app, "2001:db8::77").post("/api/pair", {"code": code}).status_code == 429
    assert Afar(app, "2001:db8:0:1::77").post("/api/pair", {"code": code}).status_code == 200


def test_no_lock_on_codes_keeps_an_abort_waiting(app: FastAPI, controller: FakeController) -> None:
    watcher = paired(app, "watcher")
    code, _ = offered(app)
    for _ in range(7):
        watcher.post("/api/pair", {"code": wrong(code)})
    assert watcher.post("/api/requests/abort").status_code == 200
    assert controller.asked[-1]["request"] == "abort"


def test_a_name_that_was_paired_meanwhile_is_told_and_the_offer_stays(app: FastAPI) -> None:
    code, _ = offered(app)
    paired(app, "watcher", "Ada's phone")
    answer = Afar(app).post("/api/pair", {"code": code})
    assert answer.status_code == 409
    assert "paired already" in answer.json()["says"]
    assert open_offer(app.state.record.parent, time.monotonic()) is not None


def test_fixation_a_token_is_never_taken_over_from_what_a_browser_brings(app: FastAPI) -> None:
    code, _ = offered(app)
    phone = Afar(app, token="planted-by-somebody-else")
    assert phone.get("/api/health").status_code == 401
    answer = phone.post("/api/pair", {"code": code})
    assert "planted" not in answer.headers["set-cookie"]
    assert Afar(app, token="planted-by-somebody-else").get("/api/health").status_code == 401


def test_a_token_that_is_revoked_is_worth_nothing_when_it_is_sent_again(
    app: FastAPI, controller: FakeController
) -> None:
    phone = paired(app, "operator", "Ada's phone")
    token = phone.cookies[cookie_name(HERE)]
    assert phone.get("/api/health").status_code == 200
    [device] = devices(app.state.record)
    revoke_device(app.state.record, device.number, "console", time.time())
    for caller in (phone, Afar(app, token=token), Afar(app, token=device.token_hash)):
        assert caller.get("/api/health").status_code == 401
        assert caller.post("/api/requests/abort").status_code == 401
    assert controller.asked == []


def test_what_is_kept_of_a_token_lets_nobody_in(app: FastAPI) -> None:
    phone = paired(app, "operator")
    assert phone.get("/api/health").status_code == 200
    [device] = devices(app.state.record)
    assert Afar(app, token=device.token_hash).get("/api/health").status_code == 401


def test_an_open_stream_is_cut_when_its_device_is_revoked(app: FastAPI) -> None:
    """The client asks for all of the stream: it has it only when the stream ends."""
    phone = paired(app, "watcher")

    async def story() -> float:
        transport = httpx.ASGITransport(app=app, client=("192.0.2.7", 50000))
        async with (
            app.router.lifespan_context(app),
            httpx.AsyncClient(transport=transport, base_url=HERE, cookies=phone.cookies) as client,
        ):
            stream = asyncio.create_task(client.get("/api/live"))
            await asyncio.sleep(0.7)
            assert not stream.done()
            revoke_device(app.state.record, 1, "console", time.time())
            began_s = time.monotonic()
            async with asyncio.timeout(5):
                answer = await stream
            assert answer.status_code == 200
            assert "event: frame" in answer.text
            return time.monotonic() - began_s

    assert asyncio.run(story()) < 1.5  # looked at each half second, by a list half a second old


def test_operators_list_and_revoke_devices(app: FastAPI) -> None:
    ada, ben = paired(app, "operator", "Ada's phone"), paired(app, "watcher", "Ben's phone")
    ben.get("/api/health")
    listed = ada.get("/api/devices").json()
    assert [(each["name"], each["role"], each["this_one"]) for each in listed] == [
        ("Ada's phone", "operator", True),
        ("Ben's phone", "watcher", False),
    ]
    assert not any("hash" in key for each in listed for key in each)
    assert ada.post("/api/devices/2/revoke").json() == {"ok": True, "says": "Ben's phone is no longer paired"}
    assert ben.get("/api/health").status_code == 401
    assert [each["name"] for each in ada.get("/api/devices").json()] == ["Ada's phone"]
    assert ada.post("/api/devices/2/revoke").status_code == 404
    with closing(sqlite3.connect(app.state.record)) as connection:
        [fields] = connection.execute("SELECT fields FROM event WHERE kind = 'device_revoked'").fetchone()
    assert "page: Ada's phone" in fields


def test_a_record_that_does_not_answer_takes_the_abort_from_nobody(
    app: FastAPI, controller: FakeController, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = paired(app, "watcher")
    assert phone.get("/api/health").status_code == 200
    with monkeypatch.context() as hanging:
        hanging.setattr(holders, "READ_WITHIN_S", 0.05)
        hanging.setattr(holders, "devices", lambda record: time.sleep(0.3))
        assert phone.post("/api/requests/abort").status_code == 200
    app.state.record.write_bytes(b"broken")
    assert phone.post("/api/requests/abort").status_code == 200
    assert Afar(app, token="x").post("/api/requests/abort").status_code == 401
    assert [each["request"] for each in controller.asked] == ["abort", "abort"]


def test_a_devices_note_is_under_its_name(app: FastAPI, controller: FakeController) -> None:
    operator = paired(app, "operator", "Ada's phone")
    assert operator.post("/api/requests/note", {"text": "two hairline cracks"}).status_code == 200
    assert controller.asked == [{"request": "note", "by": "page: Ada's phone", "text": "two hairline cracks"}]
