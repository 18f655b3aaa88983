"""A reading is good with a value and a time, or bad with a reason and a time; never a magic number."""

from __future__ import annotations

from typing import NamedTuple


class Reading(NamedTuple):
    """One measured temperature. Exactly one of `value_c` and `fault` is None.

    `at_s` is the controller's monotonic time (s) at which the value was taken from the wire; a
    reading that could not be renewed keeps its old time and grows stale.
    """

    value_c: float | None
    fault: str | None
    at_s: float


class Contact(NamedTuple):
    """One digital input. `on` None means unknown, with the reason in `fault`; unknown is never safe."""

    on: bool | None
    fault: str | None
    at_s: float
