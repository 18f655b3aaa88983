"""For every row of the guard, the ways in which it can be set off, each as a scene with its boundary in it.

A scene is played on a guard once a second: a healthy time first, then the fault in a size `x`. It acts from
`limit` on, in the direction that it says, and stands for the first time at tick `at_s` after the fault began:
worked out by hand, from the row's own number and what is seen of it before. The contract suite plays each
scene with sizes crowded about its limit (tests/guard/test_contract.py); every row must have one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from controller.guard import Limits
from tests.guard.bench import Bench
from tests.guard.sights import LIMITS
from tests.guard.ticks import (
    Tick,
    all_frozen,
    climbs,
    climbs_unheated,
    cold,
    dips,
    falls,
    falls_below_any_room,
    forgotten,
    frozen_air_in_heat,
    frozen_load,
    hardly_rises,
    healthy,
    hot,
    idle,
    limit_passes_the_air,
    limit_rises,
    limit_rises_unheated,
    load_above,
    main_reads_closed,
    main_reads_open,
    never_ends,
    old,
    put_by,
    reads_off,
    refuses_now_and_then,
    refuses_to_heat,
    rises,
    seen,
    sized,
    takes_nothing,
    unasked,
    willing_again,
    wobble,
)

BEFORE_S = 60


class Scene(NamedTuple):
    """One way to set a row off.

    `tick`: one tick of the fault, `t` seconds after it began, in size `x`. `acts`: "from" the limit on,
    "above", "below" or "to" it. `step`: how close to the limit the sizes lie. `says`: what is found.
    `well`: one tick after the fault has gone. `heats`: heat is wanted throughout, and nothing but this row
    refuses it. `beside`: the rows that stand with it. `past`: what it finds rests on the time before.
    """

    row_id: str
    what: str
    limit: float
    tick: Tick
    at_s: int
    says: str
    step: float = 1.0
    acts: str = "from"
    before: Callable[[Bench], object] | None = None
    well: Callable[[Bench], object] | None = None
    limits: Limits = LIMITS
    heats: bool = True
    beside: tuple[str, ...] = ()
    past: bool = False

    def sizes(self) -> tuple[float, ...]:
        """The sizes about the limit, from below to above."""
        return tuple(self.limit + n * self.step for n in (-3, -2, -1, 0, 1, 2, 3))

    def is_acting(self, x: float) -> bool:
        """Whether a size must set the row off."""
        return {
            "from": x >= self.limit,
            "above": x > self.limit,
            "below": x < self.limit,
            "to": x <= self.limit,
        }[self.acts]

    def acting(self) -> float:
        """The size that acts and lies nearest to the limit."""
        return min((x for x in self.sizes() if self.is_acting(x)), key=lambda x: abs(x - self.limit))

    def begin(self, bench: Bench) -> None:
        """Play the healthy time."""
        for _ in range(BEFORE_S):
            (self.before or healthy)(bench)

    def recover(self, bench: Bench) -> None:
        """Play one tick after the fault."""
        (self.well or self.before or healthy)(bench)


def yes_or_no(row_id: str, what: str, says: str, at_s: int = 0, **changes: object) -> Scene:
    """A scene without a number: it is so, or it is not."""
    return Scene(row_id, what, 1.0, seen(**changes), at_s, says)


AIR, LOAD, LIMIT = ({f"{role}_c": None} for role in ("air", "load", "limit"))
NAN = float("nan")
SHORT = Limits(ceiling_c=900.0, longest_firing_s=300.0)

SCENES: tuple[Scene, ...] = (
    Scene(
        "ceiling",
        "limit, C",
        900.0,
        sized("limit_c", 880.0),
        0,
        "limit: 900.0 C, ceiling 900 C",
        0.1,
        before=hot,
    ),
    Scene("ceiling", "load, C", 900.0, sized("load_c", 880.0), 0, "load: 900.0 C", 0.1, before=hot),
    Scene(
        "ceiling",
        "air, C",
        900.0,
        lambda b, _t, x: b.tick(air_c=x, load_c=880.0, limit_c=880.0),
        0,
        "air: 900.0 C",
        0.1,
        before=hot,
    ),
    Scene(
        "ceiling",
        "the stage's, C",
        730.0,
        sized("load_c", stage_ceiling_c=730.0),
        0,
        "load: 730.0 C, ceiling 730 C",
        0.1,
    ),
    Scene(
        "ceiling",
        "a stage's above the kiln's, C",
        900.0,
        sized("load_c", 880.0, stage_ceiling_c=950.0),
        0,
        "load: 900.0 C, ceiling 900 C",
        0.1,
        before=hot,
    ),
    yes_or_no("sensor_bad", "load open", "load: open", **LOAD),
    yes_or_no("sensor_bad", "limit open", "limit: open", **LIMIT),
    Scene(
        "sensor_bad",
        "air open",
        1.0,
        lambda b, _t, x: b.tick(
            air_c=None if x >= 1 else 500.0 + wobble(b), load_c=500.0 + wobble(b), limit_c=500.0 + wobble(b)
        ),
        0,
        "air: open",
    ),
    yes_or_no("sensor_bad", "not a number", "load: nan is no temperature", load_c=NAN),
    yes_or_no("sensor_bad", "infinite", "limit: -inf is no temperature", limit_c=float("-inf")),
    Scene("reading_stale", "age of the air's, s", 10.0, old("air"), 0, "air: 10 s old", 0.1, "above"),
    Scene("reading_stale", "age of the limit's, s", 10.0, old("limit"), 0, "limit: 10 s old", 0.1, "above"),
    Scene(
        "reading_frozen",
        "another has moved, K",
        15.0,
        frozen_load,
        300,
        "load: 300.0 C to the bit for 5 min",
        0.1,
        before=idle,
        heats=False,
        well=lambda b: healthy(b, 484.0, wants=False),
    ),
    Scene(
        "reading_frozen",
        "ticks of 300 without heat",
        15.0,
        frozen_air_in_heat,
        300,
        "air: 500.0 C to the bit for 5 min",
        1.0,
        "to",
    ),
    Scene(
        "readings_still",
        "ticks of heat",
        1.0,
        all_frozen,
        300,
        "no reading has moved for 5 min, with heat",
        before=idle,
        heats=False,
    ),
    Scene("reading_falls", "down, K", 10.0, falls, 121, "air down 10 K in unbroken heat", 0.1, before=idle),
    Scene(
        "reading_falls",
        "limit up meanwhile, K",
        3.0,
        limit_rises,
        121,
        "air down 20 K",
        0.01,
        "above",
        before=idle,
    ),
    Scene(
        "reading_falls",
        "to where no room is, C",
        5.0,
        falls_below_any_room,
        60,
        "air down 15 K",
        0.1,
        "below",
        before=cold,
    ),
    Scene(
        "sensors_differ",
        "limit above air, K",
        40.0,
        lambda b, _t, x: b.tick(air_c=500.0 + wobble(b), limit_c=500.0 + wobble(b) + x),
        60,
        "air 500 C, limit 540 C",
        0.125,
    ),
    Scene(
        "sensors_differ",
        "limit below air, K",
        40.0,
        lambda b, _t, x: b.tick(air_c=500.0 + wobble(b), limit_c=500.0 + wobble(b) - x),
        60,
        "air 500 C, limit 460 C",
        0.125,
    ),
    Scene(
        "sensors_differ",
        "load above both in heat, K",
        40.0,
        load_above,
        60,
        "load 540 C, air 500 C, in heat",
        0.125,
        past=True,
    ),
    Scene(
        "heat_without_lease",
        "reads back on",
        1.0,
        unasked,
        5,
        "the heater reads back on without a lease",
        before=idle,
        heats=False,
    ),
    Scene(
        "rises_unheated",
        "up, K",
        12.0,
        rises,
        400,
        "air up 12.0 K with the heat off",
        0.125,
        before=healthy,
        well=idle,
        heats=False,
    ),
    Scene(
        "rises_unheated",
        "limit up where air reads low, K",
        12.0,
        limit_rises_unheated,
        400,
        "limit up 12.0 K with the heat off",
        0.125,
        before=healthy,
        well=idle,
        heats=False,
    ),
    Scene(
        "rises_unheated",
        "limit above its air, K",
        0.0,
        limit_passes_the_air,
        400,
        "limit up 20",
        0.125,
        "above",
        before=healthy,
        well=idle,
        heats=False,
    ),
    Scene(
        "rises_unheated",
        "since the heat went off, s",
        180.0,
        dips,
        181,
        "air up 13.0 K",
        before=healthy,
        well=lambda b: healthy(b, 488.0, wants=False),
        heats=False,
    ),
    Scene(
        "no_rise",
        "up in ten minutes, K",
        3.0,
        hardly_rises,
        601,
        "10 min of full heat, air up less than 3 K",
        0.01,
        "below",
        before=idle,
        well=lambda b: healthy(b, 510.0),
    ),
    Scene(
        "surge", "in full heat, K/min", 35.0, climbs, 180, "33 K/min with 94% heat", 0.5, "above", before=cold
    ),
    Scene(
        "surge",
        "without heat, K/min",
        5.0,
        climbs_unheated,
        280,
        "5 K/min with 0% heat",
        0.1,
        "above",
        before=idle,
        heats=False,
    ),
    Scene(
        "heater_differs",
        "granted, reads off",
        1.0,
        reads_off,
        6,
        "heat was granted, the heater reads back off",
        before=idle,
        well=healthy,
    ),
    Scene(
        "heater_differs",
        "granted, main open",
        1.0,
        main_reads_open,
        6,
        "heat was granted, the main contactor reads back open",
        before=idle,
        well=healthy,
    ),
    Scene(
        "heater_differs",
        "main opened, reads closed",
        1.0,
        main_reads_closed,
        5,
        "the main contactor was opened, it reads back closed",
        before=put_by,
        heats=False,
    ),
    yes_or_no("heater_silent", "no read-back", "the heater gives no read-back", heat_on=None),
    yes_or_no(
        "heater_silent",
        "no read-back of the main",
        "the main contactor gives no read-back",
        main_on=None,
        reads_main_back=True,
    ),
    Scene(
        "heater_silent",
        "takes no command",
        1.0,
        takes_nothing,
        1,
        "the heater does not take a command: no answer",
        well=willing_again,
    ),
    Scene(
        "heater_refuses",
        "refuses",
        1.0,
        refuses_to_heat,
        120,
        "no order to heat taken for 120 s",
        well=willing_again,
        beside=("heater_silent",),
    ),
    Scene(
        "heater_refuses",
        "asked every so many s",
        60.0,
        refuses_now_and_then,
        120,
        "no order to heat taken for 120 s",
        1.0,
        "to",
        well=willing_again,
        heats=False,
        beside=("heater_silent",),
    ),
    yes_or_no("contact_unknown", "door", "door", door_ok=None),
    yes_or_no("contact_unknown", "emergency stop", "emergency stop", emergency_stop_ok=None),
    yes_or_no("contact_unknown", "key", "key", key_ok=None),
    yes_or_no("contact_unknown", "extraction", "extraction", extraction_ok=None),
    yes_or_no("door_open", "open", "open", door_ok=False),
    yes_or_no("emergency_stop", "pressed", "pressed", emergency_stop_ok=False),
    yes_or_no("emergency_stop", "key out", "key removed", key_ok=False),
    Scene(
        "no_extraction",
        "needed",
        1.0,
        lambda b, _t, x: healthy(b, extraction_ok=False, extraction_needed=x >= 1.0),
        10,
        "not running",
    ),
    yes_or_no("no_extraction", "not running", "not running", 10, extraction_ok=False, extraction_needed=True),
    Scene("firing_too_long", "told, s", 172_800.0, forgotten, 0, "48 h"),
    Scene(
        "firing_too_long", "by the main contactor", 1.0, never_ends, 300, "0 h", before=put_by, limits=SHORT
    ),
    Scene("enclosure_warm", "C", 55.0, sized("enclosure_c"), 0, "55 C", 0.1),
    Scene("enclosure_hot", "C", 70.0, sized("enclosure_c"), 2, "70 C", 0.1, beside=("enclosure_warm",)),
    Scene("tick_late", "s", 0.0, sized("late_s"), 0, "the tick came 0.1 s late", 0.1, "above"),
    Scene("clock_stepped", "forward, s", 5.0, sized("clock_step_s"), 0, "by +5 s", 0.1),
    Scene("clock_stepped", "back, s", -5.0, sized("clock_step_s"), 0, "by -5 s", 0.1, "to"),
    yes_or_no("record_trouble", "cannot be written", "the disk is full", record_trouble="the disk is full"),
)
