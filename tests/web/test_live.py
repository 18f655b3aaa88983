"""The live stream over a real socket: frames flow, many share one subscription, a loss is told at once."""

from __future__ import annotations

import json
from typing import Any

import httpx
import pytest

from tests.web.conftest import Server, wait_for

pytestmark = pytest.mark.wire


def test_the_live_stream_over_a_real_socket(server: Server) -> None:
    """Frames flow; a dead controller is told at once; health knows both."""
    with httpx.stream("GET", f"{server.url}/api/live", timeout=5) as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        lines = stream.iter_lines()
        kind, frame = next_event(lines)
        while kind == "lost":  # the viewer may be quicker than the subscription
            kind, frame = next_event(lines)
        assert (kind, frame["firing"]) == ("frame", 12)
        assert httpx.get(f"{server.url}/api/health").json()["controller"] == "here"
        assert httpx.get(f"{server.url}/api/curve").json()["firing"] == 12
        server.controller.die()
        while kind != "lost":
            kind, lost = next_event(lines)
        assert lost["ever"] is True
        assert httpx.get(f"{server.url}/api/health").json()["controller"] == "lost"
    wait_for(lambda: httpx.get(f"{server.url}/api/health").json()["viewers"] == 0)


def test_many_viewers_share_one_subscription(server: Server) -> None:
    with httpx.Client(limits=httpx.Limits(max_connections=50), timeout=5) as client:
        streams = [client.stream("GET", f"{server.url}/api/live") for _ in range(40)]
        opened = [stream.__enter__().iter_lines() for stream in streams]
        for lines in opened:
            assert next_event(lines)[0] in ("frame", "lost")
        assert client.get(f"{server.url}/api/health").json()["viewers"] == 40
        assert server.controller.listeners == 1
        for stream in streams:
            stream.__exit__(None, None, None)


def next_event(lines: Any) -> tuple[str, dict[str, Any]]:
    """Read one server-sent event."""
    fields: dict[str, str] = {}
    for line in lines:
        if not line and "data" in fields:
            return fields["event"], json.loads(fields["data"])
        name, _, value = line.partition(": ")
        fields[name] = value
    raise AssertionError("the stream ended")
