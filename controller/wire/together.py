"""A kiln on wires of more than one kind: the inputs of each, asked one after the other, told as one."""

from __future__ import annotations

from collections.abc import Sequence

from controller.wire.health import Health
from controller.wire.inputs import Heard, Inputs, Polled


class InputsTogether:
    """Several `Inputs` as one. What is read back of the heat is what `heater`, one of the parts, says."""

    def __init__(self, parts: Sequence[Inputs], heater: Inputs) -> None:
        self._parts = parts
        self._heater = heater

    def poll(self) -> Polled:
        """Ask for everything once, and say what came. Never raises for the wire's faults."""
        polled = [(part, part.poll()) for part in self._parts]
        switched = next(one for part, one in polled if part is self._heater)
        return Polled(
            {role: reading for _, one in polled for role, reading in one.readings.items()},
            {role: contact for _, one in polled for role, contact in one.contacts.items()},
            switched.heat_on,
            switched.main_on,
            tuple(error for _, one in polled for error in one.errors),
        )

    def heard(self) -> list[Heard]:
        """Return what the last poll brought, raw."""
        return [heard for part in self._parts for heard in part.heard()]

    def health(self) -> dict[tuple[str, int], Health]:
        """Return how well each instrument has answered, by its bus and number."""
        return {key: one for part in self._parts for key, one in part.health().items()}

    def close(self) -> None:
        """Let go of the wires."""
        for part in self._parts:
            part.close()
