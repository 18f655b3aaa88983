"""Kills processes at random moments of an accelerated firing over the wire, and holds the house to its word.

What is asked at each kill of the controller: the heat ends within the lease, as the kiln itself counts it
(its panel, unit 99); the record opens and is sound; at most one tick is missing; the firing goes on by the
schedule's rule. At the end: nothing was counted twice. Moments are drawn from a seed; what the machine does
at them is its own affair, which is the point.
"""

from __future__ import annotations

import itertools
import json
import random
import signal
import socket
import sqlite3
import subprocess
import time
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from pymodbus.client import ModbusTcpClient

from controller.record.rows import TickRow
from tests.processes.conftest import House, command, until

SPEED = (
    8.0  # a tick is a quarter of a second on the wall, a lease three quarters: a busy machine is no trouble
)
TICK_S, LEASE_S = 2.0, 6.0  # of the demo kiln's file, in the kiln's time
# What asking the kiln and a busy machine may add to an end that is read over the wire, kiln seconds.
SLACK_S = 2.0
# Kiln seconds of firing for each kill: a start of the controller takes longest.
A_KILL_S = 60.0


class Seen(NamedTuple):
    """What the kiln's own panel says."""

    heat: bool
    lease_ends: int
    now_s: float


@dataclass
class Tally:
    """What came of the kills. `trouble`: every promise that was broken, in words."""

    kills: int = 0
    heated: int = 0
    lease_ends: int = 0
    worst_off_s: float = 0.0
    most_missing: int = 0
    resumed: int = 0
    worst_gap_s: float = 0.0
    trouble: list[str] = field(default_factory=list)

    def hold(self, true: bool, otherwise: str) -> None:
        """Note a broken promise."""
        if not true:
            self.trouble.append(otherwise)


def schedule(kills: int) -> str:
    """Return a schedule that lasts as long as so many kills take: a ramp, a checkpoint, a hold."""
    ramp_s = kills * A_KILL_S * 0.5
    to_c = 21.0 + ramp_s * 120.0 / 3600.0
    return f"""
title = "To be cut short"

[recovery]
resume_within = "30 min"
resume_if_fallen_by = "200 C"
otherwise = "stop"

[[stage]]
kind = "ramp"
name = "up"
to = "{to_c:.1f} C"
rate = "120 C/h"

[[stage]]
kind = "checkpoint"
name = "look"
says = "Look at it."
heat = "keep"

[[stage]]
kind = "hold"
name = "soak"
for = "{max(30.0, kills * A_KILL_S * 0.3):.0f} s"
band = "60 K"
"""


class Killed:
    """One firing on a simulated kiln, and the one who kills."""

    def __init__(self, home: Path, kills: int, seed: int, speed: float = SPEED) -> None:
        self.house = House(home, speed)
        self.rng = random.Random(seed)
        self.tally = Tally()
        self.kills = kills
        self.controller = self.house.start()
        self.web: subprocess.Popen[str] | None = None
        reply = self.house.ask("start", schedule=schedule(kills), name="cut.toml")
        assert reply["ok"], reply
        until(lambda: self.house.record.firings(1))
        self.number = self.house.record.firings(1)[0].id

    def seen(self) -> Seen:
        """Ask the kiln's own panel and its relay."""
        with ModbusTcpClient("127.0.0.1", port=self.house.kiln_port) as client:
            heat = client.read_discrete_inputs(0, count=1, device_id=2).bits[0]
            panel = client.read_input_registers(0, count=11, device_id=99).registers
        return Seen(bool(heat), panel[4], float((panel[9] << 16) + panel[10]))

    def last(self) -> TickRow:
        """Return the last tick that the record has."""
        found = self.house.record.latest_unfinished()
        assert found is not None
        assert found.last is not None
        return found.last

    def at_a_random_moment(self) -> None:
        """Let the firing go on for a while; be the person who comes to the checkpoint now and then."""
        time.sleep(self.rng.uniform(0.3, 2.0))
        if self.rng.random() < 0.5 and self.last().stage == 1 and self.last().state == "running":
            self.house.ask("release")

    def kill_controller(self) -> None:
        """Kill it, and see what becomes of the heat, the record and the firing."""
        before = self.seen()
        killed_s = time.monotonic()
        self.controller.send_signal(signal.SIGKILL)
        self.controller.wait()
        self._heat_ends(before, killed_s)
        self._record_is_whole(killed_s)
        last = self.last()
        (self.house.home / "channel.sock").unlink(missing_ok=True)
        self.controller = self.house.start()
        self.tally.kills += 1
        self._goes_on(last)

    def _heat_ends(self, before: Seen, killed_s: float) -> None:
        """The relay drops by its own lease; the kiln counts that end."""
        seen = self.seen()
        heated = seen.heat
        while seen.heat:
            off_s = (time.monotonic() - killed_s) * SPEED
            if off_s > LEASE_S + SLACK_S:
                self.tally.trouble.append(f"heat for {off_s:.1f} s after the kill")
                return
            seen = self.seen()
        off_s = (time.monotonic() - killed_s) * SPEED
        if heated:
            self.tally.heated += 1
            self.tally.worst_off_s = max(self.tally.worst_off_s, off_s)
            ended = seen.lease_ends - before.lease_ends
            self.tally.lease_ends += ended
            self.tally.hold(ended == 1, f"the kiln counted {ended} ends of the lease after a kill in heat")
        time.sleep(LEASE_S / SPEED)
        self.tally.hold(not self.seen().heat, "the heat came back by itself")

    def _record_is_whole(self, killed_s: float) -> None:
        """It opens, it is sound, and at most one tick is missing."""
        with closing(sqlite3.connect(self.house.home / "record.db")) as record:
            (sound,) = record.execute("PRAGMA integrity_check").fetchone()
        self.tally.hold(sound == "ok", f"the record is not sound: {sound}")
        # Both clocks are the machine's monotonic one, times the speed.
        missing = int((killed_s * SPEED - self.last().mono_s) / TICK_S)
        self.tally.most_missing = max(self.tally.most_missing, missing)
        self.tally.hold(missing <= 1, f"{missing} ticks are missing")

    def _goes_on(self, before: TickRow) -> None:
        """By the rule: it resumes, in the stage in which it was."""
        until(lambda: self.last().n > before.n + 1 and self.last().state != "held", 20)
        last = self.last()
        going = last.state in ("running", "restarting")
        self.tally.resumed += going
        self.tally.hold(going, f"after a kill it was {last.state}")
        stages = {before.stage, (before.stage or 0) + 1} if before.stage != 1 else {1}
        self.tally.hold(last.stage in stages, f"from stage {before.stage} to {last.stage}")

    def kill_web(self) -> None:
        """Kill the page, and start another."""
        if self.web is not None:
            self.web.send_signal(signal.SIGKILL)
            self.web.wait()
            self.tally.kills += 1
        self.web = subprocess.Popen(
            command("web", "--home", str(self.house.home), "--port", str(self.house.page_port)),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self.house.processes.append(self.web)
        until(self._page_answers, 20)

    def _page_answers(self) -> bool:
        try:
            with socket.create_connection(("127.0.0.1", self.house.page_port), 1.0):
                return True
        except OSError:
            return False

    def finish(self) -> Tally:
        """Let the firing come to its end, and count."""
        rows = [row for _, row in self.house.record.rows(self.number)]
        self._counted_once(rows)
        self._told_once()
        return self.tally

    def complete(self) -> None:
        """Go on to the end, with a person at the checkpoint."""

        def ended() -> bool:
            if self.house.record.firing(self.number).end_state is not None:
                return True
            found = self.house.record.latest_unfinished()  # None once it has ended just now
            if found is not None and found.last is not None and found.last.stage == 1:
                self.house.ask("release")
            return False

        until(ended, 120, every_s=0.2)
        self.tally.hold(
            self.house.record.firing(self.number).end_state == "complete",
            f"the firing ended {self.house.record.firing(self.number).end_state}",
        )

    def _counted_once(self, rows: list[TickRow]) -> None:
        """Ticks are numbered without a hole, clocks never run faster than time, elapsed is elapsed."""
        hold = self.tally.hold
        hold(
            [row.n for row in rows] == list(range(rows[0].n, rows[0].n + len(rows))),
            "ticks are numbered wrongly",
        )
        for one, two in itertools.pairwise(rows):
            if not one.progress or not two.progress or two.stage is None:
                continue
            was, now = json.loads(one.progress), json.loads(two.progress)
            told = json.loads(two.seen)["told"][0]
            hold(
                (two.stage or 0) >= (one.stage or 0),
                f"tick {two.n}: from stage {one.stage} back to {two.stage}",
            )
            if one.stage == two.stage:
                moved_s = now.get("clock_s", 0.0) - was.get("clock_s", 0.0)
                hold(
                    -1e-6 <= moved_s <= told + 1e-6,
                    f"tick {two.n}: the stage's clock moved by {moved_s:.2f} s",
                )
            gone_s = now["elapsed_s"] - was.get("elapsed_s", 0.0)
            hold(
                abs(gone_s - (two.mono_s - one.mono_s)) < 2.0 * TICK_S,
                f"tick {two.n}: {gone_s:.1f} s counted in {two.mono_s - one.mono_s:.1f} s",
            )

    def _told_once(self) -> None:
        kinds = [event.kind for event in self.house.record.events(self.number)]
        for kind, most in (("stage_began", 3), ("checkpoint_reached", 1), ("released", 1)):
            self.tally.hold(kinds.count(kind) <= most, f"{kind} was told {kinds.count(kind)} times")
        self.tally.hold("firing_left_open" not in kinds, "the firing was given up")

    def widest_gap_s(self) -> float:
        """The longest time between two ticks of the record, kiln seconds."""
        times_s = [t_s for t_s, _ in self.house.record.rows(self.number)]
        return max(b - a for a, b in itertools.pairwise(times_s))

    def end(self) -> None:
        """End every process."""
        self.house.end()


def controller_kills(home: Path, kills: int, seed: int, *, to_the_end: bool = False) -> Tally:
    """Kill the controller so often."""
    one = Killed(home, kills, seed)
    try:
        for _ in range(kills):
            one.at_a_random_moment()
            one.kill_controller()
        if to_the_end:
            one.complete()
        return one.finish()
    finally:
        one.end()


def web_kills(home: Path, kills: int, seed: int) -> Tally:
    """Kill the page so often; no tick may be disturbed. Slower: a busy machine is no disturbance either."""
    one = Killed(home, kills, seed, SPEED / 2.0)
    try:
        one.kill_web()
        for _ in range(kills):
            time.sleep(one.rng.uniform(0.0, 1.0))
            one.kill_web()
        gap_s = one.tally.worst_gap_s = one.widest_gap_s()
        one.tally.hold(gap_s < LEASE_S, f"{gap_s:.1f} s between two ticks")
        return one.finish()
    finally:
        one.end()


def kills_of_both(home: Path, kills: int, seed: int) -> Tally:
    """Kill the page and the controller at once, so often."""
    one = Killed(home, kills, seed)
    try:
        one.kill_web()
        for _ in range(kills):
            one.at_a_random_moment()
            assert one.web is not None
            one.web.send_signal(signal.SIGKILL)
            one.kill_controller()
            one.web.wait()
            one.web = None
            one.kill_web()
        return one.finish()
    finally:
        one.end()
