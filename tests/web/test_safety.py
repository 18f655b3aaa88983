"""What a stranger's page, a foreign name or an oversized body gets: nothing but one line."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI

from tests.web.fake_controller import FakeController
from web import body
from web.app import build_app

JSON = {"Content-Type": "application/json"}


@pytest.fixture
def app(controller: FakeController, tmp_path: Path) -> FastAPI:
    return build_app(controller.path, tmp_path / "record.db")


def call(
    app: FastAPI,
    method: str,
    path: str,
    headers: dict[str, str],
    content: bytes | AsyncIterator[bytes] = b"{}",
) -> httpx.Response:
    async def story() -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost:8321") as client:
            return await client.request(
                method, path, headers=headers, content=content if method == "POST" else None
            )

    return asyncio.run(story())


@pytest.mark.parametrize("host", ["localhost", "localhost:8321", "127.0.0.1:8321", "[::1]:8321", "LOCALHOST"])
def test_this_machines_own_names_are_answered(app: FastAPI, host: str) -> None:
    assert call(app, "GET", "/api/health", {"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "kiln.example",
        "127.0.0.1.example",
        "localhost.example:8321",
        "192.0.2.7:8321",
        "localhost@evil.example",
        "evil.example/localhost",
        "localhost:port",
        "[::1",
        "",
    ],
)
def test_a_foreign_name_is_refused_for_page_and_api(app: FastAPI, host: str) -> None:
    for path in ("/", "/api/health", "/static/now/app.js"):
        answer = call(app, "GET", path, {"Host": host})
        assert answer.status_code == 421, path
        assert set(answer.json()) == {"ok", "says"}


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": "http://localhost:8321", **JSON}, 200),
        ({"Origin": "http://localhost:8321", "Content-Type": "application/json; charset=utf-8"}, 200),
        (JSON, 403),
        ({"Origin": "null", **JSON}, 403),
        ({"Origin": "http://localhost", **JSON}, 403),
        ({"Origin": "http://localhost:9000", **JSON}, 403),
        ({"Origin": "https://localhost:8321", **JSON}, 403),
        ({"Origin": "http://evil.example", **JSON}, 403),
        ({"Origin": "http://localhost:8321", "Sec-Fetch-Site": "cross-site", **JSON}, 403),
        ({"Origin": "http://localhost:8321", "Sec-Fetch-Site": "same-site", **JSON}, 403),
        ({"Origin": "http://localhost:8321", "Sec-Fetch-Site": "same-origin", **JSON}, 200),
        ({"Origin": "http://localhost:8321", "Content-Type": "text/plain"}, 415),
        ({"Origin": "http://localhost:8321", "Content-Type": "application/x-www-form-urlencoded"}, 415),
        ({"Origin": "http://localhost:8321"}, 415),
    ],
)
def test_a_post_comes_from_our_own_page_as_json_or_not_at_all(
    app: FastAPI, controller: FakeController, headers: dict[str, str], status: int
) -> None:
    answer = call(app, "POST", "/api/requests/hold", headers)
    assert answer.status_code == status
    assert len(controller.asked) == (1 if status == 200 else 0)


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_another_sites_page_cannot_read_the_stream(app: FastAPI, site: str) -> None:
    assert call(app, "GET", "/api/live", {"Sec-Fetch-Site": site}).status_code == 403


@pytest.mark.parametrize("path", ["/", "/static/now/app.js", "/api/health", "/api/nothing"])
def test_every_answer_carries_the_headers_that_keep_the_page_alone(app: FastAPI, path: str) -> None:
    headers = call(app, "GET", path, {}).headers
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == ("no-store" if path.startswith("/api/") else "no-cache")
    assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize("size", [body.USUAL_ROOM.limit_bytes, body.USUAL_ROOM.limit_bytes + 1])
@pytest.mark.parametrize("chunked", [False, True])
def test_a_body_has_a_limit(app: FastAPI, controller: FakeController, size: int, chunked: bool) -> None:
    """Just at the limit it is read (and is no JSON: 422); one byte more and it is not (413)."""

    async def pieces() -> AsyncIterator[bytes]:
        for start in range(0, size, 5000):
            yield b" " * min(5000, size - start)

    content = pieces() if chunked else b" " * size
    answer = call(app, "POST", "/api/requests/hold", {"Origin": "http://localhost:8321", **JSON}, content)
    assert answer.status_code == (413 if size > body.USUAL_ROOM.limit_bytes else 422)
    assert controller.asked == []


def test_a_body_that_does_not_arrive_is_not_waited_for(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(body, "USUAL_ROOM", body.USUAL_ROOM._replace(time_s=0.05))

    async def dripping() -> AsyncIterator[bytes]:
        while True:
            yield b" "
            await asyncio.sleep(0.02)

    answer = call(app, "POST", "/api/requests/hold", {"Origin": "http://localhost:8321", **JSON}, dripping())
    assert answer.status_code == 408


def test_a_length_that_is_no_number_is_refused(app: FastAPI) -> None:
    headers = {"Origin": "http://localhost:8321", "Content-Length": "-1", **JSON}
    assert call(app, "POST", "/api/requests/hold", headers).status_code == 413
