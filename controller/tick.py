"""One tick, without a clock: what was polled goes in, heat or no heat comes out.

The order is fixed: judge, step, control, grant. The service runs this against the wire on a real clock;
the bench and the replay run it as fast as the processor can. It holds the guard, and the guard holds the
heat output: nobody else does.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.control import Control, anew, control
from controller.control import Plan as ControlPlan
from controller.control.behind import ON_TIME, Behind, behind
from controller.firing import HEATING, OPEN, Event, Firing, Inputs, Outputs, Request, State, stage_of, step
from controller.guard import Carried as GuardCarried
from controller.guard import Grant, Guard, Latch, Sight, Verdict
from controller.wire.kiln_wire import Polled


class Equipment(NamedTuple):
    """What the kiln has, from its configuration: what it does not have cannot fail."""

    contacts: frozenset[str]
    reads_back: bool
    reads_main_back: bool = False


class Carried(NamedTuple):
    """Everything that goes from one tick into the next: with it, a firing can be run again."""

    firing: Firing
    plan: ControlPlan
    control: Control
    guard: GuardCarried
    latches: tuple[Latch, ...]
    granted: bool
    stage_ceiling_c: float | None
    extraction: bool
    firing_since_s: float | None
    behind: Behind


class Ticked(NamedTuple):
    """Everything about one tick, for the record and the screens.

    `behind_k`: how far the kiln is behind its setpoint at full heat (0: it is not).
    """

    n: int
    now_s: float
    utc_s: float
    late_s: float
    polled: Polled
    verdict: Verdict
    firing: Firing
    outputs: Outputs
    duty: float
    grant: Grant
    behind_k: float


class TickLoop:
    """Carries the firing, the control and the guard from tick to tick."""

    def __init__(
        self, guard: Guard, plan: ControlPlan, equipment: Equipment, full_rate_c_per_h: float
    ) -> None:
        self.guard = guard
        self.plan = plan
        self.firing = Firing(full_rate_c_per_h=full_rate_c_per_h)
        self._equipment = equipment
        self._control = Control()
        self._granted = False
        self._stage_ceiling_c: float | None = None
        self._extraction = False
        self._firing_since_s: float | None = None
        self._behind = ON_TIME
        self._n = 0

    def take_up(self, firing: Firing, n: int, now_s: float) -> None:
        """Go on with a firing that another run of the program began; its last tick was `n`."""
        self.firing, self._n = firing, n
        self._firing_since_s = now_s - firing.elapsed_s
        stage = stage_of(firing)
        self._stage_ceiling_c = stage.ceiling_c if stage is not None else None
        self._extraction = stage.extraction if stage is not None else False

    def renew(self, plan: ControlPlan) -> None:
        """Control by another plan from the next tick on. Only between firings: then no heat can bump."""
        if plan != self.plan and self.firing.state not in OPEN:
            self.plan, self._control = plan, anew(self._control)

    def carries(self) -> Carried:
        """Return what goes from the last tick into the next."""
        return Carried(
            self.firing,
            self.plan,
            self._control,
            self.guard.carries,
            self.guard.latches,
            self._granted,
            self._stage_ceiling_c,
            self._extraction,
            self._firing_since_s,
            self._behind,
        )

    def tick(
        self,
        polled: Polled,
        now_s: float,
        utc_s: float,
        dt_s: float,
        late_s: float = 0.0,
        requests: tuple[Request, ...] = (),
        clock_step_s: float = 0.0,
        record_trouble: str = "",
    ) -> Ticked:
        """Run one tick. `dt_s`: seconds since the tick before; `late_s`: 0.0 when this one is in time.

        `clock_step_s`: by how much the date and time jumped; `record_trouble`: why the record cannot be
        written, empty when it can. Both are only told to the guard.
        """
        readings = polled.readings
        sight = self._sight(polled, now_s, late_s, clock_step_s, record_trouble)
        verdict = self.guard.judge(sight, utc_s)
        air_c = sight.air_c
        load_c = readings["load"].value_c if "load" in readings else None
        if verdict.hold and air_c is not None:
            # Thermocouples may disagree: the hottest one counts.
            air_c = max(c for c in (air_c, sight.limit_c, load_c) if c is not None)
        firing, outputs = step(
            self.firing,
            Inputs(
                dt_s,
                air_c,
                load_c,
                verdict.hold,
                verdict.cut,
                verdict.trip,
                self._proven_off(polled),
                requests,
            ),
        )
        self._follow(firing, now_s)
        if self._narrows(outputs):
            # The stage began in this very tick: what was measured is held against its limits as well.
            narrow = sight._replace(stage_ceiling_c=outputs.ceiling_c, extraction_needed=outputs.extraction)
            verdict = self.guard.look_again(narrow, utc_s)
        self._stage_ceiling_c = outputs.ceiling_c
        self._extraction = outputs.extraction
        self._control, wants_heat = control(
            self._control,
            self.plan,
            outputs.setpoint_c,
            outputs.slope_c_per_h,
            air_c,
            self._granted,
            dt_s,
            outputs.next_slope_c_per_h,
            outputs.corner_s,
        )
        # A firing that is held with the heat off, as after an outage, does not need the main contactor.
        asks = firing.state in HEATING and not (firing.state is State.HELD and firing.setpoint_c is None)
        grant = self.guard.grant(wants_heat, asks, now_s)
        self._granted = grant.heat
        outputs = self._fallen_behind(firing, outputs, air_c, dt_s)
        self._n += 1
        return Ticked(
            self._n,
            now_s,
            utc_s,
            late_s,
            polled,
            verdict,
            firing,
            outputs,
            self._control.duty,
            grant,
            self._behind.by_k,
        )

    def _follow(self, firing: Firing, now_s: float) -> None:
        """Take in the firing as it is now, and since when it goes on."""
        self.firing = firing
        if firing.state not in OPEN:
            self._firing_since_s = None
        elif self._firing_since_s is None:
            self._firing_since_s = now_s

    def _narrows(self, outputs: Outputs) -> bool:
        """Whether the stage now in hand allows less than the one that the guard was told of."""
        was_c, now_c = self._stage_ceiling_c, outputs.ceiling_c
        lower = now_c is not None and (was_c is None or now_c < was_c)
        return lower or (outputs.extraction and not self._extraction)

    def _fallen_behind(self, firing: Firing, outputs: Outputs, air_c: float | None, dt_s: float) -> Outputs:
        """Note whether full heat does not do, and add what a person is to be told of it."""
        if firing.state not in OPEN:
            self._behind = ON_TIME
            return outputs
        self._behind, tell = behind(
            self._behind, firing.stage, outputs.setpoint_c, air_c, self._control.duty, self._granted, dt_s
        )
        stage = stage_of(firing)
        if not tell or stage is None:
            return outputs
        event = Event("falls_behind", {"stage": stage.name, "by_k": round(self._behind.by_k, 1)})
        return outputs._replace(events=(*outputs.events, event))

    def _sight(
        self, polled: Polled, now_s: float, late_s: float, clock_step_s: float, record_trouble: str
    ) -> Sight:
        """What the guard is shown: measurements and limits, no wishes."""
        has, contacts, readings = self._equipment.contacts, polled.contacts, polled.readings
        in_kiln = tuple([pair for pair in readings.items() if pair[0] != "enclosure"])
        enclosure = readings.get("enclosure")
        limit = readings.get("limit")
        return Sight(
            now_s,
            readings["air"].value_c,
            in_kiln,
            polled.heat_on,
            polled.main_on,
            contacts["door"].on if "door" in has else True,
            contacts["emergency_stop"].on if "emergency_stop" in has else True,
            contacts["key"].on if "key" in has else True,
            contacts["extraction"].on if "extraction" in has else True,
            self._stage_ceiling_c,
            self._extraction,
            late_s,
            self._equipment.reads_back,
            limit.value_c if limit is not None else None,
            enclosure.value_c if enclosure is not None else None,
            clock_step_s,
            record_trouble,
            self._equipment.reads_main_back,
            self._firing_since_s,
        )

    def _proven_off(self, polled: Polled) -> bool:
        """Whether the heat is known to be off: it reads back so; where it cannot, none is granted."""
        if not self._equipment.reads_back:
            return not self._granted
        if polled.heat_on is None:
            return polled.main_on is False
        return not polled.heat_on
