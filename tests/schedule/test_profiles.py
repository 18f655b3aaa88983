"""Every schedule in the library loads, gives its reasons, and goes as its trade says."""

from __future__ import annotations

import re
from argparse import ArgumentParser
from pathlib import Path

import pytest

from controller.commands import check
from controller.errors import UsageError
from controller.schedule import index
from controller.schedule.index import find, names, own_folder, profile, profiles_folder
from controller.schedule.model import Checkpoint, Hold
from controller.schedule.plan import ROOM_C, plan
from controller.schedule.reader import load_schedule

# Hours that each is planned to take: the trade's order of magnitude (common practice, no source).
HOURS = {
    "printed-pla-silica-shell": (10, 12),
    "wax-silica-shell": (6, 12),
    "castable-resin-gypsum": (12, 24),
    "empty-shell-reheat": (4, 10),
    "first-drying-of-a-lining": (48, 96),
}


def test_the_library_holds_these_schedules() -> None:
    assert names() == sorted(HOURS)
    assert profiles_folder().is_dir()


@pytest.mark.parametrize("name", sorted(HOURS))
def test_it_loads_and_its_plan_lasts_as_long_as_the_trade_expects(name: str) -> None:
    schedule = load_schedule(find(name))
    assert schedule.text == find(name).read_text(encoding="utf-8")
    planned = plan(schedule, ROOM_C, 300.0)
    shortest, longest = HOURS[name]
    assert shortest <= planned.total_s / 3600 <= longest


@pytest.mark.parametrize("name", sorted(HOURS))
def test_every_stage_has_its_reasons_written_above_it(name: str) -> None:
    text = find(name).read_text(encoding="utf-8")
    before = text.split("[[stage]]")[:-1]
    assert len(before) == len(load_schedule(find(name)).stages)
    for place, part in enumerate(before):
        comment = re.search(r"((?:^#.*\n)+)\Z", part, re.MULTILINE)
        assert comment is not None, f"stage {place + 1} of {name} has no comment right above it"
        assert len(comment[1].split()) > 10


@pytest.mark.parametrize("name", sorted(HOURS))
def test_every_reason_has_a_source_or_says_that_it_has_none(name: str) -> None:
    """A comment with a number names a paper, or says 'common practice, no source' or 'from memory'."""
    text = find(name).read_text(encoding="utf-8")
    for part in text.split("[[stage]]")[:-1]:
        comment = re.search(r"((?:^#.*\n)+)\Z", part, re.MULTILINE)
        words = " ".join(comment[1].replace("#", " ").split()) if comment else ""
        if re.search(r"[0-9]", words):
            assert re.search(
                r"common practice, no source|from memory|doi |\(\d{4}\)|IAPWS|course's page|in tables", words
            ), words


@pytest.mark.parametrize("name", sorted(HOURS))
def test_it_cautions_and_defers_to_who_knows_better(name: str) -> None:
    head = " ".join(find(name).read_text(encoding="utf-8").split("title = ")[0].replace("#", " ").split())
    assert "Local codes" in head or "maker" in head


@pytest.mark.parametrize("name", sorted(HOURS))
def test_whoever_must_come_is_told_what_to_do_and_nothing_waits_hot_for_ever(name: str) -> None:
    for stage in load_schedule(find(name)).stages:
        if isinstance(stage, Checkpoint):
            assert stage.says
            assert stage.remind_every_s is not None
        if isinstance(stage, Hold) and stage.for_s is None:
            assert stage.says
            assert stage.at_most_s is not None


def test_the_main_one_stops_once_with_the_heat_off_and_burns_under_extraction() -> None:
    schedule = load_schedule(find("printed-pla-silica-shell"))
    stops = [stage for stage in schedule.stages if isinstance(stage, Checkpoint)]
    assert [stop.heat for stop in stops] == ["off"]
    after = schedule.stages[schedule.stages.index(stops[0]) + 1 :]
    assert [stage.extraction for stage in after[:3]] == [True, True, True]
    pour = [stage for stage in schedule.stages if isinstance(stage, Hold) and stage.for_s is None]
    assert [hold.at_most_s for hold in pour] == [4 * 3600.0]


def test_a_schedule_is_found_by_name_or_by_path(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("x", encoding="utf-8")
    assert find(str(own)) == own
    assert find("wax-silica-shell") == profiles_folder() / "wax-silica-shell.toml"
    assert profile("wax-silica-shell") == profiles_folder() / "wax-silica-shell.toml"


@pytest.mark.parametrize("name", ["nothing", "", "../pyproject", "wax-silica-shell.toml"])
def test_what_is_not_there_is_told_with_what_is(name: str) -> None:
    for look in (find, profile):
        with pytest.raises(UsageError, match="printed-pla-silica-shell"):
            look(name)


def test_a_profile_is_never_a_path() -> None:
    with pytest.raises(UsageError):
        profile(str(find("wax-silica-shell")))


def own_schedules(folder: Path, *stems: str) -> Path:
    folder.mkdir()
    for stem in stems:
        (folder / f"{stem}.toml").write_text(
            'title = "Own"\n[[stage]]\nkind = "ramp"\nname = "up"\nto = "90 C"\nrate = "60 C/h"\n'
        )
    return folder


def test_the_users_own_schedules_are_found_behind_the_built_in_ones(tmp_path: Path) -> None:
    own = own_schedules(tmp_path / "profiles", "otter", "bear_2")
    assert own == own_folder(tmp_path)
    assert names(own) == [*names(), "bear_2", "otter"]
    assert find("otter", own) == profile("otter", own) == own / "otter.toml"
    with pytest.raises(UsageError, match="wax-silica-shell, bear_2, otter"):
        find("moose", own)


@pytest.mark.parametrize("stem", ["wax-silica-shell", "Wax-Silica-Shell", "a b", ".hidden", "é"])
def test_a_built_in_schedule_cannot_be_shadowed_and_a_strange_name_is_not_listed(
    tmp_path: Path, stem: str
) -> None:
    own = own_schedules(tmp_path / "profiles", stem)
    assert names(own) == names()
    assert find("wax-silica-shell", own).parent == profiles_folder()


def test_a_command_finds_them_in_the_home_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own_schedules(tmp_path / "profiles", "otter")
    monkeypatch.setenv("STOKEHOLD_HOME", str(tmp_path))
    parser = ArgumentParser()
    check.arguments(parser)
    assert check.run(parser.parse_args(["otter"])) == 0


def test_an_empty_library_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index, "profiles_folder", lambda: tmp_path)
    with pytest.raises(UsageError, match="folder of profiles is empty"):
        find("wax-silica-shell")
