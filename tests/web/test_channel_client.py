"""The client's side of the channel: a controller that answers, falls silent, babbles or is not there."""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from controller.channel_client import ChannelClient, frames
from controller.errors import ChannelError
from controller.live import Frame
from tests.web.fake_controller import CODE, FakeController


def first_frames(path: Path, count: int, silence_s: float = 2.0) -> list[Frame]:
    async def take() -> list[Frame]:
        got: list[Frame] = []
        async for frame in frames(path, silence_s):
            got.append(frame)
            if len(got) == count:
                break
        return got

    return asyncio.run(take())


@contextmanager
def one_answer(path: Path, answer: bytes) -> Iterator[None]:
    """A wrong controller: it says the same to whoever comes, once, and hangs up."""
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(path))
        listener.listen()

        def answer_once() -> None:
            line, _ = listener.accept()
            with line:
                line.recv(1000)
                line.sendall(answer)

        thread = threading.Thread(target=answer_once)
        thread.start()
        yield
        thread.join(5)


def test_a_request_gets_its_reply(controller: FakeController) -> None:
    reply = ChannelClient(controller.path).ask({"request": "hold", "by": "test"})
    assert reply == {"ok": True, "says": "hold: done"}
    assert controller.asked == [{"request": "hold", "by": "test"}]


def test_a_refusal_is_a_reply_not_an_error(controller: FakeController) -> None:
    client = ChannelClient(controller.path)
    assert not client.ask({"request": "release", "by": "test", "presence": "0000"})["ok"]
    assert client.ask({"request": "release", "by": "test", "presence": CODE})["ok"]


def test_without_a_controller_the_error_is_one_line_that_says_how_to_start_one(tmp_path: Path) -> None:
    with pytest.raises(ChannelError) as caught:
        ChannelClient(tmp_path / "channel.sock").ask({"request": "hold", "by": "test"})
    assert (
        str(caught.value)
        == f"no controller answers at {tmp_path}/channel.sock: start one with `stokehold run`"
    )


def test_a_path_too_long_for_a_socket_is_one_line_too(tmp_path: Path) -> None:
    with pytest.raises(ChannelError, match="cannot be reached: AF_UNIX path too long"):
        ChannelClient(tmp_path / ("x" * 200)).ask({"request": "hold", "by": "test"})


def test_a_controller_that_does_not_answer_is_waited_for_no_longer_than_asked(
    controller: FakeController,
) -> None:
    controller.silent = True
    with pytest.raises(ChannelError, match=r"did not answer in 0\.2 s"):
        ChannelClient(controller.path).ask({"request": "abort", "by": "test"}, timeout_s=0.2)


def test_a_controller_that_takes_no_more_calls_is_not_waited_for(tmp_path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as busy, socket.socket(socket.AF_UNIX) as first:
        busy.bind(str(tmp_path / "s"))
        busy.listen(0)
        first.connect(str(tmp_path / "s"))
        with pytest.raises(ChannelError, match="cannot be reached"):
            ChannelClient(tmp_path / "s").ask({"request": "hold", "by": "test"}, timeout_s=0.2)


@pytest.mark.parametrize("answer", [b"", b"no\n", b"[1]\n", b'{"ok": 1, "says": "x"}\n', b'{"ok": true}\n'])
def test_an_answer_that_is_none_is_told(tmp_path: Path, answer: bytes) -> None:
    with (
        one_answer(tmp_path / "s", answer),
        pytest.raises(ChannelError, match="expected ok and says"),
    ):
        ChannelClient(tmp_path / "s").ask({"request": "hold", "by": "test"})


def test_frames_come_one_after_another(controller: FakeController) -> None:
    got = first_frames(controller.path, 3)
    assert [frame["n"] for frame in got] == [got[0]["n"], got[0]["n"] + 1, got[0]["n"] + 2]
    assert got[0]["title"] == "Printed PLA in nine-coat silica shell"


def test_frames_of_no_controller_raise(tmp_path: Path) -> None:
    with pytest.raises(ChannelError, match="no controller answers"):
        first_frames(tmp_path / "channel.sock", 1)


def test_frames_raise_when_the_controller_dies(controller: FakeController) -> None:
    threading.Timer(0.3, controller.die).start()
    with pytest.raises(ChannelError, match="closed the line"):
        first_frames(controller.path, 1000)


def test_frames_raise_when_the_controller_is_silent(controller: FakeController) -> None:
    controller.silent = True
    with pytest.raises(ChannelError, match=r"silent for 0\.2 s"):
        first_frames(controller.path, 1, silence_s=0.2)


@pytest.mark.parametrize("line", [b"{}\n", b"hello\n", b'{"n": "1", "state": "idle"}\n'])
def test_what_is_no_frame_raises(tmp_path: Path, line: bytes) -> None:
    with one_answer(tmp_path / "s", line), pytest.raises(ChannelError, match="expected a frame"):
        first_frames(tmp_path / "s", 1)


def test_a_number_that_is_not_finite_becomes_nothing(tmp_path: Path) -> None:
    with one_answer(tmp_path / "s", b'{"n": 1, "state": "idle", "setpoint_c": NaN, "duty": Infinity}\n'):
        [frame] = first_frames(tmp_path / "s", 1)
    assert frame["setpoint_c"] is None
    assert frame["duty"] is None
