"""Puts a controller together from a kiln's configuration and a home folder.

The one place where the wire's heat output passes from hand to hand: out of `open_wire`, into the guard,
and nowhere else.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import IO

from controller.clock import Clock
from controller.config import KilnConfig
from controller.control import Plan, Switching, Tuning
from controller.errors import UsageError
from controller.guard import Guard, LatchFile, Limits
from controller.home import RECORD_NAME
from controller.presence import Presence
from controller.record.journal import Journal
from controller.service import Service
from controller.tick import Equipment, TickLoop
from controller.wire.kiln_wire import HeatOutput, Inputs, open_wire

LATCHES_NAME = "latches.json"
LOCK_NAME = "controller.lock"


def lock_home(home: Path) -> IO[str]:
    """Take the home folder for this process; the lock dies with its owner. Raises UsageError."""
    try:
        home.mkdir(parents=True, exist_ok=True)
        lock = (home / LOCK_NAME).open("a+")
    except OSError as error:
        raise UsageError(f"{home}: cannot be used as the home folder: {error.strerror}") from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        lock.close()
        raise UsageError(f"{home}: another controller runs with this home; stop it first") from error
    lock.truncate(0)
    lock.write(str(os.getpid()))
    lock.flush()
    return lock


def guard_limits(config: KilnConfig) -> Limits:
    """Return the guard's numbers for a kiln: its ceiling and lease, and what its file overrides."""
    own = {one.name: getattr(config.guard, one.name) for one in fields(config.guard)}
    return Limits(
        ceiling_c=config.ceiling_c, lease_s=config.lease_s, longest_firing_s=config.longest_firing_s, **own
    )


def control_plan(config: KilnConfig) -> Plan:
    """Return what control knows of a kiln from its file."""
    known = config.control
    return Plan(
        Tuning(known.gain_per_k, known.integral_s, known.derivative_s),
        Switching(known.cycle_s, known.shortest_on_s, known.shortest_off_s),
        config.heater.power_w,
        known.heat_capacity_j_per_k or 0.0,
        known.loss_w_per_k or 0.0,
    )


def tick_loop(
    config: KilnConfig, output: HeatOutput, latches: LatchFile, now: Callable[[], float]
) -> TickLoop:
    """Give the heat output to a new guard, and the guard to a new loop."""
    guard = Guard(output, guard_limits(config), latches, now)
    equipment = Equipment(frozenset(config.contacts), config.heater.read_back is not None)
    return TickLoop(guard, control_plan(config), equipment, config.full_rate_c_per_h)


def service(
    config: KilnConfig, home: Path, clock: Clock, speed: float, show_code: Callable[[str], None]
) -> tuple[Service, TickLoop, Inputs, Journal]:
    """Open the record, the wire and the guard; return the service, ready to run.

    Raises RecordError when the record cannot be opened. A firing that a crash left open is closed as
    aborted: this version does not take it up again.
    """
    import time

    journal = Journal(home / RECORD_NAME).start()
    left = journal.latest_unfinished()
    if left is not None:
        when_s = left.last.utc_s if left.last is not None else left.firing.start.started_utc_s
        journal.event(
            left.firing.id,
            "firing_left_open",
            {"firing": left.firing.id},
            "warning",
            utc_s=when_s,
            mono_s=clock.now_s(),
        )
        journal.close_firing(left.firing.id, "aborted", when_s)
    inputs, output = open_wire(config, clock.now_s)
    loop = tick_loop(config, output, LatchFile(home / LATCHES_NAME), clock.now_s)
    presence = Presence(home, time.monotonic, show_code)
    return (
        Service(config, loop, inputs, journal, clock, presence, speed=speed),
        loop,
        inputs,
        journal,
    )
