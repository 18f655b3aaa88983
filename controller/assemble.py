"""Puts a controller together from a kiln's configuration and a home folder.

The one place where the wire's heat output passes from hand to hand: out of `open_wire`, into the guard,
and nowhere else.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import os
import socket
import sys
import tempfile
from collections.abc import Callable
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import IO

from controller.clock import Clock
from controller.config import KilnConfig
from controller.control import Plan, Switching, Tuning
from controller.errors import UsageError
from controller.firing import OPEN, State
from controller.forecast import models
from controller.forecast.models import FittedKiln
from controller.guard import Guard, LatchFile, Limits
from controller.home import RECORD_NAME
from controller.known_kiln import known_kiln, unknown_kiln
from controller.preparing import Preparing
from controller.presence import Presence
from controller.record.journal import Journal
from controller.schedule.index import own_folder
from controller.service import Service
from controller.taking_up import Interrupted, interrupted
from controller.tick import Equipment, TickLoop
from controller.wire.kiln_wire import HeatOutput, Inputs, open_wire

LATCHES_NAME = "latches.json"
LOCK_NAME = "controller.lock"
LOCK_FOLDERS = (Path("/run/lock"), Path("/var/lock"))  # emptied when the computer starts
SHORTEST_FLUSH_S = 0.05  # twenty commits a second are no burden, and more would take time from the ticks


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
    return lock


def lock_kiln(config: KilnConfig) -> IO[str]:
    """Take the kiln's heater for this process, whatever its home; the lock dies with its owner.

    Two controllers with homes of their own would each renew leases on the same relay. The lock is a file
    named after the heater's place on its wire. Raises UsageError.
    """
    place = _heater_place(config)
    path = _locks_folder() / f"stokehold-{hashlib.sha256(place.encode()).hexdigest()[:24]}.lock"
    try:
        # Two steps: some systems forbid creating over another user's file, but not opening it.
        descriptor = (
            os.open(path, os.O_RDWR) if path.exists() else os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        )
        lock = os.fdopen(descriptor, "r+")
    except OSError as error:
        raise UsageError(f"{path}: cannot be used to lock the kiln: {error.strerror}") from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        lock.close()
        raise UsageError(
            f"{config.name}: another controller holds the heater at {place}; stop it first"
        ) from error
    return lock


def _heater_place(config: KilnConfig) -> str:
    """Return where the heater is: the wire as the system knows it, and the place on it."""
    bus, heater = config.buses[config.heater.bus], config.heater
    port = getattr(bus, "port", "")
    host = getattr(bus, "host", None)
    if host is None:
        wire = os.path.realpath(str(port))  # one device may have several names
    else:
        with contextlib.suppress(OSError, UnicodeError):
            host = socket.gethostbyname(host)
        wire = f"{host}:{port}"
    unit, address = getattr(heater, "unit", None), getattr(heater, "address", None)
    return wire if unit is None else f"{wire}, unit {unit}, address {address}"


def _locks_folder() -> Path:
    """Return the folder that every user of this computer may put locks into."""
    return next((one for one in LOCK_FOLDERS if os.access(one, os.W_OK)), Path(tempfile.gettempdir()))


def guard_limits(config: KilnConfig) -> Limits:
    """Return the guard's numbers for a kiln: its ceiling and lease, and what its file overrides."""
    own = {one.name: getattr(config.guard, one.name) for one in fields(config.guard)}
    return Limits(
        ceiling_c=config.ceiling_c, lease_s=config.lease_s, longest_firing_s=config.longest_firing_s, **own
    )


def control_plan(config: KilnConfig, model: FittedKiln | None = None) -> Plan:
    """Return what control knows of a kiln: the model fitted to its firings, else what its file says.

    A file that states neither heat capacity nor loss leaves a kiln that nobody knows: control begins with
    a typical one of that power, and learns on line. Else the file's own numbers and tuning are used.
    """
    known = config.control
    kiln, learns, power_w = None, False, config.heater.power_w
    known_by = "the numbers in the kiln's file"
    if model is not None:
        kiln, known_by = known_kiln(model.for_control), f"the model fitted to firing {model.firing}"
    elif known.heat_capacity_j_per_k is None and known.loss_w_per_k is None:
        kiln, learns = unknown_kiln(power_w), True
        known_by = f"a typical kiln of {power_w:.0f} W, corrected while it fires"
    return Plan(
        Tuning(known.gain_per_k, known.integral_s, known.derivative_s),
        Switching(known.cycle_s, known.shortest_on_s, known.shortest_off_s),
        power_w,
        known.heat_capacity_j_per_k or 0.0,
        known.loss_w_per_k or 0.0,
        kiln=kiln,
        learns=learns,
        known_by=known_by,
    )


def model(home: Path, config: KilnConfig) -> FittedKiln | None:
    """Return the kiln's fitted model; None, and a line that says why, where it cannot be used."""
    try:
        fitted = models.load(home)
    except UsageError as error:
        print(f"the kiln's model is not used: {error}", file=sys.stderr)
        return None
    if fitted is not None and not models.same_power(fitted.kiln.power_w, config.heater.power_w):
        print(
            f"the kiln's model is not used: it was fitted with {fitted.kiln.power_w:g} W, and its file "
            f"says {config.heater.power_w:g} W; run stokehold learn on a firing since then",
            file=sys.stderr,
        )
        return None
    return fitted


def equipment(config: KilnConfig) -> Equipment:
    """Return what the kiln has, and so what can fail."""
    main = config.main_contactor
    reads_main_back = main is not None and getattr(main, "read_back", None) is not None
    return Equipment(frozenset(config.contacts), config.reads_heat_back, reads_main_back)


def tick_loop(
    config: KilnConfig,
    output: HeatOutput,
    latches: LatchFile,
    now: Callable[[], float],
    fitted: FittedKiln | None = None,
) -> TickLoop:
    """Give the heat output to a new guard, and the guard to a new loop. `fitted`: the kiln's model."""
    guard = Guard(output, guard_limits(config), latches, now)
    return TickLoop(guard, control_plan(config, fitted), equipment(config), config.full_rate_c_per_h)


def service(
    config: KilnConfig, home: Path, clock: Clock, speed: float, show_code: Callable[[str], None]
) -> tuple[Service, TickLoop, Inputs, Journal]:
    """Open the record, the wire and the guard; return the service, ready to run.

    Raises RecordError when the record cannot be opened. A firing that a crash or a power cut left open is
    taken up: held, the heat off, and then as the schedule's recovery rule says.
    """
    import time

    # The guard comes first: making it takes the heat away, whatever an earlier run of the program left on,
    # and whatever is wrong with the record or the kiln's model.
    inputs, output = open_wire(config, clock.now_s)
    loop = tick_loop(config, output, LatchFile(home / LATCHES_NAME), clock.now_s)
    loop.renew(control_plan(config, model(home, config)))
    # In accelerated time a tick may be short: it is kept before the next but one, as in real time.
    flush_s = min(0.5, max(SHORTEST_FLUSH_S, config.tick_s / speed / 2.0))
    journal = Journal(home / RECORD_NAME, flush_every_s=flush_s).start()
    left = _left(journal, config, clock, speed)
    presence = Presence(home, time.monotonic, show_code)
    preparing = Preparing(config, home, lambda: datetime.fromtimestamp(clock.utc_s()).date())
    return (
        Service(
            config,
            loop,
            inputs,
            journal,
            clock,
            presence,
            preparing=preparing,
            own_profiles=own_folder(home),
            speed=speed,
            left=left,
            plan=lambda: control_plan(config, model(home, config)),
        ),
        loop,
        inputs,
        journal,
    )


def _left(journal: Journal, config: KilnConfig, clock: Clock, speed: float) -> Interrupted | None:
    """Return the firing that is to be taken up; close one that had ended or says nothing any more."""
    left = journal.latest_unfinished()
    if left is None:
        return None
    found = interrupted(left, config, clock.now_s(), clock.utc_s(), speed)
    if found is not None:
        return found
    last = left.last
    when_s = last.utc_s if last is not None else left.firing.start.started_utc_s
    ended = {state.value for state in State} - {state.value for state in OPEN} - {State.IDLE.value}
    if last is not None and last.state in ended:
        journal.close_firing(left.firing.id, last.state, when_s, last.mono_s)
        return None
    fields = {"firing": left.firing.id}
    journal.event(left.firing.id, "firing_left_open", fields, "warning", utc_s=when_s, mono_s=clock.now_s())
    journal.close_firing(left.firing.id, "aborted", when_s)
    return None
