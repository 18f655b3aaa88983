"""Every address against whatever its own description allows and forbids: nothing makes the page fail.

The description is the application's own (OpenAPI), so an address that is added is tried from then on.
"""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path
from typing import Any

import httpx
import pytest
import schemathesis
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis.errors import Unsatisfiable
from hypothesis.strategies import SearchStrategy
from schemathesis import Case, GenerationMode

from tests.web import invented_past
from tests.web.fake_controller import FakeController
from web.app import build_app
from web.estimates.worker import Json, here
from web.past import routes as past

HERE = "http://localhost:8321"
# A stream has no end to wait for.
STREAMS = {"/api/live"}
# Its whole purpose is a 503 when the controller is lost.
TELLS_ILLNESS = {"/api/health/well"}
# All addresses together get this many calls, and each of them at least a few: a quarter of a minute at most.
CALLS = 250
FEWEST = 4


@pytest.fixture
def app(controller: FakeController, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> FastAPI:
    monkeypatch.setattr(past, "report", lambda *_: b"a report")  # drawing one takes a second
    invented_past.write(tmp_path / "record.db", firings=1, ticks=40)
    return build_app(controller.path, tmp_path / "record.db", run=run)


async def run(name: str, *args: object) -> Json:
    """Estimate in this process, by the real functions; the worker's own process has its own tests."""
    return await asyncio.to_thread(here, name, *args)


def answer(app: FastAPI, case: Case) -> httpx.Response:
    """Send a case as our own page would."""
    sent = case.as_transport_kwargs(base_url=HERE)
    headers = {str(name): str(value) for name, value in (sent.get("headers") or {}).items()}
    more: dict[str, Any] = {"json": sent["json"]} if "json" in sent else {"content": _bytes(sent.get("data"))}
    more["headers"] = headers | {"Origin": HERE, "Content-Type": "application/json"}

    async def story() -> httpx.Response:
        transport = httpx.ASGITransport(app=app, raise_app_exceptions=True)
        async with httpx.AsyncClient(transport=transport, base_url=HERE) as client:
            return await client.request(sent["method"], sent["url"], params=sent.get("params"), **more)

    return asyncio.run(story())


def _bytes(data: Any) -> bytes:
    return data if isinstance(data, bytes) else str(data or "").encode(errors="replace")


def codes(app: FastAPI, strategy: SearchStrategy[Case], examples: int) -> set[int]:
    """Return the status codes that an address gives; fail when one of them is the page's own fault."""
    found: set[int] = set()

    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    @given(strategy)
    def is_answered(case: Case) -> None:
        got = answer(app, case)
        told = case.operation.path in TELLS_ILLNESS and got.status_code == 503
        assert got.status_code < 500 or told, (case.as_curl_command(), got.text)
        found.add(got.status_code)

    with contextlib.suppress(Unsatisfiable):  # an address that is given nothing can be given nothing wrong
        is_answered()
    return found


@pytest.mark.timeout(180)  # eight seconds on two idle cores
def test_nothing_that_is_sent_makes_the_page_fail(app: FastAPI) -> None:
    found = [each.ok() for each in schemathesis.openapi.from_dict(app.openapi()).get_all_operations()]
    operations = [each for each in found if each.path not in STREAMS]
    examples = max(FEWEST, CALLS // (2 * len(operations)))
    tried: dict[str, set[int]] = {}
    for operation in operations:
        allowed, forbidden = (operation.as_strategy(generation_mode=mode) for mode in GenerationMode)
        tried[operation.label] = codes(app, allowed, examples) | codes(app, forbidden, examples)
    assert len(tried) >= 12
    assert tried["POST /api/requests/{kind}"] >= {200, 422}
    assert tried["GET /api/firings"] >= {200, 422}
    assert tried["GET /api/firings/{number}"] >= {200, 404}, tried
