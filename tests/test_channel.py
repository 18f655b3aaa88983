"""The local channel: requests get answers, listeners get frames, nobody is waited for."""

from __future__ import annotations

import asyncio
import json
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from controller.channel import Channel
from controller.channel_client import ChannelClient, frames
from controller.errors import ChannelError
from controller.live import Reply


class Stand:
    """A channel over invented frames."""

    def __init__(self, folder: Path) -> None:
        self.n = 0
        self.asked: list[dict[str, Any]] = []
        self.channel = Channel(folder / "channel.sock", self.ask, self.newest)

    def ask(self, message: dict[str, Any]) -> Reply:
        self.asked.append(message)
        return {"ok": message["request"] != "abort", "says": "noted"}

    def newest(self) -> Any:
        self.n += 1
        return {"n": self.n, "state": "running", "pad": "x" * 2000}


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    made = Stand(tmp_path)
    made.channel.start()
    yield made
    made.channel.close()


def test_a_request_gets_its_answer(stand: Stand) -> None:
    client = ChannelClient(stand.channel.path)
    assert client.ask({"request": "hold", "by": "test"}) == {"ok": True, "says": "noted"}
    assert client.ask({"request": "abort", "by": "test"})["ok"] is False
    assert [message["request"] for message in stand.asked] == ["hold", "abort"]


def test_a_listener_gets_a_frame_at_once_and_then_the_newest(stand: Stand) -> None:
    async def listen() -> list[int]:
        seen = []
        async for frame in frames(stand.channel.path):
            seen.append(frame["n"])
            stand.channel.tell()
            if len(seen) == 3:
                break
        return seen

    seen = asyncio.run(listen())
    assert seen == sorted(seen)
    assert len(set(seen)) == 3


def test_a_listener_that_does_not_read_holds_nobody_up(stand: Stand) -> None:
    with socket.socket(socket.AF_UNIX) as lazy:
        lazy.connect(str(stand.channel.path))
        lazy.sendall(b'{"subscribe": true}\n')
        for _ in range(50):
            stand.channel.tell()
        assert ChannelClient(stand.channel.path).ask({"request": "hold", "by": "test"})["ok"]


@pytest.mark.parametrize("line", [b"nonsense\n", b"[1]\n", b"\xff\xfe\n"])
def test_what_is_not_an_object_is_answered_in_words(stand: Stand, line: bytes) -> None:
    with socket.socket(socket.AF_UNIX) as client:
        client.settimeout(5.0)
        client.connect(str(stand.channel.path))
        client.sendall(line)
        assert json.loads(client.recv(4096))["ok"] is False


def test_only_its_owner_may_open_the_socket(stand: Stand) -> None:
    assert stand.channel.path.stat().st_mode & 0o077 == 0


def test_a_channel_that_cannot_be_opened_says_so(tmp_path: Path) -> None:
    stand = Stand(tmp_path / "nowhere")
    with pytest.raises(ChannelError, match=r"channel\.sock"):
        stand.channel.start()


def test_a_closed_channel_leaves_no_thread_and_no_socket(tmp_path: Path) -> None:
    stand = Stand(tmp_path)
    stand.channel.start()
    stand.channel.close()
    assert not stand.channel.path.exists()
    assert "channel" not in [thread.name for thread in threading.enumerate()]
