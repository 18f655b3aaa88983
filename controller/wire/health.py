"""How well each instrument has answered since its wire was opened."""

from __future__ import annotations

from typing import NamedTuple


class Health(NamedTuple):
    """One instrument's count of questions answered and missed, and why the last one was missed.

    A refusal is an answer. `took_s` is how long the last answer took, s.
    """

    answers: int = 0
    misses: int = 0
    last_reason: str = ""
    took_s: float = 0.0


class HealthBook:
    """The health of every instrument on one wire, by its number."""

    def __init__(self) -> None:
        self._known: dict[int, Health] = {}

    def answered(self, unit: int, took_s: float) -> None:
        """Note an answer."""
        was = self._known.get(unit, _NEW)
        self._known[unit] = Health(was.answers + 1, was.misses, was.last_reason, took_s)

    def missed(self, unit: int, reason: str) -> None:
        """Note that a question went without one."""
        was = self._known.get(unit, _NEW)
        self._known[unit] = Health(was.answers, was.misses + 1, reason, was.took_s)

    def all(self) -> dict[int, Health]:
        """Return what is known, by the instrument's number."""
        return dict(self._known)


_NEW = Health()
