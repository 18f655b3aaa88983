"""The one worker process in which everything is estimated.

A niced process that is started when it is first needed, ends when nobody has asked for minutes and ends with
this one (anyio.to_process). One thing is worked out at a time; what waits too long, or would wait behind too
many, is told so. What is to be run is named, and not imported: the page's own process never loads a model.
"""

from __future__ import annotations

import importlib
import os
from collections.abc import Awaitable, Callable
from typing import Any

import anyio
import anyio.to_process

from controller.errors import StokeholdError

Json = dict[str, Any]
Run = Callable[..., Awaitable[Json]]
"""Runs a function, named as `"module:function"`, with arguments that can be pickled; returns its JSON."""

NICE = 10
LONGEST_S = 60.0
"""A forecast takes about a second here, some ten on a small board: what takes longer will not come."""
MOST_WAITING = 8
"""As many as wait in this lane; with one second each, the last one still has its answer while he waits."""


class BusyError(StokeholdError):
    """Too many wait for an estimate, or it took too long."""


class Worker:
    """The worker process, as a `Run`. Belongs to one event loop."""

    def __init__(self) -> None:
        self._lane = anyio.CapacityLimiter(1)
        self._waiting = 0

    async def __call__(self, name: str, *args: object) -> Json:
        """Run it in the worker. Raises BusyError; whatever else the function raises is a fault of ours."""
        if self._waiting > MOST_WAITING:
            raise BusyError("too many ask for an estimate at once; ask again in a moment")
        self._waiting += 1
        try:
            with anyio.fail_after(LONGEST_S):
                return await anyio.to_process.run_sync(
                    niced, name, args, cancellable=True, limiter=self._lane
                )
        except TimeoutError:
            raise BusyError(f"the estimate took longer than {LONGEST_S:.0f} s and was given up") from None
        finally:
            self._waiting -= 1


def niced(name: str, args: tuple[object, ...]) -> Json:
    """Run a named function, behind everything else that this computer has to do."""
    os.setpriority(os.PRIO_PROCESS, 0, max(NICE, os.getpriority(os.PRIO_PROCESS, 0)))
    return here(name, *args)


def here(name: str, *args: object) -> Json:
    """Run a named function in this process."""
    module, _, function = name.partition(":")
    found: Json = getattr(importlib.import_module(module), function)(*args)
    return found
