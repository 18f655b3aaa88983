"""The guard: the only door to the relay.

`judge` says what stands, `grant` turns proposed heat into a lease or into none, and nothing else in the
house holds the heat output. A lease is renewed tick by tick; when ticks stop coming, a keeper thread
drops the relay at the lease's end even if the main thread hangs, and where the relay hardware can time
out, it drops by itself even if this whole process is gone.

State one is left in by any failure: heat off. Cross-thread use: one lock; the keeper only ever drops.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import NamedTuple, Protocol

from controller.guard.find import REFUSAL_LASTS_S
from controller.guard.judge import ALL_WELL, Finding, Verdict, add_up, fresh_memory, judge
from controller.guard.latches import Latch, LatchFile
from controller.guard.memory import Memory
from controller.guard.sight import Given, Limits, Sight


class HeatOutput(Protocol):
    """The wire to the relay. Every method may raise; the guard takes any error as a silent heater."""

    def energise(self, lease_s: float) -> None:
        """Heat for at most `lease_s` seconds; to be renewed."""

    def drop(self) -> None:
        """No heat."""

    def close_main(self) -> None:
        """Close the main contactor, where there is one."""

    def open_main(self) -> None:
        """Open the main contactor, where there is one."""


class Grant(NamedTuple):
    """What came of a proposal. `refused_by`: ids of the rows or latches that refused it."""

    heat: bool
    lease_s: float
    refused_by: tuple[str, ...]


NO_HEAT = Grant(False, 0.0, ())
NEVER_S = float("-inf")
_new_tuple = tuple.__new__  # a NamedTuple's own constructor costs several times as much


class Carried(NamedTuple):
    """What the guard carries from tick to tick, for the record: to be looked at, never to be put back."""

    memory: Memory
    given: Given
    granted_s: float
    main_closed: bool | None


class Guard:
    """Judges what is measured, holds the latches, and grants or refuses heat."""

    def __init__(
        self,
        output: HeatOutput,
        limits: Limits,
        latch_file: LatchFile,
        now: Callable[[], float],
    ) -> None:
        """`now` gives the same monotonic seconds as the sights. Starts with the heat off."""
        self.__output = output
        self._limits = limits
        self._leased = Grant(True, limits.lease_s, ())
        self._latch_file = latch_file
        self._now = now
        self._memory = self._before = fresh_memory()
        self._given = Given()
        self._verdict = ALL_WELL
        self._sight_s = float("-inf")
        self._granted_s = float("-inf")
        self._late = False
        self._lock = threading.RLock()
        self._latches = latch_file.load()
        self._unsaved = False
        self.latch_trouble: str | None = None
        self._failures: dict[str, str] = {}
        self._dropped = self._command("relay", self.__output.drop)
        self._main_closed: bool | None = None
        self._move_main(closed=False)

    @property
    def latches(self) -> tuple[Latch, ...]:
        """The trips that stand until a person clears them."""
        return self._latches

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What stood at the last judgement."""
        return self._verdict.findings

    @property
    def carries(self) -> Carried:
        """What goes from the last tick into the next."""
        return Carried(self._memory, self._given, self._granted_s, self._main_closed)

    def judge(self, sight: Sight, utc_s: float) -> Verdict:
        """Judge what is seen at one tick, and latch what trips. `utc_s` dates the latches."""
        return self._look(self._memory, sight, utc_s)

    def look_again(self, sight: Sight, utc_s: float) -> Verdict:
        """Judge the same tick once more, before it is granted anything: its stage allows less than the last.

        It goes from the same memory as the first judgement, so nothing is counted twice; what the first
        one latched stays latched.
        """
        return self._look(self._before, sight, utc_s)

    def _look(self, memory: Memory, sight: Sight, utc_s: float) -> Verdict:
        with self._lock:
            self._before = memory
            self._memory, self._verdict = judge(memory, self._given, sight, self._limits)
            self._sight_s = sight.now_s
            self._late = sight.late_s > 0.0
            if self._verdict.trip:
                self._latch(self._verdict.findings, utc_s)
                self._out()
            elif self._latches:
                self._verdict = self._verdict._replace(trip=True, cut=True)
            verdict = self._verdict
        if self._unsaved:  # the heat is off by now, and nobody waits for the disk
            self._save()
        return verdict

    def grant(self, wants_heat: bool, wants_main: bool, sight_s: float) -> Grant:
        """Grant one lease, or none. `sight_s` must be the time of the judgement just made.

        `wants_main`: a firing runs, so the main contactor may be closed. A proposal that does not go
        with the last judgement, and any proposal of a late tick, is refused.
        """
        with self._lock:
            withdrawn = self._given.withdrawn
            refused_by = self._refusals(sight_s, withdrawn)
            self._arm(wants_main and not self._latches and not withdrawn, sight_s)
            if withdrawn and not wants_main:
                self._given = self._given._replace(withdrawn=False)  # the firing knows by now
            if wants_heat and self._main_closed and not refused_by:
                return self._lease(sight_s)
            self._withdraw()
            return Grant(False, 0.0, refused_by) if wants_heat and refused_by else NO_HEAT

    def _arm(self, wanted: bool, sight_s: float) -> None:
        """Close the main contactor for a firing, or open it; remember since when it has been closed."""
        closed = wanted and sight_s == self._sight_s
        if closed and self._verdict is not ALL_WELL:
            standing = [finding.row for finding in self._verdict.findings]
            behind_door = not self._main_closed and any(row.id == "door_open" for row in standing)
            closed = not behind_door and not any(row.opens_main for row in standing)
        if closed != self._main_closed:
            self._move_main(closed)
        armed_since_s = self._given.armed_since_s
        if wanted != (armed_since_s is not None):
            self._given = self._given._replace(armed_since_s=sight_s if wanted else None)

    def _lease(self, sight_s: float) -> Grant:
        """Give one lease, counted from before it was sent, so that ours never ends after the relay's."""
        lease_s, sent_s = self._limits.lease_s, self._now()
        self._dropped = False
        if not self._command("relay", self.__output.energise, lease_s):
            return self._refused(sight_s)
        ends_s = sent_s + lease_s
        granted, _, _, heated_s, main_opened, armed_since_s, write_failed, *_ = self._given
        if granted:  # the lease before was renewed: its heat counts; this one's is counted when it ends
            heated_s += min(sight_s - self._granted_s, lease_s)
        self._granted_s = sight_s
        fields = (
            True,
            ends_s,
            ends_s,
            heated_s,
            main_opened,
            armed_since_s,
            write_failed,
            None,
            NEVER_S,
            False,
        )
        self._given = _new_tuple(Given, fields)
        return self._leased

    def _refused(self, sight_s: float) -> Grant:
        """The relay did not take a lease: note since when it has refused."""
        last = self._given
        again = last.refused_since_s is not None and sight_s - last.refused_at_s <= REFUSAL_LASTS_S
        since_s = last.refused_since_s if again else sight_s
        self._given = last._replace(refused_since_s=since_s, refused_at_s=sight_s)
        self._withdraw()
        return Grant(False, 0.0, ("heater_silent",))

    def withdraw(self) -> bool:
        """End any lease now: no heat, main contactor open. For an abort, and for the end of the program.

        Nothing is granted after it until the firing itself asks for no heat any more: a tick that is under
        way cannot undo an abort. Returns whether relay and main contactor have both taken it.
        """
        with self._lock:
            self._given = self._given._replace(withdrawn=True)
            self._out()
            return self._dropped and self._main_closed is False

    def keep_leases(self) -> bool:
        """Drop the relay if its lease has run out unrenewed, or if a drop did not get through. Any thread.

        Returns whether a lease had run out.
        """
        with self._lock:
            ran_out = self._given.granted and self._now() > self._given.lease_end_s
            if ran_out or not (self._given.granted or self._dropped):
                self._withdraw()
            return ran_out

    def clear(self) -> tuple[bool, str]:
        """Clear the latched trips, if nothing that trips stands any more. A person at the kiln asked."""
        with self._lock:
            still = [finding for finding in self._verdict.findings if finding.trips or finding.row.latches]
            if still:
                return False, f"still standing: {still[0].row.says} ({still[0].found})"
            if not self._latches:
                return True, "no trip stands"
            try:
                self._latch_file.save(())
            except OSError as error:
                return False, f"the latches cannot be cleared on disk: {error}"
            self._latches, self._unsaved, self.latch_trouble = (), False, None
            self._verdict = add_up(self._verdict.findings)
            return True, "trips cleared"

    def _refusals(self, sight_s: float, withdrawn: bool) -> tuple[str, ...]:
        """The ids of all that refuses heat at this tick."""
        late = self._late or sight_s != self._sight_s
        if self._verdict is ALL_WELL and not (late or withdrawn or self._latches):
            return ()
        ids = [latch.row_id for latch in self._latches]
        ids += [f.row.id for f in self._verdict.findings if f.trips or f.row.reaction == "cut"]
        if late:
            ids.append("tick_late")
        if withdrawn:
            ids.append("withdrawn")
        return tuple(dict.fromkeys(ids))

    def _latch(self, findings: tuple[Finding, ...], utc_s: float) -> None:
        """Latch every finding that trips and is not latched yet; the oldest of the first is first-out."""
        known = {latch.row_id for latch in self._latches}
        new = sorted((f for f in findings if f.trips and f.row.id not in known), key=lambda f: f.since_s)
        if not new:
            return
        added = tuple(
            Latch(f.row.id, f.found, utc_s, not self._latches and place == 0) for place, f in enumerate(new)
        )
        self._latches += added
        self._unsaved = True

    def _save(self) -> None:
        """Keep the latches on the disk; what could not be kept is tried again at every tick."""
        try:
            self._latch_file.save(self._latches)
        except OSError as error:
            self.latch_trouble = f"a trip could not be kept on disk: {error}"
        else:
            self._unsaved, self.latch_trouble = False, None

    def _out(self) -> None:
        """Everything off: relay first, then the main contactor."""
        self._withdraw()
        self._move_main(closed=False)

    def _withdraw(self) -> None:
        """No heat. Written at every tick that grants none: it costs little and never relies on the last."""
        self._dropped = self._command("relay", self.__output.drop)
        last = self._given
        if last.granted:
            now_s = self._now()
            self._given = last._replace(
                granted=False,
                lease_end_s=min(last.lease_end_s, now_s),
                heat_end_s=now_s,
                heated_s=last.heated_s + min(max(0.0, now_s - self._granted_s), self._limits.lease_s),
            )

    def _move_main(self, closed: bool) -> None:
        """Move the main contactor."""
        done = self._command("main", self.__output.close_main if closed else self.__output.open_main)
        self._main_closed = closed if done else None
        if done:
            self._given = self._given._replace(main_opened=not closed)

    def _command(self, what: str, send: Callable[..., None], *told: float) -> bool:
        """Send one command to the relay or the main contactor; a failure stands until one gets through."""
        try:
            send(*told)
        except Exception as error:
            self._failures[what] = str(error) or repr(error)
        else:
            if not self._failures:
                return True
            self._failures.pop(what, None)
        failed = next(iter(self._failures.values()), "")
        if failed != self._given.write_failed:
            self._given = self._given._replace(write_failed=failed)
        return what not in self._failures


def watch_leases(guard: Guard, every_s: float, stopped: threading.Event) -> threading.Thread:
    """Start the keeper: a thread that drops the relay when a lease runs out, even if the tick hangs.

    `every_s`: seconds of the wall clock between looks.
    """

    def keep() -> None:
        while not stopped.wait(every_s):
            guard.keep_leases()

    thread = threading.Thread(target=keep, name="lease keeper", daemon=True)
    thread.start()
    return thread
