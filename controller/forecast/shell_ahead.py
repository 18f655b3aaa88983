"""The shell of a forecast: the live estimate's three shells, led along the load of a run ahead.

Gives the core against time, and what the shell must not: how hot it is while wet, its steam, what is left
of the plastic when the pour is ready, how far it is fired.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from controller.forecast import observer
from controller.forecast.ensemble import Curves, Runs
from controller.forecast.observer import Estimate, Estimates, ObserverSetup, ObserverState
from controller.physics.shell import core_c, plastic_kg_per_m2, steam_pa
from controller.physics.wall import mean_c

SHELL_STEP_S = 60.0
"""Half of the kiln's usual pace: a wall is even within minutes, and the time is spent here."""

BOIL_C = 100.0
SPENT_C = 700.0
"""Where carbon must be gone from a gypsum-bonded mould (`mould.SPENT_CARBON_C`)."""


class Most(NamedTuple):
    """The largest value of something, typical shell and late shell, and when that of the typical was."""

    typical: float
    late: float
    at_s: float

    def more(self, typical: float, late: float, t_s: float) -> Most:
        """Return the larger of what was and what is."""
        return Most(
            max(self.typical, typical), max(self.late, late), t_s if typical > self.typical else self.at_s
        )


class ShellAhead(NamedTuple):
    """What the shell does in a forecast."""

    core_c: Curves
    """The inner face against time; its band holds the kiln's doubts too."""
    steam_pa: Most
    wall_k: Most
    """Between the outer face and the middle of the wall, either way."""
    vapour_kg_per_s: Most
    """Plastic that goes as vapour."""
    carbon_at_spent_kg: Most
    """Char and plastic left when the core first passes 700 C; nothing where it never does."""
    ready: Estimates | None
    """All of it when the pour is ready; None where there is no pour."""
    end: Estimates
    runs_at_s: float
    """When the typical shell's plastic is hot enough to run; infinite: never."""
    dry_s: Estimate
    """When the water is gone; infinite: never."""


def shell_ahead(
    runs: Runs, setup: ObserverSetup, room_c: float, begun: ObserverState | None = None
) -> ShellAhead:
    """Lead the shell along the typical run. `begun`: where it stands already, in a live forecast."""
    run = runs.typical
    state = observer.start(setup, room_c) if begun is None else begun
    walk = _Walk(setup, state)
    stride = max(1, round(SHELL_STEP_S / run.step_s))
    places = range(0, len(run.load_c), stride)
    for place in places:
        if place:
            state = observer.step(state, setup, run.load_c[place], None, stride * run.step_s, SHELL_STEP_S)
        t_s = place * run.step_s
        walk.note(state, t_s, stride * run.step_s, ready=t_s >= run.ready_s)
    load = runs.curves(lambda of: of.load_c)
    everywhere = np.arange(len(run.load_c))
    core = np.column_stack([np.interp(everywhere, places, part) for part in zip(*walk.cores, strict=True)])
    off_low, off_high = load.low - load.typical, load.high - load.typical
    low_k, high_k = core[:, 0] - core[:, 1], core[:, 2] - core[:, 1]
    return ShellAhead(
        core_c=Curves(
            core[:, 1] - np.hypot(low_k, off_low), core[:, 1], core[:, 1] + np.hypot(high_k, off_high)
        ),
        steam_pa=walk.steam,
        wall_k=walk.wall,
        vapour_kg_per_s=walk.vapour,
        carbon_at_spent_kg=walk.carbon,
        ready=walk.ready,
        end=observer.estimates(state, setup),
        runs_at_s=walk.runs_at_s,
        dry_s=Estimate(*sorted(walk.dry_s)),
    )


class _Walk:
    """What is gathered on the way."""

    def __init__(self, setup: ObserverSetup, state: ObserverState) -> None:
        self.setup = setup
        self.cores: list[tuple[float, float, float]] = []
        self.steam = self.wall = self.vapour = self.carbon = Most(0.0, 0.0, 0.0)
        self.ready: Estimates | None = None
        self.runs_at_s = float("inf")
        self.dry_s = [float("inf")] * 3
        self._gone_kg = self._gone(state)
        self._spent = False

    def note(self, state: ObserverState, t_s: float, step_s: float, *, ready: bool) -> None:
        """Take in one step."""
        early, typical, late = state.shells
        variants = self.setup.variants
        low, middle, high = sorted(core_c(shell) for shell in state.shells)
        self.cores.append((low, core_c(typical), high) if low <= middle else (low, low, high))
        steam = [steam_pa(shell, variant.make) for shell, variant in zip(state.shells, variants, strict=True)]
        self.steam = self.steam.more(steam[1], max(steam), t_s)
        walls = [abs(shell.face_c - mean_c(shell.cells_c)) for shell in (typical, late)]
        self.wall = self.wall.more(walls[0], max(walls), t_s)
        gone_kg = self._gone(state)
        rates = [max(0.0, now - was) / step_s for now, was in zip(gone_kg, self._gone_kg, strict=True)]
        self.vapour = self.vapour.more(rates[1], max(rates), t_s)
        self._gone_kg = gone_kg
        for place, shell in enumerate((early, typical, late)):
            if shell.water_kg_per_m2 <= 0.0:
                self.dry_s[place] = min(self.dry_s[place], t_s)
        if typical.plastic_c >= variants[1].make.plastic.runs_c:
            self.runs_at_s = min(self.runs_at_s, t_s)
        if not self._spent and core_c(typical) >= SPENT_C:
            self._spent = True
            left = [self._carbon(state, place) for place in (1, 2)]
            self.carbon = Most(left[0], left[1], t_s)
        if ready and self.ready is None:
            self.ready = observer.estimates(state, self.setup)

    def _gone(self, state: ObserverState) -> list[float]:
        pairs = zip(state.shells, self.setup.variants, strict=True)
        return [shell.vapour_kg_per_m2 * variant.area_m2 for shell, variant in pairs]

    def _carbon(self, state: ObserverState, place: int) -> float:
        shell, variant = state.shells[place], self.setup.variants[place]
        return (plastic_kg_per_m2(shell) + shell.char_kg_per_m2) * variant.area_m2
