"""A guard on a relay of the tests, with the clock in the hand."""

from __future__ import annotations

import json
from pathlib import Path

from controller.guard import Carried, Grant, Guard, Latch, LatchFile, Limits, Verdict
from controller.guard.judge import ALL_WELL
from controller.plain import from_plain, to_plain
from tests.guard.sights import LIMITS, sight


class Relay:
    """A relay of the tests: what it was told last, and switches that make it silent or unwilling."""

    def __init__(self) -> None:
        self.on = True  # power-up is unknown; the guard must make it off
        self.main = True
        self.broken = False
        self.refuses = False
        self.said: list[str] = []

    def _say(self, what: str) -> None:
        if self.broken:
            raise OSError("no answer")
        self.said.append(what)

    def energise(self, lease_s: float) -> None:
        if self.refuses:
            raise OSError("refused")
        self._say(f"energise {lease_s}")
        self.on = True

    def drop(self) -> None:
        self._say("drop")
        self.on = False

    def close_main(self) -> None:
        self._say("close_main")
        self.main = True

    def open_main(self) -> None:
        self._say("open_main")
        self.main = False


class Kept(LatchFile):
    """Latches kept as text, without a disk."""

    def __init__(self) -> None:
        super().__init__(Path())
        self.text = "[]"

    def load(self) -> tuple[Latch, ...]:
        return tuple(Latch(**one) for one in json.loads(self.text))

    def save(self, latches: tuple[Latch, ...]) -> None:
        self.text = json.dumps([latch._asdict() for latch in latches])


class Bench:
    """A guard on a relay, judged and asked once a second. Without a folder its latches are in memory."""

    def __init__(self, folder: Path | None = None, limits: Limits = LIMITS) -> None:
        self.now_s = 100.0
        self.air_c: object = 500.0
        self.limits = limits
        self.relay = Relay()
        self.latch_file = LatchFile(folder / "latches.json") if folder is not None else Kept()
        self.guard = self.another()
        self.grant = Grant(False, 0.0, ())
        self.verdict: Verdict = ALL_WELL

    def another(self) -> Guard:
        """Return a new guard on the same latches, as after a restart."""
        return Guard(self.relay, self.limits, self.latch_file, lambda: self.now_s)

    def carry_over(self) -> None:
        """Go on with a new guard that is given, as text, what the old one carried; the relay stands still."""
        was = self.relay.on, self.relay.main
        text = json.dumps(to_plain(self.guard.carries))
        carried: Carried = from_plain(Carried, json.loads(text))
        assert carried == self.guard.carries
        self.guard = self.another()
        self.guard._memory, self.guard._given = carried.memory, carried.given
        self.guard._granted_s, self.guard._main_closed = carried.granted_s, carried.main_closed
        self.guard._dropped = not carried.given.granted
        self.relay.on, self.relay.main = was

    def tick(self, wants: bool = True, wants_main: bool = True, **changes: object) -> bool:
        """Judge a healthy sight with changes, and propose heat; a second passes first."""
        self.now_s += 1.0
        self.air_c = changes.get("air_c", self.air_c)
        given = {"heat_on": self.relay.on, "main_on": self.relay.main} | changes
        self.verdict = self.guard.judge(sight(self.now_s, **given), 1e9 + self.now_s)  # type: ignore[arg-type]
        self.grant = self.guard.grant(wants, wants_main, self.now_s)
        return self.grant.heat

    @property
    def standing(self) -> dict[str, str]:
        """What stood at the last tick: the rows' ids, and what each found."""
        return {finding.row.id: finding.found for finding in self.verdict.findings}
