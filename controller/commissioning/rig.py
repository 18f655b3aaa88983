"""A kiln opened for one step of bring-up: its inputs, and its heat behind a guard.

The heat output goes from the opener straight into a new guard, which drops the heat and opens the main
contactor before anything else; nothing else keeps it. The tick is the real one. A rig that is closed, in
whatever way, leaves the heat off.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from controller.assemble import LATCHES_NAME, tick_loop
from controller.clock import Clock
from controller.commissioning.person import Person
from controller.commissioning.result import Result
from controller.config import KilnConfig
from controller.config.model import BoardSwitchConfig, SwitchConfig
from controller.control import Plan, Switching, Tuning
from controller.firing import Cue, Request
from controller.guard import LatchFile, watch_leases
from controller.schedule.model import Hold, Ramp, Schedule, Stage
from controller.service import LATE_SHARE, LONGEST_GAP_TICKS
from controller.tick import Ticked
from controller.wire.inputs import Polled

# A gain that asks for full heat whatever the kiln's own gain is: the relay's steps want the relay to move.
ALL_OR_NOTHING = Tuning(1.0, 1e6)


# The setpoint goes where it is to go within a minute: these steps are about the kiln, not about a rate.
FAST_C_PER_H = 6000.0


class Poller(Protocol):
    """The inputs of a kiln."""

    def poll(self) -> Polled:
        """Ask for everything once."""

    def close(self) -> None:
        """Let go of the wires."""


# What opens a kiln: its inputs, and the heat output of whatever wire it is, which goes to the guard unseen.
Opener = Callable[[KilnConfig, Callable[[], float]], tuple[Poller, Any]]


class Seen(NamedTuple):
    """One poll, and when it was (s)."""

    at_s: float
    polled: Polled


@dataclass(frozen=True, slots=True)
class Bench:
    """What a step works with. `keeper_s`: seconds of the wall between the lease keeper's looks.

    `earlier`: the results so far, for a step that builds on another.
    """

    config: KilnConfig
    home: Path
    clock: Clock
    person: Person
    opener: Opener
    keeper_s: float = 0.25
    earlier: Mapping[str, Result] = field(default_factory=dict)

    @contextmanager
    def rig(self, *, main: bool = True, keeper: bool = True) -> Iterator[Rig]:
        """Open the kiln, and close it again with the heat off.

        `main` False: the guard is given no main contactor, so that it stays open whatever is granted; the
        relay is then asked for all or nothing. `keeper` False: nothing here ends a lease.
        """
        config = self.config if main else replace(self.config, main_contactor=None)
        rig = Rig(self, config)
        try:
            if keeper:
                rig.keep_leases(self.keeper_s)
            yield rig
        finally:
            rig.close()


class Rig:
    """An open kiln. `loop` is the real tick, with the guard and, behind it, the heat."""

    def __init__(self, bench: Bench, config: KilnConfig) -> None:
        self._clock = bench.clock
        self._tick_s = config.tick_s
        self._has_main = config.main_contactor is not None
        self._stopped = threading.Event()
        self._due_s: float | None = None
        self._last_s = 0.0
        self.inputs, output = bench.opener(config, bench.clock.now_s)
        self.hardware_lease = bool(getattr(output, "has_hardware_lease", False))
        self.loop = tick_loop(config, output, LatchFile(bench.home / LATCHES_NAME), bench.clock.now_s)
        if not self._has_main:
            known = config.control
            switching = Switching(known.cycle_s, known.shortest_on_s, known.shortest_off_s)
            self.loop.plan = Plan(ALL_OR_NOTHING, switching, config.heater.power_w)

    def keep_leases(self, every_s: float) -> None:
        """Start the lease keeper, as in service."""
        watch_leases(self.loop.guard, every_s, self._stopped)

    def close(self) -> None:
        """Heat off, main contactor open, wires let go."""
        self.loop.guard.withdraw()
        self._stopped.set()
        self.inputs.close()

    def trips(self) -> tuple[str, ...]:
        """Return the rows of the trips that stand."""
        return tuple(latch.row_id for latch in self.loop.guard.latches)

    def start(self, *stages: Stage) -> Ticked:
        """Start a schedule of these stages, by a tick."""
        return self.tick(Request(Cue.START, schedule=Schedule("commissioning", stages)))

    def tick(self, *requests: Request) -> Ticked:
        """Wait for the next tick and carry it out. A tick that comes late grants nothing, as in service."""
        clock, tick_s = self._clock, self._tick_s
        if self._due_s is None:
            self._due_s = self._last_s = clock.now_s()
        clock.sleep_until(self._due_s)
        now_s = clock.now_s()
        late_s = now_s - self._due_s
        dt_s = min(now_s - self._last_s, LONGEST_GAP_TICKS * tick_s)
        told_s = late_s if late_s > LATE_SHARE * tick_s else 0.0
        polled = self.inputs.poll()
        if not self._has_main:
            polled = polled._replace(main_on=None)  # open on purpose, so the guard is not to mind it
        ticked = self.loop.tick(polled, now_s, clock.utc_s(), dt_s, told_s, requests)
        self._last_s = now_s
        self._due_s = self._due_s + tick_s if late_s < tick_s else now_s + tick_s
        return ticked

    def abort(self) -> Ticked:
        """Abort the schedule, by a tick: heat off, main contactor open."""
        return self.tick(Request(Cue.ABORT))

    def watch(self, for_s: float, enough: Callable[[Seen], bool], every_s: float | None = None) -> list[Seen]:
        """Poll until a poll is enough, or `for_s` have passed; nothing is granted meanwhile."""
        clock = self._clock
        began_s = clock.now_s()
        every_s = self._tick_s if every_s is None else every_s
        seen: list[Seen] = []
        while True:
            polled = self.inputs.poll()
            seen.append(Seen(clock.now_s(), polled))
            if enough(seen[-1]) or seen[-1].at_s - began_s >= for_s:
                return seen
            clock.sleep_until(seen[-1].at_s + every_s)


def to_and_hold(c: float, ceiling_c: float | None = None) -> tuple[Stage, Stage]:
    """Return the stages that lead the setpoint to `c` at once and keep it there for an hour."""
    ramp = Ramp("up", c, FAST_C_PER_H, ceiling_c=ceiling_c)
    return ramp, Hold("stay", c, 3600.0, 1e4, ceiling_c=ceiling_c)  # no temperature is out of this band


def reads_back(switch: SwitchConfig | BoardSwitchConfig | None) -> bool:
    """Return whether a switch says if it is on; a board always does."""
    return isinstance(switch, BoardSwitchConfig) or (switch is not None and switch.read_back is not None)


def not_yet(_seen: Seen) -> bool:
    """No poll is enough: watch for the whole time."""
    return False
