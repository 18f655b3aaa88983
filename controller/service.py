"""The tick on a real clock: wire -> judge -> step -> control -> grant -> record. One process a kiln.

Threads: this one ticks; the lease keeper drops a lease that is not renewed; the journal writes; the
channel talks. The tick waits for none of them. Requests come in through `ask` from any thread and are
carried out at the next tick, which an abort brings forward; an abort ends the lease at once besides.
`run` and every method with an underscore are the ticking thread's; `ask`, `newest` and `stop` are anyone's.
Of the parts it holds, `asking.py` is any thread's; `errands.py` is the tick's; `scribe.py` and `wired_key.py`
are the tick's, but for what they say that any thread may.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any

from controller import frames
from controller.alarms import Alarms
from controller.alarms import frames as alarm_frames
from controller.asking import COLDER, Asked, Asking
from controller.clock import Clock
from controller.config import KilnConfig
from controller.control import Plan as ControlPlan
from controller.errands import Errands
from controller.errors import StokeholdError
from controller.firing import OPEN, Cue, Request
from controller.firing.recovery import in_words
from controller.live import Frame, Reply
from controller.preparing import Preparing
from controller.presence import Presence
from controller.record.journal import Journal
from controller.scribe import Scribe
from controller.seen import Told
from controller.taking_up import Interrupted, Recovery, unwatched
from controller.tick import Carried, Ticked, TickLoop
from controller.wire.inputs import Inputs, Polled
from controller.wired_key import WiredKey

# A tick that starts later than this share of its period is late and grants nothing: half a period is far
# beyond what a healthy computer's scheduling adds (common practice, no source).
LATE_SHARE = 0.5
# Time that nobody watched does not count for the schedule: at most this many periods of one gap do.
LONGEST_GAP_TICKS = 3.0
# A longer gap on the wall is an outage: what the kiln did meanwhile nobody saw, and the schedule's recovery
# rule decides. Chosen: a cut as long leads a setpoint back; a computer that is only busy is not away so long.
AWAY_S = 120.0
# The key of the one request in a tick that no person made.
OWN = -1


class Service:
    """Runs one kiln. `run` ticks until `stop`; whatever ends it, the heat is off afterwards."""

    def __init__(
        self,
        config: KilnConfig,
        loop: TickLoop,
        inputs: Inputs,
        journal: Journal,
        clock: Clock,
        presence: Presence,
        *,
        preparing: Preparing,
        own_profiles: Path | None = None,
        speed: float = 1.0,
        left: Interrupted | None = None,
        plan: Callable[[], ControlPlan | None] = lambda: None,
        on_tick: Callable[[], None] = lambda: None,
    ) -> None:
        """`own_profiles`: the user's own schedules. `left`: a firing to take up. `plan`: what
        control is to know of the kiln now; asked at every start, beside the tick.

        `on_tick` is called after every tick and must return at once.
        """
        self._config = config
        self._loop = loop
        self._inputs = inputs
        self._clock = clock
        self._preparing = preparing
        self._speed = speed
        self.on_tick = on_tick
        self._about = frames.About(config.name, config.simulated, config.ceiling_c, config.tick_s, speed)
        self._alarms = Alarms()
        self._scribe = Scribe(journal, clock, config, speed)
        self._errands = Errands(loop.guard, self._alarms, self._scribe, clock)
        self._key = WiredKey()
        self._asking = Asking(config, clock, presence, self._key, preparing, own_profiles, plan)
        self._asked: deque[Asked] = deque()
        self._wake = threading.Event()
        self._stopping = False
        self._newest: Ticked | None = None
        self._elapsed_s = 0.0
        self._late_ticks = 0
        self._ahead_s: float | None = None
        self._recovery: Recovery | None = None
        self._left = left

    @property
    def late_ticks(self) -> int:
        """Ticks of the present firing that came late and granted nothing."""
        return self._late_ticks

    def run(self) -> None:
        """Tick until `stop` is called."""
        tick_s = self._config.tick_s
        self._scribe.event("controller_started", {"version": version("stokehold")})
        if self._left is not None:
            self._take_up(self._left)
        try:
            last_s = self._clock.now_s()
            due_s = last_s
            while not self._stopping:
                early = self._sleep_until(due_s)
                now_s = self._clock.now_s()
                late_s = max(0.0, now_s - due_s)
                self._tick(now_s, now_s - last_s, late_s if late_s > LATE_SHARE * tick_s else 0.0)
                last_s = now_s
                if not early:
                    due_s = due_s + tick_s if late_s < tick_s else now_s + tick_s
            if any(one.message["request"] in COLDER for one in self._asked):
                # An abort that came with the end of the program is kept with the firing.
                now_s = self._clock.now_s()
                self._tick(now_s, now_s - last_s, 0.0)
        finally:
            self._loop.guard.withdraw()
            self._scribe.event("controller_stopped", {})

    def stop(self) -> None:
        """End `run` after the tick in hand. Any thread, and signal handlers."""
        self._stopping = True
        self._wake.set()

    def ask(self, message: dict[str, Any]) -> Reply:
        """Take a request from any thread, and answer when it has been carried out or refused."""
        try:
            if message.get("request") == "prefire":
                return self._asking.prefire(message)
            asked = self._asking.understand(message)
        except StokeholdError as error:
            return self._scribe.note_request(message, {"ok": False, "says": str(error)})
        self._asked.append(asked)
        if message["request"] == "abort":
            self._loop.guard.withdraw()  # after the append: a tick under way grants nothing until it knows
        if message["request"] in COLDER:
            self._wake.set()
        within_s = 2.0 + 3.0 * self._config.tick_s / self._speed
        if not asked.done.wait(within_s) and (message["request"] in COLDER or asked.take()):
            # What makes it colder is still carried out; what leads to heat is not, once nobody waits for it.
            return {
                "ok": False,
                "says": "the controller did not get to it in time; the heat's lease runs out",
            }
        asked.done.wait(3.0 * within_s)
        return asked.reply or {"ok": False, "says": "the controller stopped"}

    def newest(self) -> Frame | None:
        """Make a frame for the screens from the newest tick. Any thread."""
        ticked = self._newest
        if ticked is None:
            return None
        extra = frames.Extra(
            self._scribe.firing,
            self._scribe.started_utc_s,
            self._elapsed_s,
            alarm_frames(self._alarms, frames.iso, self._clock.now_s()),
            self._late_ticks,
            self._clock.now_s(),
        )
        return frames.frame(ticked, self._about, extra)

    def _sleep_until(self, due_s: float) -> bool:
        """Sleep until a tick is due; return True when something urgent woke it early."""
        while (left_s := (due_s - self._clock.now_s()) / self._speed) > 0.0:
            if self._wake.wait(left_s):
                self._wake.clear()
                return True
        self._wake.clear()
        return False

    def _tick(self, now_s: float, dt_s: float, late_s: float) -> None:
        """One tick, whole. Recording comes last."""
        if dt_s > AWAY_S * self._speed:
            self._come_back(dt_s, now_s)
        dt_s = min(dt_s, LONGEST_GAP_TICKS * self._config.tick_s)
        asked = [one for one in (self._asked.popleft() for _ in range(len(self._asked))) if one.take()]
        # An abort has the last word of its tick: the guard has given the heat up by now, and gives none to a
        # firing that was started beside it.
        asked.sort(key=lambda one: one.cue is Cue.ABORT)
        requests = tuple(Request(a.cue, key, a.schedule) for key, a in enumerate(asked) if a.cue is not None)
        polled = self._inputs.poll()
        poll_s = self._clock.now_s() - now_s
        if poll_s >= self._config.tick_s:
            late_s = max(late_s, poll_s)  # what took so long to be measured says little of now
        self._key.follow(polled, now_s)
        requests += self._recover(polled, now_s, asked=bool(requests))
        utc_s = self._clock.utc_s()
        before = self._loop.firing.state
        trouble = self._loop.guard.latch_trouble or self._scribe.trouble
        self._renew(asked)
        told, carried = Told(dt_s, late_s, self._clock_step_s(), trouble), self._loop.carries()
        ticked = self._loop.tick(
            polled, now_s, utc_s, dt_s, late_s, requests, told.clock_step_s, told.record_trouble
        )
        self._newest = ticked
        if before not in OPEN and ticked.firing.state in OPEN:
            self._begin(ticked, carried, asked)
        if self._scribe.firing is not None:
            self._elapsed_s = now_s - self._scribe.started_s
        if late_s > 0.0:
            self._late_ticks += 1
        self._record(ticked, told, carried)
        for answer in ticked.outputs.answers:
            reply: Reply = {"ok": answer.taken, "says": answer.says}
            if answer.key == OWN:
                own = {"request": requests[-1].cue.value, "by": "recovery"}
                self._scribe.note_request(own, reply, ticked.n)
            else:
                asked[answer.key].reply = reply
        for one in asked:
            self._answer(one, ticked.n)
        if before in OPEN and ticked.firing.state not in OPEN:
            self._scribe.close_firing(ticked)
        self.on_tick()

    def _begin(self, ticked: Ticked, carried: Carried, asked: list[Asked]) -> None:
        """Open a firing in the record, with what was told before the start that was taken."""
        self._late_ticks = 0
        self._scribe.open_firing(ticked, carried)
        taken = {answer.key for answer in ticked.outputs.answers if answer.taken}
        for key, one in enumerate(asked):
            if one.cue is Cue.START and key in taken:
                self._scribe.keep_told(self._preparing.events(one.message), one.message)

    def _renew(self, asked: list[Asked]) -> None:
        """Begin a firing with what has been learnt of the kiln since the last one."""
        for one in asked:
            if one.plan is not None:
                self._loop.renew(one.plan)

    def _take_up(self, left: Interrupted) -> None:
        """Go on with a firing after nobody has watched it: held, the heat off, not yet decided."""
        now_s = self._clock.now_s()
        firing = left.firing._replace(elapsed_s=left.firing.elapsed_s + now_s - left.at_s)
        self._loop.take_up(firing, left.n, now_s)
        self._recovery = Recovery(left, now_s)
        started_s = now_s - firing.elapsed_s
        self._scribe.go_on(left.number, left.started_utc_s, started_s, left.n, self._loop.carries())
        self._scribe.event("interrupted", {"was": left.was.value, "outage": in_words(left.outage_s)})

    def _come_back(self, gap_s: float, now_s: float) -> None:
        """Take up what is open after nobody has ticked for `gap_s`, as after any outage."""
        last, number, started_utc_s = self._newest, self._scribe.firing, self._scribe.started_utc_s
        if number is None or started_utc_s is None or last is None:
            return
        air_c, firing = last.polled.readings["air"].value_c, self._loop.firing
        self._take_up(unwatched(number, started_utc_s, firing, last.n, air_c, gap_s, now_s))

    def _recover(self, polled: Polled, now_s: float, *, asked: bool) -> tuple[Request, ...]:
        """Return what the schedule's recovery rule asks for, once it can be decided; mostly nothing."""
        if self._recovery is None:
            return ()
        found = self._recovery.look(self._loop.firing, polled.readings["air"].value_c, now_s, asked=asked)
        if not self._recovery.pending:
            self._recovery = None
        if found is None:
            return ()
        self._scribe.event(found.event, found.fields)
        return (Request(found.cue, OWN),) if found.cue is not None else ()

    def _answer(self, asked: Asked, n: int) -> None:
        """Carry out what is not the firing's own affair, and give the answer."""
        if asked.reply is None:
            asked.reply = self._errands.carry_out(asked.message)
        self._scribe.note_request(asked.message, asked.reply, n)
        asked.done.set()

    def _record(self, ticked: Ticked, told: Told, carried: Carried) -> None:
        """Put the tick and all that happened into the journal, which does not wait for the disk."""
        guard = self._loop.guard
        with self._scribe.together():
            self._scribe.events(ticked.outputs.events)
            self._scribe.tell(self._alarms.follow(ticked.verdict, guard.latches, ticked.now_s, ticked.utc_s))
            self._scribe.tick(ticked, told, carried.guard, guard.carries)

    def _clock_step_s(self) -> float:
        """By how much the date and time moved against the monotonic clock since the tick before, s.

        At another speed than one the date is made from the monotonic clock, and cannot be set.
        """
        if self._speed != 1.0:
            return 0.0
        ahead_s = self._clock.utc_s() - self._clock.now_s()  # read together, whatever the poll took
        step_s = ahead_s - self._ahead_s if self._ahead_s is not None else 0.0
        self._ahead_s = ahead_s
        return step_s
