"""How long a result counts, what a changed kiln's file takes away, and what is asked for before a firing."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from controller.commissioning import exempt, missing, refusal
from controller.commissioning.parts import fingerprint, fingerprints, rests_on
from controller.commissioning.result import Check, Done, Result, from_data, to_data
from controller.commissioning.store import FILE_NAME, load, save
from controller.commissioning.table import KINDS, step_named, steps
from controller.commissioning.validity import expires, missing_of
from controller.config import KilnConfig, read_kiln
from controller.errors import UsageError
from tests.commissioning.hands import CONFIG, REAL, TEXT

DAY = date(2031, 4, 5)


def result(name: str, config: KilnConfig = REAL, on: date = DAY, *, passed: bool = True) -> Result:
    done = Done((Check("it", "well", "well", passed),), {"rise_k": 3.5})
    return Result(name, on, "Ada", "0.1", done, fingerprints(config, step_named(config, name)))


def all_results(config: KilnConfig = REAL, on: date = DAY) -> dict[str, Result]:
    return {step.name: result(step.name, config, on) for step in steps(config)}


def lost(changed: KilnConfig) -> set[str]:
    """The steps that a change of the kiln's file takes away."""
    return {one.step for one in missing_of(changed, all_results(), DAY)}


def changed_text(old: str, new: str, after: str = "") -> KilnConfig:
    start = TEXT.index(after)
    assert old in TEXT[start:], old
    text = TEXT[:start] + TEXT[start:].replace(old, new, 1)
    return read_kiln(text.replace("simulated = true", "simulated = false"), "kiln.toml")


# --- complete, and for how long


def test_a_complete_commissioning_misses_nothing_and_refuses_nothing(tmp_path: Path) -> None:
    save(tmp_path, REAL.name, all_results())
    assert missing(REAL, tmp_path, DAY) == ()
    assert refusal(()) == ""


def test_without_a_commissioning_every_step_is_missing_and_told_in_one_line(tmp_path: Path) -> None:
    found = missing(REAL, tmp_path, DAY)
    assert [one.step for one in found] == [step.name for step in steps(REAL)]
    assert {one.why for one in found} == {"not done yet"}
    assert "sensor_air: not done yet" in refusal(found)
    assert "and 12 more" in refusal(found)
    assert "\n" not in refusal(found)


@pytest.mark.parametrize("name", [step.name for step in steps(REAL)])
def test_one_step_that_is_not_done_or_failed_is_missed(tmp_path: Path, name: str) -> None:
    results = all_results()
    save(tmp_path, REAL.name, results | {name: result(name, passed=False)})
    assert [(one.step, one.why) for one in missing(REAL, tmp_path, DAY)] == [(name, f"failed on {DAY}: it")]
    del results[name]
    save(tmp_path, REAL.name, results)
    assert [one.step for one in missing(REAL, tmp_path, DAY)] == [name]


def test_a_result_counts_for_twelve_months_and_not_a_day_longer() -> None:
    results = all_results()
    assert missing_of(REAL, results, date(2032, 4, 4)) == ()
    late = missing_of(REAL, results, date(2032, 4, 5))
    assert len(late) == len(steps(REAL))
    assert late[0].why == "done on 2031-04-05, out of date since 2032-04-05"


def test_each_step_ages_by_itself() -> None:
    results = all_results() | {"limit": result("limit", on=DAY - timedelta(days=360))}
    assert [one.step for one in missing_of(REAL, results, DAY + timedelta(days=30))] == ["limit"]


def test_a_leap_day_s_result_ends_on_the_first_of_march() -> None:
    assert expires(date(2032, 2, 29)) == date(2033, 3, 1)
    assert expires(DAY) == date(2032, 4, 5)


def test_a_result_from_the_future_does_not_count() -> None:
    found = missing_of(REAL, all_results(on=DAY + timedelta(days=1)), DAY)
    assert len(found) == len(steps(REAL))
    assert "clock" in found[0].why


def test_only_a_kiln_that_says_it_is_simulated_is_exempt(tmp_path: Path) -> None:
    assert missing(CONFIG, tmp_path, DAY) == ()
    assert "simulated = true" in exempt(CONFIG)
    assert exempt(REAL) == ""
    assert missing(REAL, tmp_path, DAY) != ()


# --- what a change of the kiln's file takes away


@pytest.mark.parametrize(
    ("changed", "takes"),
    [
        (changed_text("scale = 0.1", "scale = 0.2", "[reader.load]"), {"sensor_load", "agreement"}),
        (
            changed_text("address = 0", "address = 7", "[reader.air]"),
            {"sensor_air", "agreement", "low_heat", "model"},
        ),
        (changed_text("address = 3", "address = 7", "[reader.enclosure]"), {"enclosure"}),
        (changed_text("address = 1", "address = 7", "[contact.emergency_stop]"), {"contact_emergency_stop"}),
        (changed_text("6500 W", "7000 W"), {"relay", "lease", "low_heat", "model"}),
        (changed_text("address = 1", "address = 7", "[main_contactor]"), {"main_contactor", "low_heat"}),
        (changed_text('lease = "6 s"', 'lease = "5 s"'), {"lease"}),
        (changed_text('tick = "2 s"', 'tick = "1 s"'), {"lease"}),
        (changed_text("900 C", "950 C"), {"limit"}),
        (changed_text("0.08 /K", "0.07 /K"), set()),
        (changed_text('name = "simulated kiln"', 'name = "big kiln"'), set()),
        (changed_text("port = 5020", "port = 5021"), {step.name for step in steps(REAL)} - {"limit"}),
    ],
)
def test_a_change_takes_away_only_what_rests_on_it(changed: KilnConfig, takes: set[str]) -> None:
    assert lost(changed) == takes


def test_the_part_that_changed_is_named() -> None:
    found = missing_of(changed_text('lease = "6 s"', 'lease = "5 s"'), all_results(), DAY)
    assert found[0].why == "the kiln's file has changed since 2031-04-05: lease"


def test_words_order_and_units_of_the_file_take_nothing_away() -> None:
    same = changed_text('ceiling = "900 C"', 'ceiling = "1652 F" # other words')
    assert lost(same) == set()
    assert lost(changed_text('degrees = "C"', "", "[reader.air]")) == set()  # its default


def test_a_contact_that_is_added_is_missing_and_one_that_is_taken_away_is_not_asked_for() -> None:
    presence = changed_text("[contact.key]", "[contact.presence]", "[contact.key]")
    assert lost(presence) == {"contact_presence"}
    fewer = replace(REAL, contacts={"door": REAL.contacts["door"]})
    assert lost(fewer) == set()


def test_a_main_contactor_that_is_taken_away_takes_the_low_heat_with_it() -> None:
    assert lost(replace(REAL, main_contactor=None)) == {"low_heat"}


def test_the_wire_of_a_read_back_counts_as_well() -> None:
    back = REAL.heater.read_back  # type: ignore[union-attr]
    other = replace(REAL.buses["main"], name="other")
    config = replace(
        REAL,
        buses={**REAL.buses, "other": other},
        heater=replace(REAL.heater, read_back=replace(back, bus="other")),
    )
    assert "bus.other" in rests_on(config, step_named(config, "relay"))


def test_a_fingerprint_is_the_same_in_every_process() -> None:
    assert fingerprint(REAL, "lease") == "8ab31b5afaea5611"  # SHA-256 of the text 6.0, its first 16 digits
    assert len({fingerprint(REAL, f"contact.{role}") for role in REAL.contacts}) == len(REAL.contacts)


def test_every_part_that_the_table_names_is_known() -> None:
    for step in steps(REAL):
        assert all(len(mark) == 16 for mark in fingerprints(REAL, step).values())
        assert fingerprints(REAL, step)
    assert all(kind.parts for kind in KINDS)


# --- the file


def test_a_result_comes_back_from_the_disk_as_it_was(tmp_path: Path) -> None:
    results = all_results()
    save(tmp_path, REAL.name, results)
    assert load(tmp_path) == results
    data = json.loads((tmp_path / FILE_NAME).read_text())
    assert data["results"][0] | {"parts": {}} == {
        "step": "sensor_air",
        "passed": True,
        "on": "2031-04-05",
        "by": "Ada",
        "version": "0.1",
        "checks": [{"what": "it", "expected": "well", "saw": "well", "passed": True}],
        "figures": {"rise_k": 3.5},
        "parts": {},
    }


def test_a_file_that_says_passed_beside_a_failed_check_is_not_believed() -> None:
    data = to_data(result("limit", passed=False)) | {"passed": True}
    assert not from_data(data).done.passed


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        "{}",
        '{"format": 1}',
        '{"format": 2, "results": []}',
        '{"format": 1, "results": [{"step": "limit"}]}',
    ],
)
def test_a_damaged_file_is_one_line_and_means_that_all_is_missing(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE_NAME).write_text(text)
    with pytest.raises(UsageError, match=FILE_NAME) as caught:
        load(tmp_path)
    assert "\n" not in str(caught.value)
    assert [one.step for one in missing(REAL, tmp_path, DAY)] == ["all"]


@pytest.mark.parametrize("figure", ["NaN", "Infinity"])
def test_a_figure_that_is_no_number_is_refused(tmp_path: Path, figure: str) -> None:
    save(tmp_path, REAL.name, all_results())
    path = tmp_path / FILE_NAME
    path.write_text(path.read_text().replace("3.5", figure, 1))
    with pytest.raises(UsageError, match="damaged"):
        load(tmp_path)


def test_a_crash_while_saving_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    save(tmp_path, REAL.name, all_results())

    def crash(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", crash)
    with pytest.raises(UsageError, match="cannot be written: No space left"):
        save(tmp_path, REAL.name, {})
    assert load(tmp_path) == all_results()
