"""Sights for tests of the guard: healthy ones, and for every row one just quiet and one that acts."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from controller.guard import Given, Limits, Memory, Sight, Verdict, fresh_memory, judge

LIMITS = Limits(ceiling_c=900.0)


class Reading(NamedTuple):
    """A reading of the tests' own: the guard must not need the wire's."""

    value_c: float | None
    fault: str | None
    at_s: float


def sight(now_s: float, air_c: float | None = 500.0, **changes: object) -> Sight:
    """Return a healthy sight with changes; `load_c`, `limit_c` and `age_s` shape the readings."""
    load_c = changes.pop("load_c", air_c)
    limit_c = changes.pop("limit_c", air_c)
    at_s = now_s - float(changes.pop("age_s", 0.0))  # type: ignore[arg-type]
    readings = tuple(
        (role, Reading(c, None if c is not None else "open", at_s))  # type: ignore[arg-type]
        for role, c in (("air", air_c), ("load", load_c), ("limit", limit_c))
    )
    base = Sight(now_s, air_c, readings, heat_on=False, main_on=False, limit_c=limit_c)  # type: ignore[arg-type]
    return base._replace(**changes)  # type: ignore[arg-type]


class Judged:
    """A memory that is judged tick by tick, as the guard would."""

    def __init__(self, limits: Limits = LIMITS) -> None:
        self.limits = limits
        self.memory: Memory = fresh_memory()
        self.given = Given()
        self.verdict: Verdict | None = None

    def see(self, what: Sight) -> tuple[str, ...]:
        """Judge one sight; return the ids that stand."""
        self.memory, self.verdict = judge(self.memory, self.given, what, self.limits)
        return tuple(finding.row.id for finding in self.verdict.findings)

    def granted(self, now_s: float, lease_s: float = 3.0) -> None:
        """Tell the memory that heat was granted at this tick, one second of it."""
        self.given = self.given._replace(
            granted=True,
            lease_end_s=now_s + lease_s,
            heat_end_s=now_s + lease_s,
            heated_s=self.given.heated_s + 1.0,
            main_opened=False,
            armed_since_s=self.given.armed_since_s if self.given.armed_since_s is not None else now_s,
        )

    def refused(self) -> None:
        """Tell the memory that no heat was granted at this tick."""
        self.given = self.given._replace(granted=False)


class Case(NamedTuple):
    """One row's boundary. `quiet` and `acts` run some ticks and return the ids that stood at any of them."""

    row_id: str
    quiet: Callable[[], set[str]]
    acts: Callable[[], set[str]]


def steady(seconds: float, **changes: object) -> Callable[[], set[str]]:
    """The same sight once a second for so long, after a minute of health; heat never granted."""

    def run() -> set[str]:
        judged, stood = Judged(), set[str]()
        for n in range(60):
            judged.see(sight(float(n)))
        for n in range(round(seconds) + 1):
            stood |= set(judged.see(sight(60.0 + n, **changes)))  # type: ignore[arg-type]
        return stood

    return run


def heated(seconds: float, air_at: Callable[[float], float], **changes: object) -> Callable[[], set[str]]:
    """Heat granted once a second for so long, with the air as a function of the time.

    A change that is a function gets the time as well. Limits other than the usual go by `limits`.
    """

    def run() -> set[str]:
        judged, stood = Judged(changes.get("limits", LIMITS)), set[str]()  # type: ignore[arg-type]
        for n in range(round(seconds) + 1):
            now_s = float(n)
            given: dict[str, object] = {"heat_on": n > 0, "main_on": n > 0}
            for name, value in changes.items():
                if n > 0 and name != "limits":
                    given[name] = value(now_s) if callable(value) else value
            stood |= set(judged.see(sight(now_s, air_at(now_s), **given)))
            judged.granted(now_s)
        return stood

    return run


def unheated(seconds: float, air_at: Callable[[float], float], **changes: object) -> Callable[[], set[str]]:
    """Heat granted for a minute, then never again; the air as a function of the time since."""

    def run() -> set[str]:
        judged, stood = Judged(), set[str]()
        for n in range(60):
            judged.see(sight(float(n), 500.0 + 0.1 * n, heat_on=n > 0, main_on=n > 0))
            judged.granted(float(n))
        judged.refused()
        for n in range(round(seconds) + 1):
            given = {name: value(float(n)) if callable(value) else value for name, value in changes.items()}
            stood |= set(judged.see(sight(62.0 + n, air_at(float(n)), **given)))
            judged.refused()
        return stood

    return run


def refused(seconds: float) -> Callable[[], set[str]]:
    """A heater that has taken no order to heat for so long."""

    def run() -> set[str]:
        judged, stood = Judged(), set[str]()
        for n in range(round(seconds) + 1):
            judged.given = judged.given._replace(refused_since_s=0.0, refused_at_s=float(n))
            stood |= set(judged.see(sight(float(n))))
        return stood

    return run


def up(rate_k_per_min: float, from_c: float = 500.0) -> Callable[[float], float]:
    """The air, rising at a rate."""
    return lambda t_s: from_c + rate_k_per_min * t_s / 60.0


SHORT = Limits(ceiling_c=900.0, longest_firing_s=3600.0)


CASES = (
    Case("ceiling", steady(60, limit_c=899.9, air_c=880.0, load_c=880.0), steady(2, limit_c=900.0)),
    Case("ceiling", steady(60, load_c=899.9), steady(0, load_c=900.0)),
    Case(
        "ceiling",
        steady(60, stage_ceiling_c=730.0, load_c=729.9),
        steady(2, stage_ceiling_c=730.0, load_c=730.0),
    ),
    Case("ceiling", steady(60, stage_ceiling_c=950.0), steady(2, stage_ceiling_c=950.0, load_c=900.0)),
    Case("sensor_bad", steady(60), steady(0, load_c=None)),
    Case("sensor_bad", steady(60), steady(0, air_c=None)),
    Case("reading_stale", steady(60, age_s=10.0), steady(0, age_s=10.1)),
    # The load stands still; the air moves by just less, or just as much, as another must move.
    Case(
        "reading_frozen",
        unheated(320, lambda t_s: 506.0 - min(t_s, 300.0) * 14.9 / 300.0, load_c=300.0),
        unheated(320, lambda t_s: 506.0 - min(t_s, 300.0) * 15.1 / 300.0, load_c=300.0),
    ),
    # All stand still in heat that is broken, or unbroken.
    Case("reading_frozen", steady(1200), heated(320, lambda t_s: 500.0)),
    # Falls while the limit rises; falls, and all with it; falls to where no workshop is.
    Case("readings_still", heated(299, lambda t_s: 500.0), heated(320, lambda t_s: 500.0)),
    Case("readings_still", steady(1200), heated(320, lambda t_s: 500.0)),
    Case("heater_silent", steady(60, main_on=None), steady(0, main_on=None, reads_main_back=True)),
    Case("sensor_bad", steady(60), steady(0, load_c=float("nan"))),
    Case("reading_falls", heated(200, up(-2.9), limit_c=up(2.0)), heated(210, up(-2.9), limit_c=up(2.0))),
    Case("reading_falls", heated(900, up(-2.9)), heated(900, up(-2.9), limit_c=up(0.9))),
    Case("reading_falls", heated(300, up(-2.9, 20.0)), heated(330, up(-2.9, 20.0))),
    Case("sensors_differ", steady(90, limit_c=539.9), steady(60, limit_c=540.0)),
    Case("sensors_differ", steady(59, limit_c=460.0), steady(60, limit_c=460.0)),
    Case("heat_without_lease", steady(4, heat_on=True), steady(5, heat_on=True)),
    Case(
        "rises_unheated",
        unheated(900, lambda s: 505.9 + max(0.0, s - 400.0) * 0.0239),
        unheated(900, lambda s: 505.9 + max(0.0, s - 400.0) * 0.0245),
    ),
    Case("no_rise", heated(600, lambda s: 500.0 + 0.001 * s), heated(601, lambda s: 500.0 + 0.001 * s)),
    Case("no_rise", heated(3600, lambda s: 500.0 + s * 0.0051), heated(3600, lambda s: 500.0 + s * 0.0049)),
    Case("surge", heated(1800, up(34.0, 20.0)), heated(1800, up(36.0, 20.0))),
    Case(
        "surge",
        unheated(900, lambda s: 505.9 + max(0.0, s - 600.0) * 4.6 / 60.0 - 30.0),
        unheated(900, lambda s: 505.9 + max(0.0, s - 600.0) * 5.6 / 60.0 - 30.0),
    ),
    Case(
        "heater_differs",
        heated(5, up(20.0), heat_on=False),
        heated(6, up(20.0), heat_on=False),
    ),
    Case(
        "heater_differs",
        heated(5, up(20.0), main_on=False),
        heated(6, up(20.0), main_on=False),
    ),
    Case("heater_differs", steady(4, main_on=True), steady(5, main_on=True)),
    Case("heater_silent", steady(60, heat_on=None, reads_back=False), steady(0, heat_on=None)),
    Case("heater_refuses", refused(119), refused(120)),
    Case("contact_unknown", steady(60), steady(0, door_ok=None)),
    Case("contact_unknown", steady(60), steady(0, emergency_stop_ok=None)),
    Case("contact_unknown", steady(60), steady(0, key_ok=None)),
    Case("contact_unknown", steady(60), steady(0, extraction_ok=None)),
    Case("door_open", steady(60), steady(0, door_ok=False)),
    Case("emergency_stop", steady(60), steady(0, emergency_stop_ok=False)),
    Case("emergency_stop", steady(60), steady(0, key_ok=False)),
    Case(
        "no_extraction",
        steady(60, extraction_ok=False),
        steady(10, extraction_ok=False, extraction_needed=True),
    ),
    Case(
        "no_extraction",
        steady(9, extraction_ok=False, extraction_needed=True),
        steady(10, extraction_ok=False, extraction_needed=True),
    ),
    Case(
        "firing_too_long",
        heated(3599, up(1.0), limits=SHORT),
        heated(3600, up(1.0), limits=SHORT),
    ),
    Case("enclosure_warm", steady(60, enclosure_c=54.9), steady(0, enclosure_c=55.0)),
    Case("enclosure_hot", steady(60, enclosure_c=54.9), steady(2, enclosure_c=70.0)),
    Case("tick_late", steady(60, late_s=0.0), steady(0, late_s=0.6)),
    Case("clock_stepped", steady(60, clock_step_s=4.9), steady(0, clock_step_s=5.0)),
    Case("clock_stepped", steady(60, clock_step_s=-4.9), steady(0, clock_step_s=-5.0)),
    Case("record_trouble", steady(60), steady(0, record_trouble="the disk is full")),
)
