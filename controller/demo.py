"""The demo: starts the simulated kiln, the controller and the page, and sees one firing through.

Nothing here is known to the other processes: the demo asks for things as a person would, with the code
that the kiln's own console shows, and reads what the record says afterwards.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn

from controller.channel import SOCKET_NAME
from controller.channel_client import ChannelClient, frames
from controller.errors import ChannelError, UsageError
from controller.home import RECORD_NAME
from controller.live import Frame, Request
from controller.presence import read_code
from controller.record.queries import Record
from controller.schedule.index import find
from controller.schedule.reader import load_schedule
from controller.supervise import Supervisor, free_port

# How long (s on the wall) the demo gives a person at a checkpoint before it answers by itself.
PATIENCE_S = 30.0
UNATTENDED_S = 1.5
STARTS_WITHIN_S = 30.0
ENDED = ("complete", "stopped", "aborted")
JOB = Path(__file__).with_name("simulator") / "demo_job.toml"
# The schedule that the invented piece of the job sheet is for.
JOB_GOES_WITH = "printed-pla-silica-shell"


class Demo:
    """One firing of a simulated kiln, from beginning to end."""

    def __init__(
        self,
        schedule: str,
        home: Path,
        port: int,
        speed: float,
        *,
        unattended: bool,
        faults: Sequence[str] = (),
    ) -> None:
        self._path = find(schedule)
        self._schedule = load_schedule(self._path)
        self._home = home
        self._port = port
        self._speed = speed
        self._unattended = unattended
        self._faults = faults
        self._client = ChannelClient(home / SOCKET_NAME)
        self._console = Console(stderr=False, highlight=False)
        self._ended: Frame | None = None
        self._firing: int | None = None

    def run(self) -> dict[str, Any]:
        """Run it all; return the result. Ends every process that it started."""
        try:
            self._home.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UsageError(f"{self._home}: cannot be used for the demo: {error.strerror}") from error
        port = self._free_port()
        with self._kiln() as config:
            supervisor = Supervisor(config, self._home, port, self._speed, quiet_code=True, learns=False)
            supervisor.start()
            try:
                self._say_where(port)
                self._begin(supervisor)
                asyncio.run(self._follow(supervisor))
                return self._tell()
            finally:
                supervisor.stop()

    def _say_where(self, port: int) -> None:
        print_ = self._console.print
        print_(f"[bold]{self._schedule.title}[/bold], {self._speed:g} times as fast as a kiln")
        print_(f"  the page     http://127.0.0.1:{port}/")
        print_(f"  the record   {self._home / RECORD_NAME}", soft_wrap=True)

    def _free_port(self) -> int:
        """Return the wanted port, or any free one when that is taken and was not asked for."""
        try:
            return free_port(self._port)
        except UsageError:
            if self._port != 8321:  # asked for by name: say that it is taken
                raise
            return free_port(0)

    @contextlib.contextmanager
    def _kiln(self) -> Iterator[Path]:
        """Start the simulated kiln; give the configuration that talks to it."""
        config = self._home / "kiln.toml"
        command = [sys.executable, "-m", "controller.cli", "kiln", "--port", "0", "--speed", str(self._speed)]
        command += ["--write-config", str(config), "--with-parent", str(os.getpid())]
        command += [part for fault in self._faults for part in ("--fault", fault)]
        kiln = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, stdin=subprocess.DEVNULL)
        try:
            assert kiln.stdout is not None
            if not kiln.stdout.readline().startswith("listening"):
                raise UsageError("demo: the simulated kiln did not start; see its message above")
            yield config
        finally:
            kiln.send_signal(signal.SIGTERM)
            kiln.wait(10.0)

    def _begin(self, supervisor: Supervisor) -> None:
        """Wait for the controller, end and clear what an earlier demo left, and start the firing."""
        end_s = time.monotonic() + STARTS_WITHIN_S
        while True:
            supervisor.look()
            try:
                self._ask({"request": "abort", "by": "demo"})
                self._ask({"request": "clear", "by": "demo"})
                self._ask({"request": "reset", "by": "demo"})
                reply = self._ask(self._start())
            except ChannelError:
                if time.monotonic() > end_s:
                    raise
                time.sleep(0.1)
                continue
            if reply["ok"]:
                return
            if time.monotonic() > end_s:
                raise UsageError(f"demo: the firing was not started: {reply['says']}")
            time.sleep(0.2)

    def _start(self) -> Request:
        """Return the request, with the invented job sheet along with the schedule that it is for."""
        request: Request = {
            "request": "start",
            "by": "demo",
            "schedule": self._schedule.text,
            "name": self._path.name,
            "ticked": self._looked_at(),
            "reachable": "whoever watches the demo",
        }
        if self._path.stem == JOB_GOES_WITH:
            request["job"] = JOB.read_text(encoding="utf-8")
        return request

    def _looked_at(self) -> list[str]:
        """Look at everything on the list before a start: on a kiln that is not there, all is well."""
        found = self._client.ask(
            {
                "request": "prefire",
                "by": "demo",
                "schedule": self._schedule.text,
                "name": self._path.name,
            }
        )
        return [item["id"] for item in found.get("items", [])]

    def _ask(self, request: Request) -> Any:
        """Ask as a person at the kiln would: with the code on its console."""
        code = read_code(self._home)
        if code is not None and request["request"] in ("start", "restart", "release", "clear"):
            request["presence"] = code
        return self._client.ask(request)

    async def _follow(self, supervisor: Supervisor) -> None:
        """Show how it goes, and answer what waits, until the firing has ended."""
        columns = (
            TextColumn("{task.description}"),
            BarColumn(bar_width=24),
            TextColumn("{task.fields[now]}"),
        )
        # A line that moves needs a terminal; into a file or a pipe, a line goes out at every stage.
        moving = self._console.is_terminal
        with Progress(*columns, console=self._console, disable=not moving, transient=True) as progress:
            task = progress.add_task("", total=1000, now="")
            stage = -1
            waiting_since_s: float | None = None
            while self._ended is None:
                with contextlib.suppress(ChannelError):
                    async for frame in frames(self._home / SOCKET_NAME):
                        if self._has_ended(frame):
                            break
                        if frame["stage"] is not None and frame["stage"]["index"] != stage:
                            stage = frame["stage"]["index"]
                            self._console.print(_stage_line(frame))
                        done = _done(frame)
                        progress.update(task, completed=done * 1000, now=_now_line(frame, self._code()))
                        waiting_since_s = await self._answer(frame, waiting_since_s)
                if self._ended is None and supervisor.look() is not None:
                    raise ChannelError("demo: the controller's process ended; see its message above")

    def _has_ended(self, frame: Frame) -> bool:
        """Note the firing's number while it runs, and its end."""
        if frame["firing"] is not None:
            self._firing = frame["firing"]
        if self._firing is not None and frame["state"] in ENDED:
            self._ended = frame
        return self._ended is not None

    def _code(self) -> str:
        return read_code(self._home) or "?"

    async def _answer(self, frame: Frame, since_s: float | None) -> float | None:
        """Release what waits for a person: at once after a moment, or when Enter is pressed."""
        person = frame["person"]
        if person is None or "release" not in frame["can"]:
            return None
        now_s = time.monotonic()
        if since_s is None:
            self._console.print(f"  a person is needed: {person['says']}", soft_wrap=True)
            if not self._unattended:
                self._console.print(
                    f"  release it on the page with the code {self._code()}, or press Enter here; "
                    f"after {PATIENCE_S:g} s the demo does it",
                    soft_wrap=True,
                )
            return now_s
        patience_s = UNATTENDED_S if self._unattended else PATIENCE_S
        if now_s - since_s >= patience_s or (not self._unattended and _enter_was_pressed()):
            await asyncio.to_thread(self._ask, {"request": "release", "by": "demo"})
            return None
        return since_s

    def _tell(self) -> dict[str, Any]:
        """Read the record, write the report, print the result and return it."""
        from controller.review.measures import measure
        from controller.review.report import write_report

        assert self._ended is not None
        assert self._firing is not None
        record = Record(self._home / RECORD_NAME)
        end_s = time.monotonic() + 10.0
        while record.firing(self._firing).end_state is None and time.monotonic() < end_s:
            time.sleep(0.1)  # the journal writes twice a second
        measures = measure(record.ticks(self._firing), self._schedule.stages)
        report = write_report(record, self._firing, self._home)
        ticks = [row for _, row in record.rows(self._firing)]
        result: dict[str, Any] = {
            "state": self._ended["state"],
            "firing": self._firing,
            "record": str(self._home / RECORD_NAME),
            "ticks": len(ticks),
            "late_ticks": sum(row.late for row in ticks),
            "peak_air_c": measures.peak_air_c,
            "overshoot_k": measures.overshoot_k,
            "hold_error_k": measures.hold_error_k,
            "duration_h": round(measures.duration_h, 3),
            "trips": sum(event.kind == "trip" for event in record.events(self._firing)),
            "report": str(report.pdf),
            "picture": str(report.png),
        }
        self._console.print(_result_line(result), soft_wrap=True)
        self._console.print(f"  the report   {report.pdf}\n  the picture  {report.png}", soft_wrap=True)
        return result


def _enter_was_pressed() -> bool:
    """Whether a line waits on a terminal's standard input."""
    if not sys.stdin.isatty():
        return False
    if not select.select([sys.stdin], [], [], 0.0)[0]:
        return False
    sys.stdin.readline()
    return True


def _done(frame: Frame) -> float:
    """How much of the firing is behind it, by the plan."""
    end = frame["end"]
    if end is None or end["in_s"] is None:
        return 0.0
    return frame["elapsed_s"] / max(1.0, frame["elapsed_s"] + end["in_s"])


def _stage_line(frame: Frame) -> str:
    stage = frame["stage"]
    assert stage is not None
    target_c = stage["target_c"]
    target = f", to {target_c:.0f} C" if target_c is not None else ""
    hours = frame["elapsed_s"] / 3600.0
    place = f"stage {stage['index'] + 1} of {stage['count']}"
    return f"  {hours:5.2f} h  {place}: {stage['name']} ({stage['kind']}{target})"


def _now_line(frame: Frame, code: str) -> str:
    air_c, stop = frame["air"]["c"], frame["stop"]
    parts = [f"{air_c:6.1f} C" if air_c is not None else f"air: {frame['air']['fault']}"]
    if frame["stage"] is not None:
        parts.append(frame["stage"]["name"])
    if frame["person"] is not None:
        parts.append(f"a person is needed (code {code})")
    elif stop is not None and stop["in_s"] is not None:
        parts.append(f"next stop in {stop['in_s'] / 60.0:.0f} min")
    if frame["alarms"]:
        parts.append(frame["alarms"][0]["says"])
    return "  ".join(parts)


def _result_line(result: dict[str, Any]) -> str:
    def kelvin(value: float | None) -> str:
        return "-" if value is None else f"{value:.1f} K"

    return (
        f"[bold]{result['state']}[/bold] after {result['duration_h']:.1f} h of the kiln's time: peak "
        f"{result['peak_air_c']:.1f} C, overshoot {kelvin(result['overshoot_k'])}, hold error "
        f"{kelvin(result['hold_error_k'])}, {result['ticks']} ticks ({result['late_ticks']} late), "
        f"{result['trips']} trips"
    )
