"""What a worker is given to do in tests of the worker: light, so that it starts at once."""

from __future__ import annotations

import os
import time
from typing import Any


def where() -> dict[str, Any]:
    """Which process this is, and how it is niced."""
    return {"pid": os.getpid(), "nice": os.getpriority(os.PRIO_PROCESS, 0)}


def slow(seconds: float) -> dict[str, Any]:
    """Take a while."""
    time.sleep(seconds)
    return where()


def die() -> dict[str, Any]:
    """End the process in the middle of its work."""
    os._exit(9)
