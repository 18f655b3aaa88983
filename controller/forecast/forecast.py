"""The forecast of a firing: what happens when, what it costs, what stands against it, each with its band.

`forecast(...)` is pure. Times are seconds from the forecast's beginning, which is the firing's start, or,
for a firing that goes on (`renew`), now. People are taken to come when the schedule expects them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from controller.forecast import observer
from controller.forecast.ensemble import Curves, Floats, Runs, Starter, ensemble
from controller.forecast.job import JobSheet
from controller.forecast.kiln_findings import kiln_findings
from controller.forecast.kiln_known import KilnKnown
from controller.forecast.known import Known, known
from controller.forecast.observer import Estimate, ObserverState
from controller.forecast.run import NEVER_S, Run
from controller.forecast.shell_ahead import ShellAhead, shell_ahead
from controller.forecast.shell_findings import NO_SHELL, shell_findings
from controller.physics.finding import Finding
from controller.physics.mould import MOULDS
from controller.schedule.model import Schedule
from controller.schedule.plan import ROOM_C

J_PER_KWH = 3.6e6
WEIGHTS = ("stop", "warn", "note")


@dataclass(frozen=True, slots=True)
class StageAhead:
    """When a stage begins and ends. Infinite: it never does."""

    index: int
    name: str
    kind: str
    begins_s: Estimate
    ends_s: Estimate


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is thought of a firing. All of it is an estimate, and is shown as one."""

    schedule: Schedule
    job: Known
    kiln_says: str
    """What the kiln's model rests on."""
    t_s: Floats
    setpoint_c: Floats
    """NaN where the heat is off."""
    air_c: Curves
    load_c: Curves
    core_c: Curves
    duty: Floats
    stages: tuple[StageAhead, ...]
    ready_s: Estimate | None
    """When the shell is ready for the pour; None where the schedule has no pour, or it is past."""
    end_s: Estimate
    energy_kwh: Estimate
    shell: ShellAhead
    findings: tuple[Finding, ...]

    def cost(self, price_per_kwh: float) -> Estimate:
        """Return what the energy costs, in the price's own currency."""
        low, typical, high = self.energy_kwh
        return Estimate(low * price_per_kwh, typical * price_per_kwh, high * price_per_kwh)

    @property
    def refused(self) -> bool:
        """Tell whether something stands against this firing altogether."""
        return any(finding.weight == "stop" for finding in self.findings)


def job_for(schedule: Schedule, sheet: JobSheet | None = None) -> JobSheet:
    """Return the job sheet, with the schedule's own kind of mould where the sheet tells none."""
    sheet = sheet or JobSheet()
    mould = sheet.mould or (schedule.mould if schedule.mould in MOULDS else None)
    return replace(sheet, mould=mould, reheated=sheet.reheated or mould in NO_SHELL)


def forecast(
    schedule: Schedule,
    sheet: JobSheet | None,
    kiln: KilnKnown,
    full_rate_c_per_h: float,
    *,
    room_c: float = ROOM_C,
    longest_s: float | None = None,
    vent_m3_per_h: float | None = None,
    starter: Starter | None = None,
    left_s: float | None = None,
    begun: ObserverState | None = None,
) -> Forecast:
    """Return the forecast of a schedule on a kiln with a job.

    `longest_s`: the firing's length at which the kiln's guard trips. `vent_m3_per_h`: air that passes, where
    the kiln's file tells. `starter`, `left_s`, `begun`: for a
    firing that goes on, see `renew`.
    """
    told = job_for(schedule, sheet)
    job = known(told)
    runs = ensemble(schedule, job, kiln, room_c, full_rate_c_per_h, starter, left_s)
    shell = shell_ahead(runs, observer.set_up(told), room_c, begun)
    findings = kiln_findings(schedule, runs, longest_s)
    findings += shell_findings(schedule, job, runs, shell, vent_m3_per_h)
    run = runs.typical
    pour = run.ready_s < NEVER_S or any(one.ready_s < NEVER_S for pair in runs.pairs for one in pair)
    return Forecast(
        schedule=schedule,
        job=job,
        kiln_says=kiln.says,
        t_s=np.arange(len(run.air_c), dtype=np.float64) * run.step_s,
        setpoint_c=np.array([np.nan if c is None else c for c in run.setpoint_c]),
        air_c=runs.curves(lambda of: of.air_c),
        load_c=runs.curves(lambda of: of.load_c),
        core_c=shell.core_c,
        duty=np.array(run.power_w) / runs.kiln.power_w,
        stages=_stages(schedule, runs),
        ready_s=runs.at_s(lambda of: of.ready_s) if pour else None,
        end_s=runs.at_s(lambda of: of.end_s),
        energy_kwh=runs.of(lambda of: of.energy_j / J_PER_KWH),
        shell=shell,
        findings=tuple(sorted(findings, key=lambda finding: WEIGHTS.index(finding.weight))),
    )


def _begins_s(index: int, run: Run) -> float:
    return run.begins_s.get(index, NEVER_S)


def _stages(schedule: Schedule, runs: Runs) -> tuple[StageAhead, ...]:
    first = min(runs.typical.begins_s)
    begins = {index: runs.at_s(partial(_begins_s, index)) for index in range(first, len(schedule.stages))}
    begins[len(schedule.stages)] = runs.at_s(lambda run: run.end_s)
    return tuple(
        StageAhead(index, stage.name, stage.kind, begins[index], begins[index + 1])
        for index, stage in enumerate(schedule.stages)
        if index >= first
    )
