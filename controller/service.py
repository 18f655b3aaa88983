"""The tick on a real clock: wire -> judge -> step -> control -> grant -> record. One process a kiln.

Threads: this one ticks; the lease keeper drops a lease that is not renewed; the journal writes; the
channel talks. The tick waits for none of them. Requests come in through `ask` from any thread and are
carried out at the next tick, which an abort brings forward; an abort ends the lease at once besides.
"""

from __future__ import annotations

import json
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import Any

from controller import frames
from controller.alarms import Alarms
from controller.alarms import frames as alarm_frames
from controller.boot import boot
from controller.catalogue import severity
from controller.clock import Clock
from controller.config import KilnConfig
from controller.control import Plan as ControlPlan
from controller.errors import StokeholdError
from controller.firing import OPEN, Cue, Firing, Request, stage_of
from controller.firing.recovery import in_words, kept
from controller.live import Frame, Reply
from controller.plain import to_plain
from controller.preparing import Preparing
from controller.presence import Presence
from controller.record.journal import Journal
from controller.record.rows import FiringRow, TickRow
from controller.schedule.fits import against_kiln
from controller.schedule.index import profile
from controller.schedule.located import FileProblems
from controller.schedule.model import Schedule
from controller.schedule.reader import load_schedule, read_schedule
from controller.seen import Told, seen
from controller.taking_up import Interrupted, Recovery, unwatched
from controller.tick import Carried, Ticked, TickLoop
from controller.wire.inputs import Inputs, Polled

# A tick that starts later than this share of its period is late and grants nothing: half a period is far
# beyond what a healthy computer's scheduling adds (common practice, no source).
LATE_SHARE = 0.5
# Time that nobody watched does not count for the schedule: at most this many periods of one gap do.
LONGEST_GAP_TICKS = 3.0
# A longer gap on the wall is an outage: what the kiln did meanwhile nobody saw, and the schedule's recovery
# rule decides. Chosen: a cut as long leads a setpoint back; a computer that is only busy is not away so long.
AWAY_S = 120.0
NEEDS_PRESENCE = frozenset({"start", "restart", "release", "clear"})
COLDER = frozenset({"abort", "stop", "hold"})
# The key of the one request in a tick that no person made.
OWN = -1
# A wired key proves presence for so long after it was turned; one that is left turned proves nothing.
KEY_COUNTS_S = 300.0


@dataclass
class _Asked:
    """A request on its way to the tick thread, and its answer on the way back."""

    message: dict[str, Any]
    cue: Cue | None
    schedule: Schedule | None = None
    plan: ControlPlan | None = None
    reply: Reply | None = None
    done: threading.Event = field(default_factory=threading.Event)
    whose: threading.Lock = field(default_factory=threading.Lock)

    def take(self) -> bool:
        """Take the request, for the tick that carries it out or for the one who gives it up; once only."""
        return self.whose.acquire(blocking=False)


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
        self._journal = journal
        self._clock = clock
        self._presence = presence
        self._preparing = preparing
        self._own_profiles = own_profiles
        self._speed = speed
        self._plan = plan
        self.on_tick = on_tick
        self._about = frames.About(config.name, config.simulated, config.ceiling_c, config.tick_s, speed)
        self._alarms = Alarms()
        self._asked: deque[_Asked] = deque()
        self._wake = threading.Event()
        self._stopping = False
        self._newest: Ticked | None = None
        self._firing: int | None = None
        self._started_utc_s: float | None = None
        self._started_s = 0.0
        self._elapsed_s = 0.0
        self._late_ticks = 0
        self._ahead_s: float | None = None
        self._key_on: bool | None = None
        self._key_turned_s = float("-inf")
        self._recovery: Recovery | None = None
        self._left = left

    @property
    def late_ticks(self) -> int:
        """Ticks of the present firing that came late and granted nothing."""
        return self._late_ticks

    def run(self) -> None:
        """Tick until `stop` is called."""
        tick_s = self._config.tick_s
        self._event("controller_started", {"version": version("stokehold")})
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
            self._event("controller_stopped", {})

    def stop(self) -> None:
        """End `run` after the tick in hand. Any thread, and signal handlers."""
        self._stopping = True
        self._wake.set()

    def ask(self, message: dict[str, Any]) -> Reply:
        """Take a request from any thread, and answer when it has been carried out or refused."""
        try:
            if message.get("request") == "prefire":
                return self._preparing.asked(self._schedule(message))
            asked = self._understand(message)
        except StokeholdError as error:
            return self._note_request(message, {"ok": False, "says": str(error)})
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
            self._firing,
            self._started_utc_s,
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
        self._follow_key(polled, now_s)
        requests += self._recover(polled, now_s, asked=bool(requests))
        utc_s = self._clock.utc_s()
        before = self._loop.firing.state
        trouble = self._loop.guard.latch_trouble or self._journal.healthy or ""
        self._renew(asked)
        told, carried = Told(dt_s, late_s, self._clock_step_s(), trouble), self._loop.carries()
        ticked = self._loop.tick(
            polled, now_s, utc_s, dt_s, late_s, requests, told.clock_step_s, told.record_trouble
        )
        self._newest = ticked
        if before not in OPEN and ticked.firing.state in OPEN:
            self._open_firing(ticked, carried)
            taken = {answer.key for answer in ticked.outputs.answers if answer.taken}
            for key, one in enumerate(asked):
                if one.cue is Cue.START and key in taken:
                    self._keep_told(one.message)
        if self._firing is not None:
            self._elapsed_s = now_s - self._started_s
        if late_s > 0.0:
            self._late_ticks += 1
        self._record(ticked, told, carried)
        for answer in ticked.outputs.answers:
            reply: Reply = {"ok": answer.taken, "says": answer.says}
            if answer.key == OWN:
                self._note_request({"request": requests[-1].cue.value, "by": "recovery"}, reply, ticked.n)
            else:
                asked[answer.key].reply = reply
        for one in asked:
            self._answer(one, ticked.n)
        if before in OPEN and ticked.firing.state not in OPEN:
            self._close_firing(ticked)
        self.on_tick()

    def _renew(self, asked: list[_Asked]) -> None:
        """Begin a firing with what has been learnt of the kiln since the last one."""
        for one in asked:
            if one.plan is not None:
                self._loop.renew(one.plan)

    def _take_up(self, left: Interrupted) -> None:
        """Go on with a firing after nobody has watched it: held, the heat off, not yet decided."""
        now_s = self._clock.now_s()
        firing = left.firing._replace(elapsed_s=left.firing.elapsed_s + now_s - left.at_s)
        self._loop.take_up(firing, left.n, now_s)
        self._firing = left.number
        self._started_utc_s = left.started_utc_s
        self._started_s = now_s - firing.elapsed_s
        self._recovery = Recovery(left, now_s)
        self._open_leg(left.n + 1, self._loop.carries())
        self._event("interrupted", {"was": left.was.value, "outage": in_words(left.outage_s)})

    def _come_back(self, gap_s: float, now_s: float) -> None:
        """Take up what is open after nobody has ticked for `gap_s`, as after any outage."""
        last = self._newest
        if self._firing is None or self._started_utc_s is None or last is None:
            return
        air_c, firing = last.polled.readings["air"].value_c, self._loop.firing
        self._take_up(unwatched(self._firing, self._started_utc_s, firing, last.n, air_c, gap_s, now_s))

    def _recover(self, polled: Polled, now_s: float, *, asked: bool) -> tuple[Request, ...]:
        """Return what the schedule's recovery rule asks for, once it can be decided; mostly nothing."""
        if self._recovery is None:
            return ()
        found = self._recovery.look(self._loop.firing, polled.readings["air"].value_c, now_s, asked=asked)
        if not self._recovery.pending:
            self._recovery = None
        if found is None:
            return ()
        self._event(found.event, found.fields)
        return (Request(found.cue, OWN),) if found.cue is not None else ()

    def _answer(self, asked: _Asked, n: int) -> None:
        """Carry out what is not the firing's own affair, and give the answer."""
        if asked.reply is None:
            asked.reply = self._carry_out(asked.message)
        self._note_request(asked.message, asked.reply, n)
        asked.done.set()

    def _carry_out(self, message: dict[str, Any]) -> Reply:
        by = str(message.get("by", "?"))[:40]
        kind = message.get("request")
        if kind == "clear":
            done, says = self._loop.guard.clear()
            if done:
                self._event("trips_cleared", {"by": by})
            return {"ok": done, "says": says}
        if kind == "acknowledge":
            told = self._alarms.acknowledge(str(message.get("alarm", "all")), by, self._clock.utc_s())
            self._tell(told)
            return {"ok": bool(told), "says": "acknowledged" if told else "there is nothing to acknowledge"}
        if kind == "shelve":
            return self._shelve(message, by)
        text = str(message.get("text", "")).strip()[:4000]
        if self._firing is None or not text:
            return {"ok": False, "says": "a note needs a text and a firing that runs"}
        self._journal.note(self._firing, by, text, self._clock.utc_s())
        return {"ok": True, "says": "noted"}

    def _shelve(self, message: dict[str, Any], by: str) -> Reply:
        """Hold an alarm back for a while. The guard goes on as before: only the telling is silenced."""
        minutes = message.get("minutes")
        if not isinstance(minutes, int) or isinstance(minutes, bool):
            return {"ok": False, "says": "minutes: expected a whole number"}
        try:
            told = self._alarms.shelve(str(message.get("alarm", "")), minutes, by, self._clock.now_s())
        except StokeholdError as error:
            return {"ok": False, "says": str(error)}
        self._tell(told)
        return {"ok": True, "says": f"shelved for {minutes} min" if minutes else "no longer shelved"}

    def _tell(self, told: list[tuple[str, dict[str, Any]]]) -> None:
        for kind, fields in told:
            self._event(kind, fields)

    def _understand(self, message: dict[str, Any]) -> _Asked:
        """Check a message before it goes to the tick. Raises StokeholdError with the reason."""
        kind = message.get("request")
        if not isinstance(kind, str):
            raise StokeholdError(f"request: found {kind!r}, expected a word")
        known = {cue.value for cue in Cue if cue not in (Cue.TRIP, Cue.DONE, Cue.FINISHED)}
        if kind not in known | {"clear", "acknowledge", "shelve", "note"}:
            raise StokeholdError(f"request: found {kind!r}, expected one of {', '.join(sorted(known))}")
        schedule = self._schedule(message) if kind == "start" else None
        if schedule is not None:
            self._preparing.check(schedule, message)  # before the code, which counts only once
        if kind in NEEDS_PRESENCE:
            code = message.get("presence")
            why = self._presence.why_not(
                str(code) if code is not None else None, self._key_counts(), str(message.get("by", "?"))[:40]
            )
            if why:
                raise StokeholdError(why)
        plan = self._plan() if schedule is not None else None
        return _Asked(message, Cue(kind) if kind in known else None, schedule, plan)

    def _follow_key(self, polled: Polled, now_s: float) -> None:
        """Note when the wired key, where there is one, was last turned."""
        key = polled.contacts.get("presence")
        if key is None:
            return
        if key.on is None:  # what cannot be read proves nothing: it has to be turned again
            self._key_turned_s = float("-inf")
            return
        if key.on and self._key_on is False:
            self._key_turned_s = now_s
        self._key_on = key.on

    def _key_counts(self) -> bool:
        """Whether the wired key was turned just now, and is still turned."""
        return bool(self._key_on) and self._clock.now_s() - self._key_turned_s <= KEY_COUNTS_S

    def _schedule(self, message: dict[str, Any]) -> Schedule:
        """Read the schedule of a start, by its name or whole text, and hold it against this kiln."""
        given = str(message.get("schedule", ""))
        if "\n" in given:
            schedule = read_schedule(given, str(message.get("name", "schedule")))
        else:  # a name: over the channel no path is opened
            schedule = load_schedule(profile(given, self._own_profiles))
        config = self._config
        problems = against_kiln(
            schedule,
            config.ceiling_c,
            config.full_rate_c_per_h,
            longest_s=config.longest_firing_s,
            has_extraction="extraction" in config.contacts,
            has_load="load" in config.readers,
        )
        if problems:
            raise FileProblems(problems)
        return schedule

    def _open_leg(self, n: int, carried: Carried) -> None:
        """Keep what this run of the program carries into the firing."""
        assert self._firing is not None
        plain = json.dumps(to_plain(carried._replace(firing=_without_schedule(carried.firing))))
        self._journal.open_leg(self._firing, n, boot(), self._speed, plain)

    def _open_firing(self, ticked: Ticked, carried: Carried) -> None:
        schedule, config = ticked.firing.schedule, self._config
        assert schedule is not None
        self._firing = self._journal.open_firing(
            FiringRow(
                ticked.utc_s,
                ticked.now_s,
                schedule.title,
                schedule.text,
                schedule.file,
                config.name,
                config.text,
                version("stokehold"),
                self._speed,
                config.simulated,
            )
        )
        self._started_utc_s = ticked.utc_s
        self._started_s = ticked.now_s
        self._late_ticks = 0
        self._open_leg(ticked.n, carried)
        self._event("control_knows", {"by": carried.plan.known_by})

    def _keep_told(self, message: dict[str, Any]) -> None:
        """Keep with a firing that has just begun what was looked at before it, and its job sheet."""
        for kind, fields in self._preparing.events(message):
            self._event(kind, fields)
        job = str(message.get("job") or "")  # read already, before the start
        if job.strip():
            assert self._firing is not None
            self._journal.job(self._firing, str(message.get("by", "?"))[:40], job, self._clock.utc_s())

    def _close_firing(self, ticked: Ticked) -> None:
        assert self._firing is not None
        self._journal.close_firing(self._firing, ticked.firing.state.value, ticked.utc_s, ticked.now_s)
        self._firing = None

    def _record(self, ticked: Ticked, told: Told, carried: Carried) -> None:
        """Put the tick and all that happened into the journal, which does not wait for the disk."""
        with self._journal.together():
            self._record_all(ticked, told, carried)

    def _record_all(self, ticked: Ticked, told: Told, carried: Carried) -> None:
        for event in ticked.outputs.events:
            self._event(event.kind, event.fields)
        latches = self._loop.guard.latches
        self._tell(self._alarms.follow(ticked.verdict, latches, ticked.now_s, ticked.utc_s))
        if self._firing is not None:
            saw = seen(ticked, told, carried.guard, self._loop.guard.carries)
            self._journal.tick(self._firing, tick_row(ticked, saw))

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

    def _event(self, kind: str, fields: dict[str, Any]) -> None:
        self._journal.event(
            self._firing,
            kind,
            fields,
            severity(kind),
            utc_s=self._clock.utc_s(),
            mono_s=self._clock.now_s(),
        )

    def _note_request(self, message: dict[str, Any], reply: Reply, n: int | None = None) -> Reply:
        """Keep a request, its answer and its tick, without the presence code and a schedule's whole text."""
        args = {k: str(v)[:200] for k, v in message.items() if k not in ("request", "by", "presence")}
        kind, by = str(message.get("request"))[:40], str(message.get("by", "?"))[:40]
        self._journal.request(
            self._firing,
            by,
            kind,
            args,
            accepted=reply["ok"],
            says=reply["says"],
            utc_s=self._clock.utc_s(),
            mono_s=self._clock.now_s(),
            n=n,
        )
        return reply


def _without_schedule(firing: Firing) -> Firing:
    """The record has the schedule's text already."""
    return firing._replace(schedule=None)


def tick_row(ticked: Ticked, saw: str = "") -> TickRow:
    """Return one tick as the record keeps it. `saw`: what `seen` made of it."""
    polled, firing = ticked.polled, ticked.firing
    readings = polled.readings
    load, limit = readings.get("load"), readings.get("limit")
    faults = [
        f"{role}={sensed.fault}" for role, sensed in (readings | polled.contacts).items() if sensed.fault
    ]
    return TickRow(
        ticked.n,
        ticked.now_s,
        ticked.utc_s,
        firing.state.value,
        firing.stage if stage_of(firing) is not None else None,
        ticked.outputs.setpoint_c,
        readings["air"].value_c,
        load.value_c if load is not None else None,
        limit.value_c if limit is not None else None,
        " ".join(faults),
        " ".join(f"{role}={'?' if c.on is None else int(c.on)}" for role, c in polled.contacts.items()),
        ticked.duty,
        ticked.grant.heat,
        ticked.grant.lease_s,
        polled.main_on,
        " ".join(finding.row.id for finding in ticked.verdict.findings),
        ticked.late_s > 0.0,
        json.dumps(kept(firing)) if firing.schedule is not None else "",
        saw,
    )
