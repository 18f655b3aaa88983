"""`stokehold forecast`: when all happens, what it costs, what stands against it, each with its band."""

from __future__ import annotations

import argparse
import io
import re
import sys
import textwrap
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from controller.commands.check import WIDEST_PLOT
from controller.commands.clock_times import clock_time, start_time

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rich.table import Table

    from controller.forecast.forecast import Forecast
    from controller.forecast.observer import Estimate

HELP = "say when a schedule is ready to pour on this kiln with this shell, and what stands against it"

DEAREST = 100.0


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add this command's arguments."""
    parser.add_argument("schedule", metavar="SCHEDULE", help="a schedule file, or the name of a profile")
    parser.add_argument(
        "--kiln",
        metavar="KILN.toml",
        type=Path,
        help="the kiln's configuration (default: the simulated kiln)",
    )
    parser.add_argument(
        "--home", metavar="FOLDER", type=Path, help="where what was learnt of the kiln is kept"
    )
    parser.add_argument("--job", metavar="JOB.toml", type=Path, help="the job sheet: shell, pattern, metal")
    when = parser.add_mutually_exclusive_group()
    when.add_argument("--start", metavar="21:00", help="the clock time of the start (default: now)")
    when.add_argument("--pour-at", metavar="16:30", help="the clock time of the pour: works back from it")
    parser.add_argument("--price", metavar="0.30", type=_price, help="what a kWh costs")
    parser.add_argument("--unit", choices=("C", "F"), default="C", help="show degrees Celsius or Fahrenheit")


def run(args: argparse.Namespace) -> int:
    """Print the forecast; 1 if something stands against the firing altogether, else 0."""
    from rich.console import Console

    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal without our characters is no reason to fail
    console = Console(highlight=False)
    made = made_forecast(args.schedule, args.kiln, args.home, args.job)
    start, pour_s, says = _when(made, args, datetime.now().astimezone())
    console.print(_table(made, start, args.unit))
    for line in (*says, *_lines(made, start, pour_s, args.price), *finding_lines(made, args.unit)):
        console.print(textwrap.fill(line, console.width - 1, subsequent_indent="  "), markup=False)
    console.print()
    _plot(made, start, args.unit)
    return 1 if made.refused else 0


def made_forecast(schedule: str, kiln: Path | None, home: Path | None, job: Path | None) -> Forecast:
    """Return the forecast of a schedule on a kiln with a job. Raises FileProblems, UsageError."""
    from controller.config import load_kiln
    from controller.forecast.forecast import forecast
    from controller.forecast.job_file import load_job
    from controller.forecast.kiln_of import kiln_of
    from controller.home import default_home
    from controller.schedule.index import find, own_folder
    from controller.schedule.reader import load_schedule

    config = load_kiln(kiln or Path(__file__).parents[1] / "simulator" / "demo_kiln.toml")
    home = (home or default_home()).expanduser()
    return forecast(
        load_schedule(find(schedule, own_folder(home))),
        None if job is None else load_job(job),
        kiln_of(config.heater.power_w, home),
        config.full_rate_c_per_h,
        longest_s=config.longest_firing_s,
        vent_m3_per_h=config.vent.flow_m3_per_h,
    )


def finding_lines(made: Forecast, unit: str) -> Iterator[str]:
    """Yield what stands against it, a line each, the gravest first; a line where nothing does.

    `unit`: C or F, of the temperatures, rates and differences in it.
    """
    marks = {"stop": "STOP", "warn": "Warning", "note": "Note"}
    for finding in made.findings:
        says = str(finding) if unit == "C" else in_fahrenheit(str(finding))
        yield f"{marks[finding.weight]}: {says}"
    if not any(finding.weight != "note" for finding in made.findings):
        yield "Nothing was found that stands against it."


def in_fahrenheit(text: str) -> str:
    """Return a sentence with every "40 C", "60 C/h" and "48 K" in Fahrenheit, to the degree."""
    from controller.schedule.units import F_PER_K, to_fahrenheit

    def other(match: re.Match[str]) -> str:
        number, unit = float(match[1]), match[2]
        f = to_fahrenheit(number) if unit == "C" else number * F_PER_K
        return f"{f:.0f} {'F/h' if unit == 'C/h' else 'F'}"

    return re.sub(r"(-?\d+(?:\.\d+)?) (C/h|C|K)\b", other, text)


def _price(text: str) -> float:
    try:
        price = float(text)
    except ValueError:
        price = -1.0
    if not 0.0 <= price <= DEAREST:
        raise argparse.ArgumentTypeError(f'found "{text}", expected a price for one kWh such as 0.30')
    return price


def _when(
    made: Forecast, args: argparse.Namespace, now: datetime
) -> tuple[datetime, float | None, list[str]]:
    """Return the start, when the pour is (s from it; None: no pour) and what to say of it."""
    from controller.forecast.pour_time import work_back
    from controller.schedule.units import duration_text

    if args.pour_at is None:
        ready = made.ready_s
        return start_time(args.start, now), None if ready is None else ready.typical, []
    plan = work_back(made)
    pour = start_time(args.pour_at, now, "--pour-at")
    while pour - timedelta(seconds=plan.start_s) < now:
        pour += timedelta(days=1)
    start = (pour - timedelta(seconds=plan.start_s)).replace(second=0, microsecond=0)
    pour_s = (pour - start).total_seconds()
    says = f"For a pour at {pour:%H:%M on %d %B} it starts at {start:%H:%M on %d %B}"
    if plan.sure:
        waits = duration_text(plan.waits_s)
        return (
            start,
            pour_s,
            [f"{says}: ready even at the late end; typically the shell waits hot for {waits}."],
        )
    late = "the band is wider than the shell may wait hot, so it may be late: tell more in the job sheet"
    return start, pour_s, [f"{says}: {late}."]


def _table(made: Forecast, start: datetime, unit: str) -> Table:
    from rich import box
    from rich.markup import escape
    from rich.table import Table

    table = Table(
        box=box.SIMPLE_HEAD, title=escape(made.schedule.title), title_justify="left", pad_edge=False
    )
    for name in ("", "stage", "begins", "between", "air", "core", "lasts"):
        table.add_column(name, justify="left" if name == "stage" else "right", no_wrap=name != "stage")
    for row in _rows(made, start, unit):
        table.add_row(*(escape(cell) for cell in row))
    return table


def _rows(made: Forecast, start: datetime, unit: str) -> Iterator[tuple[str, ...]]:
    from controller.schedule.units import duration_text, temperature_text

    for stage in made.stages:
        begins, lasts_s = stage.begins_s, stage.ends_s.typical - stage.begins_s.typical
        reached = begins.typical < float("inf")
        place = min(len(made.t_s) - 1, int((made.t_s <= begins.typical).sum()) - 1)
        yield (
            str(stage.index + 1),
            stage.name,
            _clock(start, begins.typical),
            _between(start, begins),
            temperature_text(float(made.air_c.typical[place]), unit) if reached else "",
            temperature_text(float(made.core_c.typical[place]), unit) if reached else "",
            duration_text(lasts_s) if 0.0 <= lasts_s < float("inf") else "",
        )
    end = made.end_s
    yield "", "end", _clock(start, end.typical), _between(start, end), "", "", ""


def _clock(start: datetime, seconds: float) -> str:
    return clock_time(start, seconds) if seconds < float("inf") else "never"


def _between(start: datetime, when: Estimate) -> str:
    """Return the band of a time; nothing where it is known."""
    if when.low == when.high:
        return ""
    low, high = _clock(start, when.low), _clock(start, when.high)
    return f"{low.split(' ')[0]}-{high.split(' ')[0]}"


def _lines(made: Forecast, start: datetime, pour_s: float | None, price: float | None) -> Iterator[str]:
    """Yield what a person has to know besides the table."""
    from controller.schedule.words import if_nobody_comes, needs_person

    if made.ready_s is not None:
        ready = made.ready_s
        yield f"Ready for the pour at {_clock(start, ready.typical)} ({_between(start, ready)})."
    if pour_s is not None and pour_s < float("inf"):
        yield _furnace(made, start, pour_s)
    yield "A person is needed at the kiln:"
    needed = [stage for stage in made.stages if needs_person(made.schedule.stages[stage.index])]
    for stage in needed:
        of = made.schedule.stages[stage.index]
        at, band = _clock(start, stage.begins_s.typical), _between(start, stage.begins_s)
        says = f"{getattr(of, 'says', '')} {if_nobody_comes(of)}"
        yield f"  {stage.index + 1}. {at} ({band or 'at once'})  {says}"
    if not needed:
        yield "  never: it runs through by itself."
    yield _energy(made, price)
    told = ", ".join(_plain(name) for name in made.job.told if name != "title") or "nothing"
    yield f"The kiln: {made.kiln_says}. Of the job is told: {told}; the rest is taken from stated defaults."
    yield "People are taken to come when the schedule expects them."
    yield "Estimates, in bands meant to hold 9 times in 10; what each rests on: hardware_notes/estimates.md."


def _plain(field: str) -> str:
    """Return a job sheet's field as a word: `"pattern_kg"` is "pattern"."""
    name, _, unit = field.rpartition("_")
    return (name if unit in ("kg", "m", "c", "s", "part") else field).replace("_", " ")


def _furnace(made: Forecast, start: datetime, pour_s: float) -> str:
    from controller.forecast.pour_time import lights_s

    lights = lights_s(made, pour_s)
    job = made.job
    kg = job.metal_kg
    metal = f"{kg.typical:.1f} kg of {job.metal.name} ({kg.low:.1f} to {kg.high:.1f})"
    when = f"{_clock(start, lights.typical)} ({_between(start, lights)})"
    return f"Light the melting furnace at {when}, for {metal} at {job.pour_c.typical:.0f} C."


def _energy(made: Forecast, price: float | None) -> str:
    kwh = made.energy_kwh
    text = f"Energy: {kwh.typical:.0f} kWh ({kwh.low:.0f} to {kwh.high:.0f})"
    if price is None:
        return f"{text}; --price tells the cost."
    cost = made.cost(price)
    return f"{text}, which costs {cost.typical:.2f} ({cost.low:.2f} to {cost.high:.2f}) at {price:g} a kWh."


def _plot(made: Forecast, start: datetime, unit: str) -> None:
    from rich.console import Console

    from controller.forecast.terminal import LEGEND, plot_text

    console = Console(highlight=False)
    utf8 = (console.encoding or "").lower().replace("-", "") == "utf8"
    picture = plot_text(made, start, min(console.width, WIDEST_PLOT), unit, utf8=utf8)
    console.print(picture, markup=False, no_wrap=True, overflow="crop")
    console.print(LEGEND, markup=False)
