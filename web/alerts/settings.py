"""What a person may set about alerts: frozen data. Addresses are secrets and show in no `repr`."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, get_args

Kind = Literal["person", "alarm", "pour", "finished", "lost"]
KINDS: tuple[Kind, ...] = get_args(Kind)
# Told at any hour, again and again, until somebody acknowledges; the others are told once.
URGENT: tuple[Kind, ...] = ("person", "alarm", "lost")
MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True, slots=True)
class Quiet:
    """Hours in which what can wait does wait, by the clock of the kiln's computer; over midnight if need be.

    `from_min`, `to_min`: minutes since midnight.
    """

    from_min: int
    to_min: int

    def holds_at(self, minute: float) -> bool:
        """Return whether a minute of the day lies within."""
        return (minute - self.from_min) % MINUTES_A_DAY < (self.to_min - self.from_min) % MINUTES_A_DAY


@dataclass(frozen=True, slots=True)
class Recipient:
    """Somebody who is told. `after_s`: only when nobody has acknowledged for so long."""

    name: str
    urls: tuple[str, ...] = field(repr=False)
    kinds: tuple[Kind, ...] = KINDS
    after_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """All of alerts.toml. Without recipients nothing is sent.

    `repeat_s`: the first pause before an unacknowledged message is sent again; each further one is twice
    as long. `melting_s`: how long the metal takes, where no job sheet says it.
    """

    to: tuple[Recipient, ...] = ()
    quiet: Quiet | None = None
    can_wait: tuple[Kind, ...] = ("finished",)
    pour_soon_s: float = 1800.0  # time to dress, and to light a furnace; common practice, no source
    melting_s: float | None = None
    lost_after_s: float = (
        120.0  # a restart of the controller takes a few seconds, one of the computer a minute
    )
    alarm_after_s: float = 60.0  # a glance through the door wakes nobody; a trip is told at once
    repeat_s: float = 300.0
    simulated: bool = False
    page: str = ""
    heartbeat_url: str | None = field(default=None, repr=False)
    heartbeat_every_s: float = 60.0
