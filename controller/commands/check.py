"""`stokehold check`: tells every mistake of a schedule file, or shows the schedule as it will go."""

from __future__ import annotations

import argparse
import io
import sys
import textwrap
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands.clock_times import clock_time as _clock
from controller.commands.clock_times import start_time as _start_time
from controller.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.console import Console
    from rich.table import Table

    from controller.schedule.model import Schedule
    from controller.schedule.plan import Plan

HELP = "check a schedule file, and show it as a table with clock times and a plot"

WIDEST_PLOT = 110


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("file", metavar="FILE", nargs="?", help="a schedule file, or the name of a profile")
    parser.add_argument("--kiln", metavar="KILN.toml", type=Path, help="check it against this kiln as well")
    parser.add_argument("--job", metavar="JOB.toml", type=Path, help="check it against this shell as well")
    parser.add_argument("--start", metavar="21:00", help="the clock time of the start (default: now)")
    parser.add_argument("--unit", choices=("C", "F"), default="C", help="show degrees Celsius or Fahrenheit")
    parser.add_argument("--keys", action="store_true", help="show every key that a schedule file may hold")


def run(args: argparse.Namespace) -> int:
    """Check one schedule; 0 if it can be run, 2 with its mistakes, 1 with what stands against it if not."""
    from rich.console import Console

    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal without our characters is no reason to fail
    console = Console(highlight=False)
    if args.keys:
        for table in _key_tables():
            console.print(table)
        return 0
    if args.file is None:
        raise UsageError(_no_file())
    start = _start_time(args.start, datetime.now().astimezone())
    schedule, full_rate_c_per_h = _checked(args.file, args.kiln)
    _show(console, schedule, start, full_rate_c_per_h, args.unit, kiln=args.kiln is not None)
    return _foresee(console, args)


def _foresee(console: Console, args: argparse.Namespace) -> int:
    """Tell what stands against it on this kiln with this shell, as estimated; 1 if that rules it out."""
    from controller.commands.forecast import finding_lines, made_forecast

    made = made_forecast(args.file, args.kiln, None, args.job)
    console.print()
    on = "this kiln" if args.kiln is not None else "the simulated kiln (--kiln names yours)"
    of = "this shell" if args.job is not None else "a shell of which nothing was told (--job tells it)"
    console.print(textwrap.fill(f"On {on}, with {of}:", console.width - 1), markup=False)
    for line in finding_lines(made, args.unit):
        console.print(textwrap.fill(line, console.width - 1, subsequent_indent="  "), markup=False)
    return 1 if made.refused else 0


def _checked(name: str, kiln: Path | None) -> tuple[Schedule, float]:
    """Return a schedule without mistakes, and the kiln's full rate (C/h). Raises with all mistakes."""
    from controller.home import default_home
    from controller.schedule.fits import against_kiln
    from controller.schedule.index import find, own_folder
    from controller.schedule.located import FileProblems
    from controller.schedule.plan import ASSUMED_FULL_C_PER_H
    from controller.schedule.reader import load_schedule

    schedule = load_schedule(find(name, own_folder(default_home())))
    if kiln is None:
        return schedule, ASSUMED_FULL_C_PER_H
    from controller.config import load_kiln

    config = load_kiln(kiln)
    problems = against_kiln(
        schedule,
        config.ceiling_c,
        config.full_rate_c_per_h,
        longest_s=config.longest_firing_s,
        has_extraction="extraction" in config.contacts,
        has_load="load" in config.readers,
    )
    if problems:
        raise FileProblems(problems)
    return schedule, config.full_rate_c_per_h


def _no_file() -> str:
    from controller.home import default_home
    from controller.schedule.index import names, own_folder

    known = ", ".join(names(own_folder(default_home())))
    return f"check: found no FILE, expected a schedule file or one of: {known}"


def _show(
    console: Console, schedule: Schedule, start: datetime, full_rate_c_per_h: float, unit: str, *, kiln: bool
) -> None:
    from controller.schedule.plan import ROOM_C, plan
    from controller.schedule.terminal import plot_text

    planned = plan(schedule, ROOM_C, full_rate_c_per_h)
    console.print(_table(schedule, planned, start, unit, console.width))
    for note in _notes(schedule, planned, start, full_rate_c_per_h, unit, kiln=kiln):
        console.print(textwrap.fill(note, console.width - 1, subsequent_indent="      "), markup=False)
    console.print()
    utf8 = (console.encoding or "").lower().replace("-", "") == "utf8"
    picture = plot_text(schedule, planned, start, min(console.width, WIDEST_PLOT), unit, utf8=utf8)
    console.print(picture, markup=False, no_wrap=True, overflow="crop")


def _table(schedule: Schedule, planned: Plan, start: datetime, unit: str, width: int) -> Table:
    """Return the stages with their times. A narrow terminal has no room for everything."""
    from rich import box
    from rich.markup import escape
    from rich.table import Table

    table = Table(box=box.SIMPLE_HEAD, title=escape(schedule.title), title_justify="left", pad_edge=False)
    shown = [name for name, narrowest in _COLUMNS.items() if width >= narrowest]
    for name in shown:
        words = name in ("stage", "what")
        table.add_column(
            "" if name == "number" else name,
            justify="left" if words else "right",
            no_wrap=not words,
            min_width=11 if words else None,
        )
    for row in _rows(schedule, planned, start, unit):
        if row["number"] == "":
            table.add_section()
        table.add_row(*(escape(row[name]) for name in shown))
    return table


# The table's columns, each with the narrowest terminal (columns) that has room for it.
_COLUMNS = {"number": 0, "stage": 0, "what": 62, "from": 78, "to": 52, "lasts": 0, "begins": 46}


def _rows(schedule: Schedule, planned: Plan, start: datetime, unit: str) -> Iterator[dict[str, str]]:
    """Yield a row for each stage, and one for the end."""
    from controller.schedule.units import duration_text, temperature_text
    from controller.schedule.words import what_it_does

    for stage, span in zip(schedule.stages, planned.spans, strict=True):
        yield {
            "number": str(span.index + 1),
            "stage": stage.name,
            "what": what_it_does(stage, unit),
            "from": temperature_text(span.start_c, unit),
            "to": temperature_text(span.end_c, unit),
            "lasts": ("~ " if span.estimated else "") + duration_text(span.end_s - span.start_s),
            "begins": _clock(start, span.start_s),
        }
    end = dict.fromkeys(_COLUMNS, "") | {"stage": "end", "begins": _clock(start, planned.total_s)}
    yield end | {"lasts": "~ " + duration_text(planned.total_s)}


def _notes(
    schedule: Schedule, planned: Plan, start: datetime, full_rate_c_per_h: float, unit: str, *, kiln: bool
) -> Iterator[str]:
    """Yield what a person has to know besides the table, one line each."""
    from controller.schedule.model import Ramp
    from controller.schedule.plan import PASSIVE_C_PER_H, ROOM_C
    from controller.schedule.units import rate_text, temperature_text
    from controller.schedule.words import if_nobody_comes, needs_person

    yield "A person is needed at the kiln:"
    for stage, span in zip(schedule.stages, planned.spans, strict=True):
        if needs_person(stage):
            says = getattr(stage, "says", "") or "Release this stage when the mould is poured."
            yield f"  {span.index + 1}. {_clock(start, span.start_s)}  {says} {if_nobody_comes(stage, unit)}"
    if not any(needs_person(stage) for stage in schedule.stages):
        yield "  never: it runs through by itself."
    aired = [number for number, stage in enumerate(schedule.stages, start=1) if stage.extraction]
    if aired:
        yield f"The extraction must be proven to run, or there is no heat, in stage {_runs(aired)}."
    if schedule.ceiling_c is not None:
        yield f"Its ceiling is {temperature_text(schedule.ceiling_c, unit)}: at it the guard trips."
    yield (
        "~ is a guess: it waits for a person, or it cools with the heat off, reckoned at "
        f"{rate_text(PASSIVE_C_PER_H, unit)}. The kiln is reckoned to start at "
        f"{temperature_text(ROOM_C, unit)}; waiting for the load is not foreseen."
    )
    full = any(isinstance(stage, Ramp) and stage.rate_c_per_h is None for stage in schedule.stages)
    if full and not kiln:
        rate = rate_text(full_rate_c_per_h, unit)
        yield f'"full" is taken as {rate}; name the kiln with --kiln for its own.'


def _runs(numbers: list[int]) -> str:
    """Return rising numbers with their runs drawn together: `"4, 5, 7 to 9"`."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


def _key_tables() -> Iterator[Table]:
    """Yield the keys of a schedule and of each kind of stage, from the table that the reader reads by."""
    from rich import box
    from rich.markup import escape
    from rich.table import Table

    from controller.schedule.keys import RECOVERY_KEYS, SCHEDULE_KEYS, STAGE_KEYS

    titles = {"the schedule": SCHEDULE_KEYS, "[recovery]": RECOVERY_KEYS} | {
        f'[[stage]] kind = "{kind}"': keys for kind, keys in STAGE_KEYS.items()
    }
    for title, keys in titles.items():
        table = Table(box=box.SIMPLE_HEAD, title=escape(title), title_justify="left", pad_edge=False)
        for heading in ("key", "must", "meaning", "example"):
            table.add_column(heading, no_wrap=heading == "key")
        for key in keys:
            table.add_row(
                key.name,
                "yes" if key.must else "",
                escape(key.meaning),
                escape(f"{key.name} = {key.example}"),
            )
        yield table
