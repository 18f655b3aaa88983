"""How exact and how quick the physics are: the wall against the exact series, the live estimate's tick."""

from __future__ import annotations

from time import perf_counter

from controller.forecast.job import JobSheet
from controller.forecast.observer import LONGEST_STEP_S, estimates, set_up, start, step
from controller.physics.wall import CELLS
from tests.physics.shell.plane_wall import ours, series, steps_of_a_tick

CASES = ((0.5, 1.2), (1.0, 0.2), (1.0, 1.0), (5.0, 0.5), (0.1, 2.0))
"""(Biot, Fourier) numbers: a shell in still air to one in a blast, early and late."""

ROUNDS, TICKS = 5, 400


def wall_error_pct_max() -> float:
    """Return the largest error of either face and of the heat, at the live grid and tick, as a part of it."""
    worst = 0.0
    for biot, fourier in CASES:
        found = ours(biot, fourier, CELLS, steps_of_a_tick(fourier, LONGEST_STEP_S))
        for one, exact in zip(found, series(biot, fourier), strict=True):
            worst = max(worst, 100.0 * abs(one / exact - 1.0))
    return worst


def observer_ms() -> float:
    """Return what one tick of the live estimate takes, with its bands worked out: the median of rounds.

    A wet shell with its pattern, hot enough that everything goes on at once: the slowest part of a firing.
    """
    setup = set_up(JobSheet(dry_kg=3.1, wet_kg=3.6, pattern_kg=0.5))
    rounds = []
    for _ in range(ROUNDS):
        state, began = start(setup, 140.0), perf_counter()
        for tick in range(TICKS):
            state = step(state, setup, 170.0 + 0.02 * tick, None, 1.0)
            estimates(state, setup)
        rounds.append(1000.0 * (perf_counter() - began) / TICKS)
    return sorted(rounds)[ROUNDS // 2]


def measure() -> dict[str, float]:
    """Return the figures by their keys in build/bench.json."""
    return {"physics.wall_error_pct_max": wall_error_pct_max(), "physics.observer_ms": observer_ms()}


def print_table() -> None:
    """Print the figures beside what they must be."""
    limits = {"physics.wall_error_pct_max": 0.5, "physics.observer_ms": 1.0}
    for key, value in measure().items():
        print(f"{key:<32} {value:10.3f}   (below {limits[key]:g})")


if __name__ == "__main__":
    print_table()
