"""Every fault of the simulated kiln and of the computer, on many kilns, at three moments; and as many healthy
firings.

One run in five has a second fault at the same moment. Three kinds of pairs no program can end in time, and
the independent over-temperature limit is there for them: current that flows by itself and a main contactor
that does not open; an air and a limit thermocouple that both read low, so that what is measured is not what
is; and a reader that gives its last answer for ever, just as heat begins that nobody granted and nothing
reads back (a welded relay, a fire). That one is found after five minutes, and not sooner: until then it
looks as a long soak does on a reader of whole degrees (on eight of these kilns, read so, all three
thermocouples stood still for 110 s at least and 105 min at most). They are counted apart, and must be told
of where they become too hot: unless all three thermocouples read low, so that none is left to contradict.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import time
from typing import Any

from rich.console import Console

from controller.guard import ROWS
from controller.simulator import faults
from tests.campaign.runs import MOMENTS, Outcome, Run, carry_out
from tests.campaign.tables import by_fault, by_row
from tests.faults.cases import faults_of
from tests.in_process import TROUBLES

PAIRED = 0.2
HEALTHY_A_KILN = 10
# Beside a kiln, whatever else its computer has to do goes first.
NICENESS = 15
# What is seen on the wire only, and by tests of the wire: tests/survival/test_reader.py.
ON_THE_WIRE = frozenset({"reader_slow", "reader_misnamed"})
NAMES = (
    *(name for name in faults.NAMES if name not in ON_THE_WIRE),
    *TROUBLES,
    "forgotten",
    "air_reads_low limit_reads_low",
)


def faulty_runs(kilns: int) -> list[Run]:
    """Every fault at every moment on every kiln; one run in five has another fault besides."""
    rng = random.Random(99)
    runs = []
    for kiln in range(kilns):
        for fault in NAMES:
            for moment in MOMENTS:
                second = rng.choice([name for name in NAMES if name != fault])
                pair = (fault, second) if rng.random() < PAIRED else (fault,)
                runs.append(Run(kiln, rng.randrange(1, 60_000), moment, pair))
    return runs


def healthy_runs(kilns: int) -> list[Run]:
    """Firings in which nothing is wrong."""
    return [Run(kiln, 500 + 31 * i, "whole", ()) for kiln in range(kilns) for i in range(HEALTHY_A_KILN)]


def all_outcomes(runs: list[Run], console: Console, what: str) -> list[Outcome]:
    """Make the runs, one process a processor, and say how long it took."""
    began_s = time.monotonic()
    with multiprocessing.get_context("spawn").Pool(initializer=give_way) as pool:
        outcomes = []
        for outcome in pool.imap_unordered(carry_out, runs, chunksize=8):
            outcomes.append(outcome)
            if len(outcomes) % 500 == 0:
                console.print(f"  {len(outcomes)} of {len(runs)} in {time.monotonic() - began_s:.0f} s")
    console.print(f"{len(runs)} {what} in {time.monotonic() - began_s:.0f} s")
    return outcomes


def give_way() -> None:
    """Let a process of the campaign run when nobody else wants to."""
    os.nice(max(0, NICENESS - os.nice(0)))


def campaign(kilns: int, console: Console) -> dict[str, Any]:
    """Run it all; print the tables; return the figures."""
    faulty = all_outcomes(faulty_runs(kilns), console, "runs with a fault")
    healthy = all_outcomes(healthy_runs(kilns), console, "healthy firings")
    console.print(by_fault(faulty, NAMES))
    console.print(by_row(faulty, healthy))
    unsafe = [one for one in faulty if not one.safe and not one.beyond_software]
    for one in unsafe:
        console.print(f"  unsafe: {one.run}: {one.above_k:.1f} K too hot, air {one.hottest_air_c:.0f} C")
    for one in healthy:
        if one.found:
            console.print(f"  falsely found: {one.run}: {one.found}")
    beyond = [one for one in faulty if one.beyond_software]
    return {
        "faults_run": len(faulty),
        "faults_in_pairs": sum(len(one.run.faults) > 1 for one in faulty),
        "faults_unsafe": len(unsafe),
        "faults_found": sum(bool(one.found) for one in faulty),
        "pairs_beyond_software": len(beyond),
        "pairs_beyond_software_most_above_k": max((round(one.above_k, 1) for one in beyond), default=None),
        "pairs_beyond_software_told": sum(one.told for one in beyond),
        "pairs_beyond_software_safe": sum(one.safe for one in beyond),
        "pairs_beyond_software_untold": sum(untold(one) for one in beyond),
        "healthy_firings": len(healthy),
        "false_trips": sum(one.tripped for one in healthy),
        "false_findings": sum(bool(one.found) for one in healthy),
        "rows_never_tried": [row.id for row in ROWS if not _of(row.id, faulty)],
        "worst_detection_s": {row.id: worst_s(_of(row.id, faulty)) for row in ROWS},
    }


def untold(one: Outcome) -> bool:
    """Whether a run became too hot, could have been told of, and was not."""
    return one.tellable and not (one.told or one.safe)


def _of(row_id: str, outcomes: list[Outcome]) -> list[Outcome]:
    """The runs in which this row's own faults were set."""
    own = set(faults_of(row_id))
    return [one for one in outcomes if one.run.faults[0] in own]


def worst_s(outcomes: list[Outcome]) -> float | None:
    """The longest that a fault stood before anything was found, s; None when nothing ever was."""
    return max((one.found_s for one in outcomes if one.found_s is not None), default=None)
