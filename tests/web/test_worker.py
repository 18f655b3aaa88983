"""The worker process: another one, niced, one at a time; what is too slow or too much is told so."""

from __future__ import annotations

import asyncio
import os
import time
from collections.abc import Coroutine
from typing import Any

import anyio
import pytest

from controller.errors import StokeholdError
from web.estimates import worker
from web.estimates.worker import BusyError, Worker, here

WHERE, SLOW, DIE = (f"tests.web.estimating:{name}" for name in ("where", "slow", "die"))


def run(story: Coroutine[Any, Any, None]) -> None:
    asyncio.run(story)


def test_it_is_one_other_process_behind_everything_else_and_the_loop_goes_on_meanwhile() -> None:
    async def story() -> None:
        work = Worker()
        first = await work(WHERE)
        assert first["pid"] != os.getpid()
        assert first["nice"] >= worker.NICE
        began_s, turns = time.monotonic(), 0
        slow = asyncio.create_task(work(SLOW, 0.3))
        while not slow.done():
            await asyncio.sleep(0.01)
            turns += 1
        assert time.monotonic() - began_s >= 0.3
        assert turns > 10
        assert slow.result()["pid"] == first["pid"]

    run(story())


def test_what_takes_too_long_is_given_up_and_the_next_one_is_served(monkeypatch: pytest.MonkeyPatch) -> None:
    async def story() -> None:
        work = Worker()
        first = await work(WHERE)
        monkeypatch.setattr(worker, "LONGEST_S", 0.1)
        with pytest.raises(BusyError, match="given up"):
            await work(SLOW, 30.0)
        monkeypatch.setattr(worker, "LONGEST_S", 20.0)
        assert (await work(WHERE))["pid"] != first["pid"]

    run(story())


def test_too_many_are_told_so_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    async def story() -> None:
        work = Worker()
        monkeypatch.setattr(worker, "MOST_WAITING", 1)
        waiting = [asyncio.create_task(work(SLOW, 0.2)) for _ in range(2)]
        await asyncio.sleep(0)
        with pytest.raises(BusyError, match="too many"):
            await work(WHERE)
        done = await asyncio.gather(*waiting)
        assert len({each["pid"] for each in done}) == 1  # one after the other
        assert (await work(WHERE))["pid"]

    run(story())


def test_a_worker_that_dies_is_replaced() -> None:
    async def story() -> None:
        work = Worker()
        with pytest.raises(anyio.BrokenWorkerProcess):  # whoever asks tells it as a fault
            await work(DIE)
        assert (await work(WHERE))["pid"]

    run(story())


def test_busy_is_an_error_that_a_person_is_told() -> None:
    assert issubclass(BusyError, StokeholdError)
    assert here(WHERE)["pid"] == os.getpid()
