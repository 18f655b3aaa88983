"""Whether a kiln can carry out a schedule at all."""

from __future__ import annotations

from collections.abc import Iterator

from controller.schedule.located import Located, Problem, read_toml
from controller.schedule.model import Hold, Ramp, Schedule, Stage
from controller.schedule.plan import ROOM_C, plan
from controller.schedule.rules import CEILING_MARGIN_K
from controller.schedule.units import duration_text, temperature_text


def against_kiln(
    schedule: Schedule,
    ceiling_c: float,
    full_rate_c_per_h: float,
    *,
    longest_s: float | None = None,
    has_extraction: bool = True,
    has_load: bool = True,
) -> list[Problem]:
    """Return what of a schedule this kiln cannot do, in the order of the file's lines.

    `ceiling_c` is the kiln's own ceiling, which no stage may come within 10 K of; `full_rate_c_per_h` as
    fast as its setpoint may move (C/h); `longest_s` the length of a firing at which its guard trips;
    `has_extraction` whether the kiln has a contact that proves its extraction, `has_load` a thermocouple at
    the load.
    """
    located = read_toml(schedule.text, schedule.file)
    problems: list[Problem] = []
    if longest_s is not None:
        problems += _too_long(schedule, located, full_rate_c_per_h, longest_s)
    for index, stage in enumerate(schedule.stages):
        for key, found, expected in _misfits(stage, ceiling_c, full_rate_c_per_h, has_extraction, has_load):
            where = f'stage {index + 1} "{stage.name}", {key}'
            path = ("stage", index, key)
            problems.append(Problem(schedule.file, located.line(*path), where, found, expected, path))
    return problems


def _misfits(
    stage: Stage, ceiling_c: float, full_rate_c_per_h: float, has_extraction: bool, has_load: bool
) -> Iterator[tuple[str, str, str]]:
    """Yield each misfit of a stage: its key, what was found, what this kiln can do."""
    highest_c = ceiling_c - CEILING_MARGIN_K
    limit = f"at most {temperature_text(highest_c)}, 10 K below the kiln's ceiling"
    if isinstance(stage, Ramp) and stage.to_c > highest_c:
        yield "to", temperature_text(stage.to_c), limit
    if isinstance(stage, Hold) and stage.at_c > highest_c:
        yield "at", temperature_text(stage.at_c), limit
    if isinstance(stage, Ramp) and stage.rate_c_per_h is not None and stage.rate_c_per_h > full_rate_c_per_h:
        yield (
            "rate",
            f"{stage.rate_c_per_h:.0f} C/h",
            f'at most {full_rate_c_per_h:.0f} C/h, the kiln\'s full rate, or "full"',
        )
    if stage.lead_k is not None:
        asked_c = stage.to_c if isinstance(stage, Ramp) else stage.at_c
        if not has_load:
            yield "follow", '"load"', "a kiln with a load thermocouple; this one has none"
        elif asked_c <= highest_c < asked_c + stage.lead_k:
            yield "lead", f"{stage.lead_k:.0f} K", f"no more than leaves the air {limit}"
    if stage.extraction and not has_extraction:
        yield "extraction", "true", "a kiln with an extraction contact; this one has none"


def _too_long(
    schedule: Schedule, located: Located, full_rate_c_per_h: float, longest_s: float
) -> Iterator[Problem]:
    lasts_s = plan(schedule, ROOM_C, full_rate_c_per_h).total_s
    if lasts_s > longest_s:
        found = f"a plan of {duration_text(lasts_s)}"
        limit = f"at most {duration_text(longest_s)}, the kiln's longest firing"
        yield Problem(schedule.file, located.line("stage"), "schedule", found, limit)
