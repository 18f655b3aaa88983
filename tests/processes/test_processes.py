"""The processes together: what survives what, who may do what, and that the heat always ends."""

from __future__ import annotations

import os
import signal
import socket
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from pymodbus.client import ModbusTcpClient

from controller.errors import UsageError
from controller.forecast.models import keep
from controller.record.jobs import jobs_of
from controller.record.journal import Journal
from controller.supervise import free_port
from tests.forecast.test_learning_after import fitted
from tests.processes.conftest import SCHEDULE, SHORTER, SPEED, House, alive, command, until

pytestmark = pytest.mark.wire


def heat_is_on(house: House) -> bool:
    """Ask the kiln itself, as the far side saw it."""
    with ModbusTcpClient("127.0.0.1", port=house.kiln_port) as client:
        reply = client.read_discrete_inputs(0, count=1, device_id=2)
        return bool(reply.bits[0])


def knows(house: House, firing: int) -> list[str]:
    """Return what a firing's control began with, in words."""
    return [event.fields["by"] for event in house.record.events(firing) if event.kind == "control_knows"]


def test_a_firing_runs_through_a_checkpoint_to_its_end_and_is_in_the_record(house: House) -> None:
    house.start()
    house.fire(SHORTER)
    until(lambda: "checkpoint_reached" in {event.kind for event in house.record.events(1)}, 40)
    until(lambda: house.ask("release")["ok"])  # at once, nobody has looked at it yet
    until(lambda: house.record.firing(1).end_state == "complete", 60)
    kinds = [event.kind for event in house.record.events(1)]
    assert kinds.count("stage_began") == 3
    assert house.record.firing(1).start.schedule_text.strip().startswith('title = "A short one"')
    assert not heat_is_on(house)


def test_what_leads_to_more_heat_needs_the_code_and_what_does_not_needs_none(house: House) -> None:
    house.start()
    about = {"schedule": "printed-pla-silica-shell"}
    prepared = house.prepared(**about)
    wrong = house.client.ask({"request": "start", "by": "page", **about, **prepared})  # type: ignore[typeddict-item]
    assert not wrong["ok"]
    assert "console" in wrong["says"]
    house.fire()
    assert house.client.ask({"request": "hold", "by": "page"})["ok"]
    assert not house.client.ask({"request": "restart", "by": "page", "presence": "no"})["ok"]
    assert house.client.ask({"request": "abort", "by": "page"})["ok"]
    until(lambda: house.record.firing(1).end_state == "aborted")
    requests = house.record.requests(1)
    assert "presence" not in str([request.args for request in requests])


def test_a_start_asks_for_the_list_and_for_someone_who_can_be_reached(house: House) -> None:
    house.start()
    about = {"schedule": "printed-pla-silica-shell"}
    items = house.client.ask({"request": "prefire", "by": "test", **about}).get("items", [])  # type: ignore[typeddict-item]
    assert {"vent", "extraction", "shell", "limit", "reachable"} <= {item["id"] for item in items}
    (house.home / "profiles").mkdir()
    (house.home / "profiles" / "short.toml").write_text(SCHEDULE)
    assert house.client.ask({"request": "prefire", "by": "test", "schedule": "short"})["ok"]
    assert "tray" in house.ask("start", **about, ticked=["vent"])["says"]
    assert "who can be reached" in house.ask("start", **about, reachable=" ")["says"]
    assert "expected a list" in house.ask("start", **about, ticked="vent")["says"]
    assert "job sheet:2" in house.ask("start", **about, job='[shell]\ncoats = "many"\n')["says"]
    sheet = 'title = "Otter"\n[shell]\ncoats = 9\n'
    house.fire(job=sheet)
    until(lambda: [(kept.text, kept.by) for kept in jobs_of(house.record.path, 1)] == [(sheet, "test")])
    until(lambda: "prefire_checked" in {event.kind for event in house.record.events(1)})
    (told,) = [event for event in house.record.events(1) if event.kind == "prefire_checked"]
    assert told.fields["reachable"] == "Ada, 12"
    assert "vent" in told.fields["ticked"]


def test_a_real_kiln_that_was_never_commissioned_starts_only_with_a_person_staying(house: House) -> None:
    house.config.write_text(house.config.read_text().replace("simulated = true", "simulated = false"))
    house.speed = 1.0
    house.start()
    refused = house.ask("start", schedule=SCHEDULE, name="short.toml")
    assert not refused["ok"]
    assert "commissioning is not complete" in refused["says"]
    assert house.ask("start", schedule=SCHEDULE, name="short.toml", attended=True)["ok"]
    until(lambda: house.record.firings(1))
    until(lambda: "commissioning_missing" in {event.kind for event in house.record.events(1)})


def test_killing_the_controller_ends_the_heat_by_the_lease_in_the_kiln_itself(house: House) -> None:
    controller = house.start()
    house.fire()
    until(lambda: heat_is_on(house))
    controller.kill()
    time.sleep(6.0 / SPEED + 0.05)  # the lease is 6 s of the kiln's time
    for _ in range(20):
        assert not heat_is_on(house)
        time.sleep(0.01)


def test_after_a_crash_a_firing_without_a_rule_is_held_with_the_heat_off_until_a_person_comes(
    house: House,
) -> None:
    controller = house.start()
    house.fire()
    until(lambda: house.state() == "running")
    controller.kill()
    controller.wait()
    (house.home / "channel.sock").unlink()
    house.start()
    until(lambda: house.state() == "held")
    kinds = [event.kind for event in house.record.events(1)]
    assert kinds.count("interrupted") == 1
    assert kinds.count("recovery_waits") == 1
    assert not house.client.ask({"request": "restart", "by": "page", "presence": "no"})["ok"]
    assert not heat_is_on(house)
    assert house.ask("restart")["ok"]
    until(lambda: house.state() == "running")
    until(lambda: heat_is_on(house))
    assert house.ask("abort")["ok"]
    until(lambda: house.record.firing(1).end_state == "aborted")
    assert house.ask("reset")["ok"]
    # What was learnt meanwhile is begun with, without a restart of the controller.
    keep(fitted(firing=1), house.home)
    house.fire()
    until(lambda: house.record.firings(1)[0].id == 2)
    until(lambda: knows(house, 2) == ["the model fitted to firing 1"])
    assert knows(house, 1) == ["the numbers in the kiln's file"]


@pytest.fixture
def at_a_terminal() -> Iterator[None]:
    """Whatever the tests were started by: what nohup starts is to outlive its terminal, and so it does."""
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)
    yield
    signal.signal(signal.SIGHUP, before)


@pytest.mark.usefixtures("at_a_terminal")
def test_a_terminal_that_is_closed_ends_it_in_order_and_one_that_stops_its_programs_does_not(
    house: House,
) -> None:
    """Ended on the spot, or stopped, it would leave a relay without a lease of its own as it is."""
    controller = house.start()
    house.fire()
    controller.send_signal(signal.SIGTSTP)
    time.sleep(0.2)
    assert house.answers()
    controller.send_signal(signal.SIGHUP)
    assert controller.wait(10.0) == 0
    with closing(sqlite3.connect(house.home / "record.db")) as record:
        assert record.execute("SELECT count(*) FROM event WHERE kind = 'controller_stopped'").fetchone() == (
            1,
        )


def test_a_trip_survives_a_restart_of_the_controller(house: House) -> None:
    controller = house.start()
    house.fire()
    subprocess.run(
        command("fault", "emergency_stop_pressed", "on", "--port", str(house.kiln_port)), check=True
    )
    until(lambda: house.record.firing(1).end_state == "aborted")
    subprocess.run(
        command("fault", "emergency_stop_pressed", "off", "--port", str(house.kiln_port)), check=True
    )
    controller.terminate()
    controller.wait()
    house.start()
    refused = house.ask("start", schedule="printed-pla-silica-shell")
    assert not refused["ok"]
    assert "trip" in refused["says"]
    assert house.ask("clear")["ok"]
    house.fire()


def page_told(supervisor: subprocess.Popen[str]) -> int:
    """Return the port that the console is told."""
    assert supervisor.stdout is not None
    line = next(line for line in supervisor.stdout if line.startswith("page: http://127.0.0.1:"))
    port = int(line.strip().rstrip("/").rpartition(":")[2])
    assert port != 0
    return port


def test_the_page_that_is_killed_comes_back_and_no_tick_is_disturbed(slow_house: House) -> None:
    house = slow_house
    supervisor = house.start("--port", "0", name="run")
    port = page_told(supervisor)
    house.fire()
    children = Path(f"/proc/{supervisor.pid}/task/{supervisor.pid}/children").read_text().split()
    page = next(pid for pid in children if "web" in Path(f"/proc/{pid}/cmdline").read_text().split("\0"))
    until(lambda: house.state() == "running")
    before = house.record.firings(1)[0].ticks
    os.kill(int(page), signal.SIGKILL)
    until(lambda: not alive(int(page)))

    def new_page() -> bool:
        now = Path(f"/proc/{supervisor.pid}/task/{supervisor.pid}/children").read_text().split()
        return len(now) == 3 and page not in now  # the controller and the learner are the others

    def page_answers() -> bool:
        with socket.socket() as asks:
            return asks.connect_ex(("127.0.0.1", port)) == 0  # the same as before

    until(new_page)
    until(page_answers)
    answered = house.record.firings(1)[0].ticks
    until(lambda: house.record.firings(1)[0].ticks > answered + 4)
    times_s = [t_s for t_s, _ in house.record.rows(1)]
    gaps_s = [b - a for a, b in zip(times_s[before:], times_s[before + 1 :], strict=False)]
    # A tick is 2 s of the kiln's; the lease is 6 s, and none may ever run out because of the page.
    assert max(gaps_s) < 6.0


def test_a_second_controller_with_the_same_home_is_refused_in_one_line(house: House) -> None:
    house.start()
    second = subprocess.run(
        command("controller", "--kiln", str(house.config), "--home", str(house.home), "--speed", "60"),
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
    )
    assert second.returncode == 2
    assert "another controller" in second.stderr
    assert second.stderr.count("\n") == 1


def test_an_abort_reaches_the_relay_without_waiting_for_the_next_tick(house: House) -> None:
    house.start()
    house.fire()
    until(lambda: heat_is_on(house))
    began_s = time.monotonic()
    assert house.client.ask({"request": "abort", "by": "test"})["ok"]
    took_s = time.monotonic() - began_s
    assert not heat_is_on(house)
    assert took_s < 1.0


def test_an_abort_does_not_need_the_record(house: House) -> None:
    house.start()
    house.fire()
    until(lambda: house.state() == "running")
    blocker = sqlite3.connect(house.home / "record.db", isolation_level=None)
    blocker.execute("BEGIN EXCLUSIVE")
    try:
        assert house.client.ask({"request": "abort", "by": "test"})["ok"]
        assert not heat_is_on(house)
    finally:
        blocker.execute("ROLLBACK")
        blocker.close()
    until(lambda: house.record.firing(1).end_state == "aborted")


def test_a_kiln_that_stops_answering_gets_no_heat_and_the_firing_trips(house: House) -> None:
    # The trip is some ticks away, and in each of them every question is waited for.
    house.config.write_text(house.config.read_text().replace('timeout = "300 ms"', 'timeout = "100 ms"'))
    house.start()
    house.fire()
    until(lambda: house.state() == "running")
    house.kiln.send_signal(signal.SIGSTOP)
    try:
        until(lambda: house.record.firing(1).end_state or house.state() in ("aborting", "aborted"), 30)
    finally:
        house.kiln.send_signal(signal.SIGCONT)
    until(lambda: not heat_is_on(house))


@pytest.fixture(scope="module")
def refused_late(
    kiln_alone: House, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[str, subprocess.Popen[str]]]:
    """Controllers that are patient for seconds before they refuse: begun here, looked at last.

    Each has a kiln of its own that never answers, so none of them holds the heater that other tests want.
    """
    home = tmp_path_factory.mktemp("late")
    with socket.socket() as nobody, socket.socket() as nobody_else:
        for name, silent in (("silent", nobody), ("locked", nobody_else)):
            silent.bind(("127.0.0.1", 0))
            text = kiln_alone.config.read_text().replace(
                f"port = {kiln_alone.kiln_port} ", f"port = {silent.getsockname()[1]} "
            )
            (home / f"{name}.toml").write_text(text)
        with Journal(home / "locked" / "record.db"):
            pass
        with closing(sqlite3.connect(home / "locked" / "record.db", isolation_level=None)) as blocker:
            blocker.execute("BEGIN EXCLUSIVE")
            begun = {
                "locked record": begin(home / "locked.toml", home / "locked", "--speed", str(SPEED)),
                "silent kiln": begin(home / "silent.toml", home / "silent"),
            }
            yield begun
            for process in begun.values():
                process.kill()
                process.communicate()
            blocker.execute("ROLLBACK")


def begin(config: Path, home: Path, *more: str) -> subprocess.Popen[str]:
    """Start a controller that is expected to end by itself."""
    return subprocess.Popen(
        command("controller", "--kiln", str(config), "--home", str(home), *more),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


def ended(process: subprocess.Popen[str]) -> subprocess.CompletedProcess[str]:
    """Wait for its end."""
    out, err = process.communicate(timeout=50)
    return subprocess.CompletedProcess(process.args, process.returncode, out, err)


@pytest.mark.usefixtures("refused_late")
@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("controller", "--kiln", "{home}/missing.toml"), "missing.toml"),
        (("controller", "--kiln", "{home}/bad.toml"), "bad.toml:1"),
        (("controller", "--kiln", "{home}/real.toml", "--speed", "60"), "simulated = true"),
        (("controller", "--kiln", "{home}/kiln.toml", "--speed", "5000"), "--speed"),
        (("run", "--kiln", "{home}/kiln.toml", "--port", "{taken}"), "--port"),
        (("start", "nothing-like-this", "--presence", "1"), "nothing-like-this"),
        (("ask", "abort"), "no controller answers"),
        (("demo", "nothing-like-this"), "nothing-like-this"),
        (("report", "last"), "record"),
        (("check", "{home}/bad.toml"), "bad.toml:1"),
    ],
)
def test_bad_input_gets_one_clear_line_and_a_status_of_two(
    kiln_alone: House, arguments: tuple[str, ...], says: str
) -> None:
    house = kiln_alone
    (house.home / "bad.toml").write_text("= what\n")
    (house.home / "real.toml").write_text(
        house.config.read_text().replace("simulated = true", "simulated = false")
    )
    (house.home / "not-there").mkdir(exist_ok=True)
    values = {"home": str(house.home), "taken": str(house.kiln_port)}
    given = [argument.format(**values) for argument in arguments]
    done = subprocess.run(
        command(*given),
        capture_output=True,
        text=True,
        timeout=20,
        check=False,
        env=os.environ | {"STOKEHOLD_HOME": str(house.home / "not-there")},
    )
    assert done.returncode == 2, done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_schedule_hotter_than_the_kiln_is_refused_with_its_line(house: House) -> None:
    house.start()
    reply = house.ask("start", schedule=SCHEDULE_TOO_HOT, name="hot.toml")
    assert not reply["ok"]
    assert "hot.toml:" in reply["says"]
    assert "890 C" in reply["says"]


SCHEDULE_TOO_HOT = """title = "Too hot"

[[stage]]
kind = "ramp"
name = "up"
to = "950 C"
rate = "300 C/h"
"""


def started_on(house: House, home: Path) -> subprocess.CompletedProcess[str]:
    """Start a controller that is expected to end by itself, and return how it ended."""
    return ended(begin(house.config, home, "--speed", str(SPEED)))


def assert_one_line(done: subprocess.CompletedProcess[str], *words: str) -> None:
    assert done.returncode == 2, done.stderr
    assert done.stderr.count("\n") == 1, done.stderr
    assert "Traceback" not in done.stderr
    for word in words:
        assert word in done.stderr


def test_a_record_that_is_none_is_told_in_one_line(kiln_alone: House, tmp_path: Path) -> None:
    (tmp_path / "record.db").write_text("not a database, though it is long enough to look at " * 20)
    assert_one_line(started_on(kiln_alone, tmp_path), "record.db")


def test_a_record_of_a_newer_version_is_told_in_one_line(kiln_alone: House, tmp_path: Path) -> None:
    with Journal(tmp_path / "record.db"):
        pass
    with sqlite3.connect(tmp_path / "record.db") as newer:
        newer.execute("UPDATE alembic_version SET version_num = '9999'")
    newer.close()
    assert_one_line(started_on(kiln_alone, tmp_path), "record.db", "newer")


def test_a_record_that_is_locked_is_told_in_one_line(refused_late: dict[str, subprocess.Popen[str]]) -> None:
    assert_one_line(ended(refused_late["locked record"]), "record.db", "lock")


def test_a_kiln_that_does_not_answer_is_told_in_one_line(
    refused_late: dict[str, subprocess.Popen[str]],
) -> None:
    assert_one_line(ended(refused_late["silent kiln"]), "the kiln does not answer", "127.0.0.1:")


def test_a_port_that_cannot_be_had_is_one_line() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(UsageError, match=f"--port {port}: found address already in use, expected a free"):
            free_port(port)
    with pytest.raises(UsageError, match="--port: found 70000, expected a number from 0 to 65535"):
        free_port(70000)
