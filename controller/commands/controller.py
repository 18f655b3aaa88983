"""`stokehold controller`: the process that holds the wire and the tick. `stokehold run` starts it."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from controller.config import KilnConfig
    from controller.guard import Guard
    from controller.wire.inputs import Inputs

HELP = "the controller process alone, without the page (stokehold run starts it)"


def arguments(parser: argparse.ArgumentParser) -> None:
    """Describe the command's arguments."""
    parser.add_argument("--kiln", type=Path, required=True, metavar="FILE", help="the kiln's configuration")
    parser.add_argument(
        "--home", type=Path, metavar="FOLDER", help="where the record and the latches are kept"
    )
    parser.add_argument(
        "--speed",
        type=float,
        default=1.0,
        help="kiln seconds a second; other than 1 only for a simulated kiln",
    )
    parser.add_argument("--quiet-code", action="store_true", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    """Run until it is asked to end; the heat is off when this returns."""
    import gc
    import os
    import sys
    import threading
    import time
    from datetime import date

    from controller import assemble
    from controller.channel import SOCKET_NAME, Channel
    from controller.clock import SystemClock
    from controller.commands.ending import on_ending
    from controller.config import load_kiln
    from controller.guard import watch_leases
    from controller.home import default_home
    from controller.watchdog import Watchdog

    config = load_kiln(args.kiln)
    check_speed(args.speed, config.simulated, args.kiln)
    home = (args.home or default_home()).expanduser()
    locks = (assemble.lock_home(home), assemble.lock_kiln(config))

    def show(code: str) -> None:
        if not args.quiet_code:
            print(
                f"presence code: {code}  (proves that you stand at the kiln; new after each use)", flush=True
            )

    service, loop, inputs, journal = assemble.service(config, home, SystemClock(args.speed), args.speed, show)
    channel = Channel(home / SOCKET_NAME, service.ask, service.newest)
    channel.start()
    watchdog = Watchdog(os.environ, time.monotonic)
    service.on_tick = in_turn(channel.tell, watchdog.ticked)
    stopped = threading.Event()
    on_ending(service.stop)
    sys.setswitchinterval(0.001)  # the tick's thread gets its turn within a millisecond
    gc.collect()
    gc.freeze()  # what is loaded by now lives for ever: the collector need not look at it in a tick
    watch_leases(loop.guard, max(0.01, config.tick_s / args.speed / 4), stopped)
    if not args.quiet_code:
        print(f"controller of {config.name}: {args.kiln}, home {home}", flush=True)
        for line in told_at_the_start(config, home, date.today()):
            print(line, flush=True)
    try:
        must_answer(inputs)
        service.run()
    finally:
        watchdog.stopping()
        all_off(loop.guard)
        stopped.set()
        channel.close()
        lost = journal.close()
        inputs.close()
        for lock in locks:
            lock.close()
    if lost:
        print(f"{lost} rows could not be written to the record", file=sys.stderr)
    return 1 if lost else 0


def told_at_the_start(config: KilnConfig, home: Path, today: date) -> list[str]:
    """Return what whoever starts a controller should know: commissioning, certificates out of date."""
    from controller.commissioning import exempt, missing, refusal
    from controller.preparing import certificates_due

    lacking = refusal(missing(config, home, today))
    told = [exempt(config) or lacking or "commissioning complete and not out of date"]
    for role, due_on in certificates_due(config, today):
        told.append(f"{role}: its calibration certificate counts no longer since {due_on}")
    return told


def must_answer(inputs: Inputs, within_s: float = 3.0) -> None:
    """Poll until the kiln answers. Raises WireError with what was asked and what came if it never does.

    A thermocouple that is broken is an answer; silence is not, and a controller that started on it would
    only seem to watch a kiln.
    """
    import time

    from controller.errors import WireError

    end_s = time.monotonic() + within_s
    while True:
        polled = inputs.poll()
        if polled.readings["air"].value_c is not None or not polled.errors:
            return
        if time.monotonic() > end_s:
            raise WireError(f"the kiln does not answer: {polled.errors[0]}")
        time.sleep(0.2)


def all_off(guard: Guard, within_s: float = 5.0) -> bool:
    """End all heat, and try again until relay and main contactor have taken it; return whether they have."""
    import time

    end_s = time.monotonic() + within_s
    while not (done := guard.withdraw()) and time.monotonic() < end_s:
        time.sleep(0.1)
    return done


def in_turn(*calls: Callable[[], None]) -> Callable[[], None]:
    """Return one call that makes several."""

    def call() -> None:
        for one in calls:
            one()

    return call


def check_speed(speed: float, simulated: bool, file: object) -> None:
    """Refuse to run a real kiln at anything but real time. Raises UsageError."""
    from controller.errors import UsageError

    if not 0.1 <= speed <= 1000:
        raise UsageError(f"--speed: found {speed:g}, expected 0.1 to 1000")
    if speed != 1.0 and not simulated:
        raise UsageError(
            f"{file}: --speed {speed:g} is refused: the configuration does not say simulated = true"
        )
