"""One run of the campaign of faults: a drawn kiln, a moment, one fault or two, and what came of it.

The whole loop runs in one process: plant, core, control, guard; nothing is weaker than on the wire. A run is
safe when no thermocouple's true temperature goes above the ceiling by more than what the heat that was
stored by then must still give: the same kiln, run on unheated from the moment at which it was at the ceiling.

Which thermocouple says when that is? Any of the three, by its true temperature, even one whose reading is
false: while the program holds the heat it must not need to see it. Where heat flows by itself (a welded
relay, a fire) a guard can only act on what it is told, and a thermocouple that gives a false reading tells
nothing. The others stand elsewhere and lag: at r K/min one with a lag of s seconds is r s / 60 behind (10
K/min and 40 s: 7 K), and the limit thermocouple, nearer the lining, is some kelvin below the air besides.
So in those runs the moment is that at which a thermocouple with a true reading is at the ceiling:
`Run.witnesses`.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from controller.firing import OPEN
from controller.physics.kiln import step
from controller.simulator.plant import Plant
from tests.campaign.kilns import CEILING_C, firing_kiln
from tests.in_process import TROUBLES, InProcess

MOMENTS = {"cold": 60.0, "ramp": 900.0, "hold": 3600.0}
WATCHED_S = 6000.0  # the slowest row speaks within an hour and a half
BURNS_FOR_S = 600.0  # half a kilogram of plastic does not burn for longer than this at 4 kW and more
# A firing that nobody ended, made by moving its beginning back: longer than any kiln's limit.
FORGOTTEN_S = 7 * 24 * 3600.0
# Two ticks of full heat on the fastest kiln drawn here, and the noise: what judging costs at the ceiling.
TOLERANCE_K = 3.0
# Thermocouples that read lower than it is, and still look like thermocouples.
ROLES = ("air", "load", "limit")
LOW = {role: frozenset({f"{role}_reads_low", f"{role}_short_unseen"}) for role in ROLES}
SELF_HEATING = frozenset({"relay_welded", "relay_stuck"})
# Heat that flows by itself, and that no contact reads back.
UNSEEN_HEAT = frozenset({"relay_welded", "plastic_burns"})


class Run(NamedTuple):
    """One run to be made. `faults`: what was set at the moment; empty: a healthy firing.

    Each is a name, or names with a space between: faults that make one case together.
    """

    kiln: int
    seed: int
    moment: str
    faults: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Every single fault."""
        return tuple(dict.fromkeys(name for fault in self.faults for name in fault.split()))

    @property
    def witnesses(self) -> tuple[str, ...]:
        """The thermocouples of which one at the ceiling counts; see above."""
        if not (SELF_HEATING | UNSEEN_HEAT) & set(self.names):
            return ROLES
        true = tuple(role for role in ROLES if not any(name.startswith(f"{role}_") for name in self.names))
        return true or ROLES


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a run. Times from the fault, s; temperatures are true ones, C.

    `found`: every row that stood, with the time at which it first did; the first comes first.
    """

    run: Run
    found: dict[str, float]
    tripped: bool
    hottest_air_c: float
    hottest_load_c: float
    above_k: float

    @property
    def first_row(self) -> str | None:
        """The row that spoke first, if any."""
        return next(iter(self.found), None)

    @property
    def found_s(self) -> float | None:
        """When the first row spoke, if any."""
        return next(iter(self.found.values()), None)

    @property
    def beyond_software(self) -> bool:
        """Two faults at once that no program can end, only tell: see tests/campaign/faults.py."""
        names = set(self.run.names)
        unstoppable = "main_stuck_closed" in names and bool(SELF_HEATING & names)
        blind = "reader_frozen" in names and bool(UNSEEN_HEAT & names)
        return unstoppable or blind or bool(LOW["air"] & names and LOW["limit"] & names)

    @property
    def told(self) -> bool:
        """Whether the person is told of it."""
        return self.tripped or bool(self.found)

    @property
    def tellable(self) -> bool:
        """Whether a thermocouple is left that could contradict the others: not where all three read low."""
        return not all(low & set(self.run.names) for low in LOW.values())

    @property
    def safe(self) -> bool:
        """Whether it stayed below what the stored heat must give."""
        return self.above_k <= TOLERANCE_K


def carry_out(run: Run) -> Outcome:
    """Make one run."""
    with tempfile.TemporaryDirectory(prefix="stokehold-") as folder:
        kiln = firing_kiln(run.kiln, run.seed, Path(folder))
        return _faulty(run, kiln) if run.faults else _healthy(run, kiln)


def _faulty(run: Run, kiln: InProcess) -> Outcome:
    plant, watched = kiln.plant, _Watched(run.witnesses)
    while plant.now_s < MOMENTS[run.moment]:
        if kiln.tick().verdict.findings:
            raise AssertionError(f"{run}: something was found before the fault")
    _set(kiln, run.names)
    began_s = plant.now_s
    while plant.now_s - began_s < WATCHED_S:
        watched.tick(kiln, began_s)
        if plant.now_s - began_s >= BURNS_FOR_S:
            plant.set_fault("plastic_burns", False)
        if watched.tripped and plant.power_w == 0.0 and hottest(plant) < watched.hottest_c - 30.0:
            break  # it is on its way down, and a latch keeps it so
    return watched.outcome(run)


def _healthy(run: Run, kiln: InProcess) -> Outcome:
    """Fire to the end; whatever the guard finds is found falsely."""
    watched = _Watched(run.witnesses)
    while watched.tick(kiln, 0.0):
        pass
    return watched.outcome(run)


def _set(kiln: InProcess, names: tuple[str, ...]) -> None:
    for name in names:
        if name in TROUBLES:
            kiln.trouble = name
        elif name == "forgotten":
            kiln.loop._firing_since_s = kiln.plant.now_s - FORGOTTEN_S
        else:
            kiln.plant.set_fault(name, True)


class _Watched:
    """What was found, the hottest that it became, and by how much above what the stored heat had to give."""

    def __init__(self, witnesses: tuple[str, ...]) -> None:
        self._witnesses = witnesses
        self.found: dict[str, float] = {}
        self.tripped = False
        self.air_c = self.load_c = self.hottest_c = float("-inf")
        self._allowed_c: float | None = None

    def tick(self, kiln: InProcess, began_s: float) -> bool:
        """Run one tick and look at what is found and what is true; return whether the firing goes on."""
        ticked, plant = kiln.tick(), kiln.plant
        for finding in ticked.verdict.findings:
            self.found.setdefault(finding.row.id, plant.now_s - began_s)
        self.tripped = self.tripped or bool(kiln.loop.guard.latches)
        state = plant.state
        self.air_c = max(self.air_c, state.air_probe_c)
        self.load_c = max(self.load_c, state.load_outer_c, state.load_core_c)
        self.hottest_c = max(self.hottest_c, hottest(plant))
        if self._allowed_c is None and hottest(plant, self._witnesses) >= CEILING_C:
            self._allowed_c = _unheated_peak_c(plant)
        return ticked.firing.state in OPEN

    def outcome(self, run: Run) -> Outcome:
        """Sum up."""
        above_k = float("-inf") if self._allowed_c is None else self.hottest_c - self._allowed_c
        return Outcome(run, self.found, self.tripped, self.air_c, self.load_c, above_k)


def hottest(plant: Plant, roles: tuple[str, ...] = ROLES) -> float:
    """The true temperature of the hottest of these thermocouples, C."""
    return max(getattr(plant.state, f"{role}_probe_c") for role in roles)


def _unheated_peak_c(plant: Plant) -> float:
    """How hot the kiln must still become, with all heat gone at this very moment but a fire in it."""
    state, hottest_c = plant.state, hottest(plant)
    for second in range(0, 1800, 2):
        fire_w = plant.fire_w if second < BURNS_FOR_S else 0.0
        state = step(
            state, plant.parameters, 0.0, 2.0, plant.room_c, plant.air_kg_per_s, plant.opening_m2, fire_w
        )
        hottest_c = max(hottest_c, state.air_probe_c, state.load_probe_c, state.limit_probe_c)
    return hottest_c
