"""The latches on disk: what is read of a file that is not well, and that what was saved is on the disk."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from controller.guard import Latch, LatchFile

LATCHES = (Latch("ceiling", "too hot", 7.5, True), Latch("door_open", "open", 8.0, False))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "latches.json"


def test_without_a_file_nothing_is_latched(path: Path) -> None:
    assert LatchFile(path).load() == ()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "{}",
        '""',
        "7",
        "[1]",
        '[{"row_id": "x"}]',
        '[{"row_id":1,"found":1,"utc_s":"x","first_out":1}]',
        '[{"row_id":1,"found":1,"utc_s":1' + 400 * "0" + ',"first_out":1}]',
        100_000 * "[",
    ],
    ids=lambda text: text[:40],
)
def test_a_damaged_file_is_one_latch_that_came_first_and_says_so(path: Path, text: str) -> None:
    path.write_text(text)
    assert LatchFile(path).load() == (Latch("latches_unreadable", "latches.json is damaged", 0.0, True),)


def test_a_file_that_cannot_be_read_is_one_latch_that_came_first_and_says_why(path: Path) -> None:
    path.mkdir()
    (latch,) = LatchFile(path).load()
    assert latch.row_id == "latches_unreadable"
    assert latch.found.startswith("latches.json: ")
    assert "directory" in latch.found
    assert (latch.utc_s, latch.first_out) == (0.0, True)


def test_a_file_that_is_no_text_is_one_latch_that_came_first_and_says_why(path: Path) -> None:
    path.write_bytes(b"\xff\xfe")
    (latch,) = LatchFile(path).load()
    assert latch.found.startswith("latches.json: 'utf-8' codec")
    assert (latch.row_id, latch.utc_s, latch.first_out) == ("latches_unreadable", 0.0, True)


def test_what_was_saved_is_on_the_disk_whole_before_it_has_its_name_and_then_its_name_is(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[tuple[Path, str, bool]] = []

    def sync(descriptor: int) -> None:
        what = Path(os.readlink(f"/proc/self/fd/{descriptor}"))
        synced.append((what, what.read_text() if what.is_file() else "", path.exists()))

    monkeypatch.setattr(os, "fsync", sync)
    file = LatchFile(path)
    file.save(LATCHES)
    new, folder = path.with_suffix(".new"), path.parent
    assert [what for what, _, _ in synced] == [new, folder]
    assert synced[0][1] == path.read_text()  # whole by then, not still in the program
    assert [named for _, _, named in synced] == [False, True]
    assert file.load() == LATCHES


def test_saving_leaves_nothing_open_even_when_the_disk_says_no(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def opened() -> int:
        return len(os.listdir("/proc/self/fd"))

    before = opened()
    LatchFile(path).save(LATCHES)
    assert opened() == before

    def refuse(descriptor: int) -> None:
        if os.path.isdir(f"/proc/self/fd/{descriptor}"):
            raise OSError("no space left")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="no space left"):
        LatchFile(path).save(LATCHES)
    assert opened() == before


def test_saving_leaves_one_file_that_says_it_all(path: Path) -> None:
    LatchFile(path).save(LATCHES)
    assert [one.name for one in path.parent.iterdir()] == ["latches.json"]
    LatchFile(path).save(())
    assert LatchFile(path).load() == ()
