"""One subscription for everybody, only the newest event for each, and the plain word when it is lost."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncGenerator, AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from controller.errors import ChannelError
from controller.live import Frame
from tests.web import invented
from web import hub as hub_room
from web.hub import Hub

Script = Callable[[], AsyncGenerator[Frame, None]]


def frame(n: int, **changes: Any) -> Frame:
    return Frame(**{**invented.running(), "n": n, **changes})  # type: ignore[typeddict-item]


@asynccontextmanager
async def listening(script: Script) -> AsyncIterator[Hub]:
    """A hub that listens to a scripted controller."""
    hub = Hub(Path("nowhere"), lambda path: script())
    task = asyncio.create_task(hub.run())
    try:
        yield hub
    finally:
        task.cancel()
        await asyncio.wait([task])


def parsed(event: bytes) -> tuple[str, dict[str, Any]]:
    fields = dict(line.split(": ", 1) for line in event.decode().splitlines() if line)
    assert fields["id"].isdigit()
    return fields["event"], json.loads(fields["data"])


async def endless(first: int = 1, every_s: float = 0.01) -> AsyncGenerator[Frame, None]:
    n = first
    while True:
        yield frame(n)
        n += 1
        await asyncio.sleep(every_s)


def test_every_viewer_gets_frames_from_one_subscription() -> None:
    subscriptions = []

    async def script() -> AsyncGenerator[Frame, None]:
        subscriptions.append(1)
        async for each in endless():
            yield each

    async def story() -> list[tuple[str, dict[str, Any]]]:
        async with listening(script) as hub:
            return [parsed(await anext(hub.events())) for _ in range(3)]

    got = asyncio.run(story())
    assert [kind for kind, _ in got] == ["frame"] * 3
    assert len(subscriptions) == 1


def test_a_slow_viewer_skips_to_the_newest_frame() -> None:
    async def story() -> tuple[int, int]:
        async with listening(endless) as hub:
            viewer = hub.events()
            _, first = parsed(await anext(viewer))
            await asyncio.sleep(0.3)
            _, second = parsed(await anext(viewer))
            assert hub.frame is not None
            assert hub.frame["n"] - second["n"] <= 2
            _, third = parsed(await anext(viewer))
            assert third["n"] > second["n"]
            await viewer.aclose()  # type: ignore[attr-defined]
            assert hub.viewers == 0
            return first["n"], second["n"]

    first, second = asyncio.run(story())
    assert second - first > 10


def test_a_frame_from_before_the_silence_is_given_to_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hub_room, "STILL_S", 0.1)

    async def script() -> AsyncGenerator[Frame, None]:
        yield frame(1)
        await asyncio.sleep(60)

    async def story() -> None:
        async with listening(script) as hub:
            assert parsed(await anext(hub.events()))[0] == "frame"
            await asyncio.sleep(0.2)
            with pytest.raises(TimeoutError):
                async with asyncio.timeout(0.2):
                    await anext(hub.events())

    asyncio.run(story())


def test_a_lost_controller_is_told_at_once_and_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hub_room, "REPEAT_S", 0.05)
    monkeypatch.setattr(hub_room, "RETRY_S", 60)

    async def script() -> AsyncGenerator[Frame, None]:
        yield frame(1)
        raise ChannelError("the controller closed the line")

    async def story() -> list[tuple[str, dict[str, Any]]]:
        async with listening(script) as hub, asyncio.timeout(2):
            viewer = hub.events()
            got = [parsed(await anext(viewer)) for _ in range(3)]
            assert hub.frame is None
            assert hub.firing == 12  # its curve can still be asked for
            return got

    got = asyncio.run(story())
    lost = [data for kind, data in got if kind == "lost"]
    assert len(lost) >= 2
    assert lost[0]["says"] == "the controller closed the line"
    assert lost[0]["ever"] is True
    assert lost[0]["for_s"] < 1


def test_it_finds_the_controller_again_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hub_room, "RETRY_S", 0.02)
    lives = iter([None, None, "here"])

    async def script() -> AsyncGenerator[Frame, None]:
        if next(lives) is None:
            raise ChannelError("no controller answers")
        async for each in endless():
            yield each

    async def story() -> list[str]:
        async with listening(script) as hub, asyncio.timeout(2):
            kinds = []
            async for event in hub.events():
                kinds.append(parsed(event)[0])
                if kinds[-1] == "frame":
                    return kinds
            return kinds

    kinds = asyncio.run(story())
    assert kinds[0] == "lost"
    assert kinds[-1] == "frame"


def test_ticks_that_stand_still_are_no_sign_of_life(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hub_room, "STILL_S", 0.1)

    async def script() -> AsyncGenerator[Frame, None]:
        while True:
            yield frame(7, tick_s=0.01)
            await asyncio.sleep(0.02)

    async def story() -> dict[str, Any]:
        async with listening(script) as hub, asyncio.timeout(2):
            async for event in hub.events():
                kind, data = parsed(event)
                if kind == "lost":
                    return data
        return {}

    assert asyncio.run(story())["says"] == "the controller answers, but its ticks have stood still at 7"


def test_a_slow_tick_is_not_taken_for_a_dead_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hub_room, "STILL_S", 0.05)

    async def script() -> AsyncGenerator[Frame, None]:
        for _ in range(10):
            yield frame(7, tick_s=1.0)
            await asyncio.sleep(0.02)
        yield frame(8)
        await asyncio.sleep(60)

    async def story() -> list[str]:
        async with listening(script) as hub, asyncio.timeout(2):
            kinds = []
            async for event in hub.events():
                kind, data = parsed(event)
                kinds.append(kind)
                if data.get("n") == 8:
                    break
            return kinds

    assert "lost" not in asyncio.run(story())
