"""An offer to pair: two secrets, five minutes, once; what is kept is for the controller's user alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.errors import UsageError
from controller.pairing import offer as offers
from controller.pairing.offer import FILE_NAME, LASTS_S, make_offer, open_offer, take_offer

NOW_S = 1000.0


def test_an_offer_can_be_taken_with_its_code_or_its_link_and_with_nothing_else(tmp_path: Path) -> None:
    offer, code, link = make_offer(tmp_path, "Ada's phone", "watcher", NOW_S)
    assert open_offer(tmp_path, NOW_S) == offer
    assert (offer.name, offer.role) == ("Ada's phone", "watcher")
    assert offer.is_code(code)
    assert offer.is_code(f" {code[:4]}-{code[4:]} ")
    assert offer.is_link(link)
    wrong = f"{(int(code) + 1) % 10**8:08d}"
    assert not any(offer.is_code(other) for other in (wrong, "", code[:7], link, "\ud800"))
    assert not any(offer.is_link(other) for other in (code, "", link[:-1], link.swapcase()))


def test_it_ends_after_five_minutes_and_neither_before_nor_backwards(tmp_path: Path) -> None:
    make_offer(tmp_path, "Ada", "watcher", NOW_S)
    assert open_offer(tmp_path, NOW_S + LASTS_S - 1) is not None
    assert open_offer(tmp_path, NOW_S + LASTS_S) is None
    assert open_offer(tmp_path, NOW_S - 1) is None


def test_it_does_not_outlive_the_computers_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_offer(tmp_path, "Ada", "watcher", NOW_S)
    monkeypatch.setattr(offers, "boot", lambda: "another start")
    assert open_offer(tmp_path, NOW_S) is None


def test_taken_it_is_gone_and_a_newer_one_stays(tmp_path: Path) -> None:
    first, _, _ = make_offer(tmp_path, "Ada", "watcher", NOW_S)
    second, _, _ = make_offer(tmp_path, "Ada", "operator", NOW_S)
    take_offer(tmp_path, first)
    assert open_offer(tmp_path, NOW_S) == second
    take_offer(tmp_path, second)
    assert open_offer(tmp_path, NOW_S) is None
    take_offer(tmp_path, second)


def test_the_file_is_its_owners_and_holds_no_secret_in_words(tmp_path: Path) -> None:
    _, code, link = make_offer(tmp_path, "Ada", "watcher", NOW_S)
    file = tmp_path / FILE_NAME
    assert file.stat().st_mode & 0o077 == 0
    assert code not in file.read_text()
    assert link not in file.read_text()
    assert [each.name for each in tmp_path.iterdir()] == [FILE_NAME]


def test_secrets_differ_each_time(tmp_path: Path) -> None:
    made = [make_offer(tmp_path, "Ada", "watcher", NOW_S) for _ in range(20)]
    assert len({code for _, code, _ in made}) == len({link for _, _, link in made}) == 20
    assert all(len(code) == 8 and code.isdigit() for _, code, _ in made)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"id": 1}', "\x00"])
def test_a_file_that_is_none_is_no_offer(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE_NAME).write_text(text)
    assert open_offer(tmp_path, NOW_S) is None


def test_a_folder_that_refuses_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "home").write_text("a file")
    with pytest.raises(UsageError, match="the offer cannot be kept there"):
        make_offer(tmp_path / "home", "Ada", "watcher", NOW_S)
