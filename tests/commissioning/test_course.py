"""The whole course: one step after the other, kept as it goes, stopped and continued, repeated alone."""

from __future__ import annotations

import gc
import subprocess
import sys
import types
import weakref
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from controller import assemble
from controller.cli import main
from controller.commissioning.course import lead, listing
from controller.commissioning.person import Console, says_yes
from controller.commissioning.rig import to_and_hold
from controller.commissioning.store import FILE_NAME, load
from controller.commissioning.table import steps
from controller.errors import UsageError
from tests.commissioning.hands import CONFIG, TEXT, Kiln, failed

DAY = date(2031, 4, 5)
NAMES = [step.name for step in steps(CONFIG)]


def today() -> date:
    return DAY


@pytest.fixture
def kiln(tmp_path: Path) -> Kiln:
    return Kiln(tmp_path)


def begun(kiln: Kiln) -> list[str]:
    """The steps that were begun, in order."""
    return [line.split("] ")[1].split(":")[0] for line in kiln.hands.told if line.startswith("\n[")]


def test_a_sound_kiln_is_brought_up_in_one_go_and_nothing_is_missing(kiln: Kiln) -> None:
    assert lead(kiln.bench, "Ada", today)
    assert begun(kiln) == NAMES
    assert "no commissioning is asked for" in kiln.hands.told[0]  # this one is simulated
    kept = load(kiln.bench.home)
    assert list(kept) == NAMES
    assert all(result.done.passed and result.by == "Ada" and result.on == DAY for result in kept.values())
    assert kept["model"].done.figures["gain_per_k"] > 0.0
    assert not kiln.plant.main_aux
    assert not kiln.plant.heat_aux


def test_one_step_by_itself_is_judged_by_itself(kiln: Kiln) -> None:
    assert lead(kiln.bench, "Ada", today, "contact_door")
    assert f"{len(NAMES) - 1} steps are missing yet" in kiln.hands.told[-1]
    kiln.plant.set_fault("contacts_silent", True)
    assert not lead(kiln.bench, "Ada", today, "contact_door")


def test_each_step_says_what_to_do_what_is_expected_and_what_was_seen(kiln: Kiln) -> None:
    lead(kiln.bench, "Ada", today, "contact_door")
    told = "\n".join(kiln.hands.told)
    for words in ("do:", "expected:", "pass  door: opened: saw not well (expected not well)"):
        assert words in told, words


def test_a_failure_stops_the_course_and_the_next_run_goes_on_there(kiln: Kiln) -> None:
    kiln.plant.set_fault("limit_reversed", True)
    assert not lead(kiln.bench, "Ada", today)
    assert begun(kiln) == ["sensor_air", "sensor_load", "sensor_limit"]
    assert "FAIL  limit: polarity" in "\n".join(kiln.hands.told)
    kiln.plant.set_fault("limit_reversed", False)
    kiln.hands.told.clear()
    assert lead(kiln.bench, "Grace", today)
    assert begun(kiln) == NAMES[2:]
    kept = load(kiln.bench.home)
    assert (kept["sensor_air"].by, kept["sensor_limit"].by) == ("Ada", "Grace")


def test_a_step_that_failed_can_be_repeated_at_once(kiln: Kiln) -> None:
    kiln.plant.set_fault("air_reversed", True)
    kiln.hands.answers["Type again"] = "again"
    asked: list[str] = []
    ask = kiln.hands.ask

    def mend(question: str) -> str:
        if "Type again" in question:
            asked.append(question)
            kiln.plant.set_fault("air_reversed", False)
        return ask(question)

    kiln.hands.ask = mend  # type: ignore[method-assign]
    assert lead(kiln.bench, "Ada", today)
    assert len(asked) == 1


def test_an_interruption_in_the_low_heat_leaves_the_heat_off_and_what_was_done(kiln: Kiln) -> None:
    def gone() -> None:
        raise KeyboardInterrupt

    kiln.hands.acts["  air "] = gone
    with pytest.raises(KeyboardInterrupt):
        lead(kiln.bench, "Ada", today)
    assert kiln.plant.power_w == 0.0
    assert not kiln.plant.heat_aux
    assert not kiln.plant.main_aux
    assert list(load(kiln.bench.home)) == NAMES[: NAMES.index("low_heat")]
    del kiln.hands.acts["  air "]
    kiln.hands.told.clear()
    assert lead(kiln.bench, "Ada", today)
    assert begun(kiln) == ["low_heat", "model"]


@pytest.mark.parametrize("name", ["relay", "lease", "main_contactor", "low_heat"])
def test_a_step_that_heats_is_refused_until_all_before_it_stand(kiln: Kiln, name: str) -> None:
    with pytest.raises(UsageError, match=f"{name}: it heats, and sensor_air comes first: not done yet"):
        lead(kiln.bench, "Ada", today, name)
    assert kiln.opened == []


def test_a_step_may_be_repeated_alone_and_the_others_stay(kiln: Kiln) -> None:
    assert lead(kiln.bench, "Ada", today)
    kiln.hands.told.clear()
    assert lead(kiln.bench, "Grace", lambda: date(2031, 6, 1), "lease")
    assert begun(kiln) == ["lease"]
    kept = load(kiln.bench.home)
    assert (kept["lease"].by, kept["lease"].on) == ("Grace", date(2031, 6, 1))
    assert (kept["relay"].by, kept["relay"].on) == ("Ada", DAY)


def test_a_changed_kiln_s_file_is_done_again_in_part(kiln: Kiln) -> None:
    assert lead(kiln.bench, "Ada", today)
    kiln.hands.told.clear()
    kiln.configured(lease_s=5.0)
    assert "lease" in "\n".join(line for line in listing(kiln.bench, DAY) if line.startswith("missing"))
    assert lead(kiln.bench, "Ada", today)
    assert begun(kiln) == ["lease"]


def test_a_kiln_without_a_main_contactor_is_brought_up_and_told_what_that_means(kiln: Kiln) -> None:
    kiln.configured(main_contactor=None)
    kiln.plant.set_fault("main_stuck_closed", True)  # the elements hang on the relay alone
    assert lead(kiln.bench, "Ada", today)
    assert "main_contactor" not in begun(kiln)
    assert any("only the independent limit stops a welded relay" in line for line in listing(kiln.bench, DAY))


def test_the_list_says_what_is_done_until_when_and_what_is_missing(kiln: Kiln) -> None:
    lead(kiln.bench, "Ada", today, "enclosure")
    lines = listing(kiln.bench, DAY)
    assert lines[0].endswith("no commissioning is asked for")  # this one is simulated
    assert [line.split()[1] for line in lines[1:]] == NAMES
    assert next(line for line in lines if " enclosure " in line).endswith(
        "2031-04-05 by Ada, until 2032-04-05"
    )
    assert sum(line.startswith("missing") for line in lines) == len(NAMES) - 1


def test_an_unknown_step_is_told_with_those_that_there_are(kiln: Kiln) -> None:
    with pytest.raises(UsageError, match=r"--step: found 'door', expected one of .*contact_door"):
        lead(kiln.bench, "Ada", today, "door")


def test_a_presence_key_must_be_turned_for_a_low_heat(kiln: Kiln, monkeypatch: pytest.MonkeyPatch) -> None:
    kiln.configured(contacts={**CONFIG.contacts, "presence": CONFIG.contacts["door"]})
    poll: Any = kiln.open
    turned = True

    def with_key(config: Any, now: Any) -> Any:
        inputs, output = poll(config, now)
        plain = inputs.poll

        def polled() -> Any:
            seen = plain()
            return seen._replace(
                contacts=seen.contacts | {"presence": seen.contacts["door"]._replace(on=turned)}
            )

        inputs.poll = polled
        return inputs, output

    kiln.bench = replace(kiln.bench, opener=with_key)
    assert kiln.do("low_heat").passed
    turned = False
    assert failed(kiln.do("low_heat"))[0] == "a person is at the kiln"


def test_on_a_bench_only_the_guard_holds_the_heat_output(kiln: Kiln) -> None:
    made: list[Any] = []

    def remember(config: Any, now: Any) -> Any:
        inputs, output = kiln.open(config, now)
        made.append(weakref.ref(output))
        return inputs, output

    kiln.bench = replace(kiln.bench, opener=remember)
    with kiln.bench.rig() as rig:
        holders = [h for h in gc.get_referrers(made[0]()) if not isinstance(h, types.FrameType)]
        assert any(holder is vars(rig.loop.guard) or holder is rig.loop.guard for holder in holders)
        assert all(holder is vars(rig.loop.guard) or holder is rig.loop.guard for holder in holders)


def test_a_rig_that_is_left_by_an_error_leaves_the_heat_off(kiln: Kiln) -> None:
    def broken() -> None:
        with kiln.bench.rig() as rig:
            rig.start(*to_and_hold(200.0))
            while not rig.tick().grant.heat:
                pass
            assert kiln.plant.power_w > 0.0
            raise RuntimeError("a bug")

    with pytest.raises(RuntimeError):
        broken()
    assert kiln.plant.power_w == 0.0
    assert not kiln.plant.main_aux


def test_yes_is_yes_and_everything_else_is_no(kiln: Kiln) -> None:
    for answer, yes in (("yes", True), ("Y", True), ("no", False), ("", False), ("yess", False)):
        kiln.hands.answers["Is it so"] = answer
        assert says_yes(kiln.hands, "Is it so?") is yes


# --- the command


@pytest.fixture
def file(tmp_path: Path) -> str:
    path = tmp_path / "kiln.toml"
    path.write_text(TEXT)
    return str(path)


def test_the_list_is_shown_without_touching_the_kiln(
    file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["commission", "--kiln", file, "--home", str(tmp_path / "home"), "--list"]) == 1
    said = capsys.readouterr().out
    assert said.count("missing") == len(NAMES)
    assert not (tmp_path / "home").exists()


def test_a_controller_that_runs_keeps_the_commissioning_away(
    file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lock = assemble.lock_home(tmp_path)
    try:
        assert main(["commission", "--kiln", file, "--home", str(tmp_path), "--by", "Ada"]) == 2
    finally:
        lock.close()
    assert "another controller runs" in capsys.readouterr().err
    assert not (tmp_path / FILE_NAME).exists()


def test_a_real_kiln_is_brought_up_in_real_time(
    file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path(file).write_text(TEXT.replace("simulated = true", "simulated = false"))
    assert main(["commission", "--kiln", file, "--home", str(tmp_path), "--speed", "10"]) == 2
    assert "simulated = true" in capsys.readouterr().err


def test_nobody_to_answer_is_one_line_and_a_status_of_two(file: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "controller.cli", "commission", "--kiln", file, "--home", str(tmp_path)],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "expected a person who answers" in done.stderr


def test_the_console_reads_a_line_without_its_blanks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("builtins.input", lambda prompt: f"  {prompt} yes ")
    assert Console().ask("well?") == "well? >  yes"
