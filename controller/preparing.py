"""What is asked before a firing starts: the list that is looked at, the commissioning, the certificates.

A start that nobody prepared is refused in one line. What was looked at, and what was started in spite of, is
kept with the firing. Nothing here can permit heat: it can only refuse a start.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

from controller.commissioning import missing, refusal
from controller.config import KilnConfig
from controller.errors import StokeholdError
from controller.job_told import told_job
from controller.live import Look, Reply
from controller.prefire import prefire_items, start_refusal
from controller.schedule.model import Schedule

LONGEST_REACHABLE = 200  # characters: a few names and telephone numbers


class Preparing:
    """The questions before a start on one kiln.

    `home`: where the commissioning is kept; `today`: the date on the kiln's own calendar.
    """

    def __init__(self, config: KilnConfig, home: Path, today: Callable[[], date]) -> None:
        self._config = config
        self._home = home
        self._today = today

    def asked(self, schedule: Schedule) -> Reply:
        """Return what must be looked at before a start, and what of the commissioning is missing."""
        items = prefire_items(schedule, self._config)
        looks: list[Look] = [{"id": one.id, "says": one.says, "why": one.why} for one in items]
        return {"ok": True, "says": self.lacking(), "items": looks}

    def lacking(self) -> str:
        """Return what of the commissioning is missing today, in one line; empty when nothing is."""
        return refusal(missing(self._config, self._home, self._today()))

    def check(self, schedule: Schedule, message: dict[str, Any]) -> None:
        """Refuse a start that nobody has prepared. Raises StokeholdError with what is missing."""
        lacking = self.lacking()
        if lacking and message.get("attended") is not True:
            raise StokeholdError(lacking)
        ticked = message.get("ticked", [])
        if not isinstance(ticked, list) or not all(isinstance(one, str) for one in ticked):
            raise StokeholdError("ticked: expected a list of what was looked at")
        if why := start_refusal(prefire_items(schedule, self._config), ticked, _reachable(message)):
            raise StokeholdError(why)
        told_job(message)

    def events(self, message: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield what is kept with a firing that has just begun: its kind in the catalogue, and its fields."""
        yield (
            "prefire_checked",
            {
                "by": str(message.get("by", "?"))[:40],
                "ticked": ", ".join(str(one) for one in message.get("ticked", [])),
                "reachable": _reachable(message),
                "attended": message.get("attended") is True,
            },
        )
        if lacking := self.lacking():
            yield "commissioning_missing", {"says": lacking}
        for role, due_on in certificates_due(self._config, self._today()):
            yield "certificate_due", {"sensor": role, "due_on": due_on.isoformat()}


def certificates_due(config: KilnConfig, today: date) -> tuple[tuple[str, date], ...]:
    """Return the sensors whose calibration certificate counts no longer: role, and since which day."""
    return tuple(
        (role, reader.calibration.due_on)
        for role, reader in config.readers.items()
        if reader.calibration is not None and reader.calibration.due(today)
    )


def _reachable(message: dict[str, Any]) -> str:
    return str(message.get("reachable", ""))[:LONGEST_REACHABLE]
