"""An answer left open: ended when all went well (a live stream at the end), cut when it failed."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from starlette.types import Receive, Scope, Send

from web.safety import Gate

SCOPE = {
    "type": "http",
    "method": "GET",
    "path": "/api/live",
    "headers": [(b"host", b"localhost")],
    "client": ("127.0.0.1", 50000),
}


def sent(fails: bool, whole: bool = False) -> list[Any]:
    """Return what goes out when the application begins an answer, and then returns or fails."""

    async def application(scope: Scope, receive: Receive, send: Send) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"event", "more_body": not whole})
        if fails:
            raise OSError("the card is gone")

    messages: list[Any] = []

    async def send(message: Any) -> None:
        messages.append(message)

    async def receive() -> Any:
        return {"type": "http.disconnect"}

    asyncio.run(Gate(application)(dict(SCOPE), receive, send))
    return messages


def test_a_stream_that_stops_is_ended() -> None:
    assert sent(fails=False)[-1] == {"type": "http.response.body", "body": b"", "more_body": False}


def test_an_answer_that_is_whole_is_not_ended_twice() -> None:
    assert len(sent(fails=False, whole=True)) == 2


def test_half_an_answer_never_looks_whole() -> None:
    assert sent(fails=True)[-1]["more_body"] is True


@pytest.mark.parametrize("whole", [True, False])
def test_the_headers_are_there_all_the_same(whole: bool) -> None:
    assert dict(sent(fails=False, whole=whole)[0]["headers"])[b"x-frame-options"] == b"DENY"
