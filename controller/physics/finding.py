"""Something that a schedule, a shell or a mould should not have: with its number and its remedy, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Weight = Literal["note", "warn", "stop"]
"""note: worth knowing; warn: likely to harm the piece; stop: will ruin the mould or harm people."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding. `found` and `limit` are numbers in `unit`; `at_s` is when, from the schedule's start."""

    key: str
    weight: Weight
    says: str
    remedy: str
    found: float
    limit: float
    unit: str
    at_s: float | None = None

    def __str__(self) -> str:
        return f"{self.says} {self.remedy}"
