"""Whether the schedule suits this shell, this mould and this plastic: findings in words, with a remedy.

What a green shell or a mould bears is badly known (`limits`), and so is how hard it is pulled at. It is
warned of what even a strong one would not bear; what a typical one would not bear, or a weak one, is a
note. What is left of the plastic and how far it is fired are better known: there the typical shell decides.
Nothing is judged that the mould does not have.
"""

from __future__ import annotations

from collections.abc import Iterator

from controller.forecast.ensemble import Runs
from controller.forecast.known import Known
from controller.forecast.limits import NO_LIMIT_C_PER_H, ShellLimits, shell_limits
from controller.forecast.makes import TYPICAL, part_way, variants
from controller.forecast.run import NEVER_S
from controller.forecast.shell_ahead import Most, ShellAhead
from controller.physics import gypsum, mould, silica
from controller.physics.decay import char_kinetics, loss_s
from controller.physics.finding import Finding, Weight
from controller.physics.fire import VENT_MARGIN, air_m3_per_kg
from controller.physics.sintering import ENERGY_J_PER_MOL, FULL_WORK_S, hold_for_s
from controller.physics.water import safe_overpressure_pa
from controller.schedule.model import Schedule
from controller.schedule.units import duration_text

NO_SHELL = ("kiln lining", "none")

LEFT_PART = 0.01
"""Plastic and char over the pattern's mass that still count as burnt out; chosen."""

LEFT_G = 0.5
"""Less than this shows in no casting; chosen."""

WEAK_WORK_PART = 0.5
"""Less than half of a full firing's heat work: the shell is weak. Chosen."""

COLD_K = 30.0
"""A shell whose core is so far below the pour's temperature is told of; chosen."""

GYPSUM_EXPANSION_PER_K = 12e-6
"""Set plaster with silica, below its changes; from memory, weak."""

NO_AIR_M3_PER_H = 0.4
"""Less than this passes through any kiln; chosen."""

RATE_OVER_S = 600.0
"""Rates are taken over so long: what a wall feels. Chosen."""


def shell_findings(
    schedule: Schedule, job: Known, runs: Runs, shell: ShellAhead, vent_m3_per_h: float | None = None
) -> tuple[Finding, ...]:
    """Return what the schedule does to this job that it should not. `vent_m3_per_h`: air that passes."""
    found = list(mould.findings(_points(runs), job.mould, reheated=job.reheated))
    found += _another_mould(schedule, job)
    if job.mould in NO_SHELL:
        return tuple(found)
    limits = shell_limits(job)
    found += _steam(limits, shell)
    found += _wall(job, limits, shell)
    if job.plastic_kg.high > 0.0:
        found += _cracks(job, limits, runs)
        found += _left(schedule, job, runs, shell)
        found += air_findings(job, shell.vapour_kg_per_s, vent_m3_per_h)
        carbon = shell.carbon_at_spent_kg
        told = mould.carbon_finding(carbon.typical, mould.SPENT_CARBON_C, job.mould)
        found += [told] if told and carbon.at_s else []
    found += _weak(job, runs, shell)
    found += _cold(schedule, runs, shell)
    return tuple(found)


def _points(runs: Runs) -> list[tuple[float, float]]:
    """Return what the mould itself goes through: a point every some minutes, so that a rate is a rate."""
    run = runs.typical
    stride = max(1, round(RATE_OVER_S / run.step_s))
    return [(place * run.step_s, run.load_c[place]) for place in range(0, len(run.load_c), stride)]


def _another_mould(schedule: Schedule, job: Known) -> Iterator[Finding]:
    if schedule.mould and schedule.mould in mould.MOULDS and schedule.mould != job.mould:
        says = f'The schedule is for a mould of the kind "{schedule.mould}", and this one is "{job.mould}".'
        remedy = "Use a schedule that was made for it, or correct the job sheet."
        yield Finding("another mould", "warn", says, remedy, 0.0, 0.0, "")


def _steam(limits: ShellLimits, shell: ShellAhead) -> Iterator[Finding]:
    steam, bears = shell.steam_pa, limits.pull_pa
    strong, middle, weak = (safe_overpressure_pa(bears.at(level)) for level in (2, 1, 0))
    judged = _judged(steam, strong, middle, weak)
    if judged is None:
        return
    weight, who, pa, limit_pa = judged
    says = f"Steam in the wall reaches {pa / 1e5:.2f} bar, and {limit_pa / 1e5:.2f} bar is safe for {who}."
    slow = limits.wet_c_per_h.low
    rate = "" if slow >= NO_LIMIT_C_PER_H else f", or rise no faster than {slow:.0f} C/h from 100 C on"
    remedy = f"Hold at 95 C for {duration_text(limits.gentle_s.high)} before going on{rate}."
    yield Finding("steam", weight, says, remedy, pa, limit_pa, "Pa", steam.at_s)


def _wall(job: Known, limits: ShellLimits, shell: ShellAhead) -> Iterator[Finding]:
    """The difference of temperature across the wall, against the stress that it makes."""
    of_gypsum = job.mould == "gypsum-bonded"
    modulus = gypsum.MODULUS_PA if of_gypsum else silica.GREEN_MODULUS_PA
    expansion = GYPSUM_EXPANSION_PER_K if of_gypsum else silica.EXPANSION_PER_K.typical
    strong, middle, weak = (
        limits.pull_pa.at(level) / silica.difference_stress_pa(1.0, part_way(modulus, 2 - level), expansion)
        for level in (2, 1, 0)
    )
    judged = _judged(shell.wall_k, strong, middle, weak)
    if judged is None:
        return
    weight, who, k, limit_k = judged
    says = f"The wall's face is up to {k:.0f} K from its middle, and {limit_k:.0f} K is what {who} bears."
    remedy = f"Go at {100.0 * limit_k / k:.0f} % of the rate there."
    yield Finding("wall difference", weight, says, remedy, k, limit_k, "K", shell.wall_k.at_s)


def _judged(most: Most, strong: float, middle: float, weak: float) -> tuple[Weight, str, float, float] | None:
    """Return how heavy it weighs, for whom, what was found and what that one bears; None: all is well."""
    if most.typical > strong:
        return "warn", "even a strong one", most.typical, strong
    if most.typical > middle:
        return "note", "a typical one", most.typical, middle
    return ("note", "a weak one", most.late, weak) if most.late > weak else None


def _cracks(job: Known, limits: ShellLimits, runs: Runs) -> Iterator[Finding]:
    weak_c, typical_c, strong_c = limits.cracks_at_c
    crack_c = next((c for c in (strong_c, typical_c, weak_c) if c is not None), None)
    hottest_c = max(runs.typical.load_c)
    if crack_c is None or hottest_c < crack_c or runs.typical.load_c[0] >= crack_c:
        return  # never so hot; or, in a forecast that is renewed, past
    at_s, rate = _passes(runs, crack_c)
    if rate >= limits.flash_c_per_h:
        return  # the skin runs first
    level = 0 if strong_c is not None else 1 if typical_c is not None else 2
    who = ("even a strong shell", "a typical shell", "a weak shell")[level]
    pa, limit_pa = limits.push_pa.at(level), limits.pull_pa.at(2 - level)
    says = (
        f"{job.material.name} grows more than the shell: {who} may crack on the way up, near {crack_c:.0f} C "
        f"(pulled at up to {pa / 1e6:.1f} MPa, it bears {limit_pa / 1e6:.1f})."
    )
    remedy = "Print it hollower, with a thinner skin, or add a coat; look for cracks at the first stop."
    yield Finding("pattern grows", "note" if level else "warn", says, remedy, pa, limit_pa, "Pa", at_s)


def _passes(runs: Runs, c: float) -> tuple[float, float]:
    """Return when the load passes a temperature on the way up, and how fast, C/h."""
    run = runs.typical
    place = next((n for n, load_c in enumerate(run.load_c) if load_c >= c), len(run.load_c) - 1)
    before = max(0, place - 10)
    rise = run.load_c[place] - run.load_c[before]
    return place * run.step_s, rise * 3600.0 / (max(1, place - before) * run.step_s)


def _left(schedule: Schedule, job: Known, runs: Runs, shell: ShellAhead) -> Iterator[Finding]:
    """Plastic and char that are left when the pour is ready, or at the end where there is no pour."""
    then = shell.ready if shell.ready is not None else shell.end
    limit_g = max(LEFT_G, 1000.0 * LEFT_PART * job.plastic_kg.typical)
    left_g = [1000.0 * (then.plastic_kg.typical + then.char_kg.typical)]
    left_g.append(1000.0 * (then.plastic_kg.high + then.char_kg.high))
    sure, maybe = left_g[0] > limit_g, left_g[1] > limit_g
    if not (sure or maybe):
        return
    found_g = left_g[0] if sure else left_g[1]
    are = "are" if sure else "may be"
    when = "when the pour is ready" if shell.ready is not None else "at the end"
    hottest_c = max(runs.typical.load_c)
    what = f"{found_g:.1f} g of {job.material.name} and its char"
    says = f"{what} {are} left {when}, and {limit_g:.1f} g is little."
    yield Finding(
        "left",
        "warn" if sure else "note",
        says,
        _longer(job, hottest_c, found_g, limit_g),
        found_g,
        limit_g,
        "g",
    )


def _longer(job: Known, hottest_c: float, found_g: float, limit_g: float) -> str:
    """Return the remedy: how long to hold, at the hottest that the schedule goes or at 650 C."""
    at_c = min(max(hottest_c, 400.0), 690.0 if job.mould == "gypsum-bonded" else 700.0)
    part = min(0.999, 1.0 - 0.5 * limit_g / found_g)
    decay = variants(job)[TYPICAL].make.plastic.decays
    more_s = loss_s(decay, at_c, part) + loss_s(char_kinetics(2), at_c, part)
    hold = f"Hold {duration_text(max(600.0, more_s))} longer near {at_c:.0f} C, with air passing"
    return f"{hold}, or drain more before."


def air_findings(job: Known, vapour: Most, vent_m3_per_h: float | None) -> Iterator[Finding]:
    """Yield what is to say of the air that burning takes: against the vent, where the kiln's file tells it.

    All in m3 an hour, as the air comes in. Twice what burning takes should pass (`VENT_MARGIN`).
    """
    takes, most = (
        air_m3_per_h(job, kg_per_s) for kg_per_s in (vapour.typical, max(vapour.typical, vapour.late))
    )
    vent = vent_m3_per_h
    if VENT_MARGIN * takes < NO_AIR_M3_PER_H or (vent is not None and vent >= VENT_MARGIN * most):
        return
    wants = VENT_MARGIN * (most if vent is not None and vent >= VENT_MARGIN * takes else takes)
    weight: Weight = "note"
    says = f"The plastic's vapour takes {takes:.1f} m3 of air an hour at its height (it may be {most:.1f})"
    remedy = f"Let {wants:.1f} m3 an hour pass while it burns, drain more before, or rise more slowly there."
    if vent is None:
        says = f"{says}; twice that should pass, {wants:.1f}, and the kiln's file tells no vent."
        remedy = "See that the vent and the extraction give it; with less it smokes. Tell it as [vent] flow."
    elif vent >= takes:
        says = f"{says}, and the vent passes {vent:.1f}: less than twice that, and air never finds all of it."
    else:
        weight = "warn"
        says = f"{says}, and the vent passes {vent:.1f}: the rest leaves as smoke, or waits for the door."
    found = wants if vent is None else vent
    yield Finding("air", weight, says, remedy, found, wants, "m3/h", vapour.at_s)


def air_m3_per_h(job: Known, vapour_kg_per_s: float) -> float:
    """Return the air that burns so much vapour, as it comes in."""
    return 3600.0 * vapour_kg_per_s * air_m3_per_kg(job.material.formula)


def _weak(job: Known, runs: Runs, shell: ShellAhead) -> Iterator[Finding]:
    """How far a silica shell is fired; a shell that is reheated was fired before, gypsum is not fired."""
    if job.mould != "silica shell" or job.reheated:
        return
    then = shell.ready if shell.ready is not None else shell.end
    work = then.heat_work_s
    limit_s = WEAK_WORK_PART * FULL_WORK_S
    if work.low >= limit_s:
        return
    sure = work.typical < limit_s
    found_s = work.typical if sure else work.low
    may = "is" if sure else "may be only"
    hottest_c = max(runs.typical.load_c)
    as_strong = f"as strong as {duration_text(found_s)} at 815 C would make it"
    says = f"The shell {may} {as_strong}; two hours are a full firing."
    more = hold_for_s(hottest_c, limit_s - found_s, ENERGY_J_PER_MOL.typical)
    remedy = (
        f"Hold {duration_text(more)} longer at {hottest_c:.0f} C." if more < 86400.0 else "Fire it hotter."
    )
    yield Finding("weak", "warn" if sure else "note", says, remedy, found_s, limit_s, "s")


def _cold(schedule: Schedule, runs: Runs, shell: ShellAhead) -> Iterator[Finding]:
    if schedule.pour_at_c is None or shell.ready is None:
        return
    core_c = shell.ready.core_c.typical
    if core_c >= schedule.pour_at_c - COLD_K or runs.typical.ready_s == NEVER_S:
        return
    asked = f"{schedule.pour_at_c:.0f} C is asked for"
    says = f"The shell's core is at {core_c:.0f} C when the pour is ready, and {asked}."
    lag_s = shell.ready.lag_s.high
    remedy = f"Hold {duration_text(max(300.0, 3.0 * lag_s))} longer before it."
    yield Finding("cold core", "warn", says, remedy, core_c, schedule.pour_at_c, "C", runs.typical.ready_s)
