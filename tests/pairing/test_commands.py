"""`stokehold pair` and `stokehold devices`, at the kiln's console."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import segno

from controller.cli import main
from controller.commands import pair as command
from controller.pairing import offer as offers
from controller.pairing.offer import FILE_NAME, open_offer, take_offer
from controller.pairing.place import Place, say_place
from controller.record.devices import devices
from controller.record.write_devices import device_seen, pair_device

ADDRESS = "http://192.0.2.1:8321"


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "LOOK_EVERY_S", 0.01)


def taken_by(home: Path, take: Callable[[offers.Offer], None]) -> threading.Thread:
    """Take the offer as the page would, as soon as there is one."""

    def wait() -> None:
        end_s = time.monotonic() + 5.0
        while (offer := open_offer(home, time.monotonic())) is None:
            assert time.monotonic() < end_s
            time.sleep(0.01)
        take(offer)
        take_offer(home, offer)

    thread = threading.Thread(target=wait)
    thread.start()
    return thread


def test_it_shows_address_picture_and_code_and_waits_until_the_device_is_paired(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(offers.secrets, "token_urlsafe", lambda _: "a-secret-link")
    say_place(tmp_path, Place(False, "192.0.2.1", 8321, "", False))
    record = tmp_path / "record.db"
    taking = taken_by(tmp_path, lambda offer: pair_device(record, offer.name, offer.role, "hash", 1.0))
    assert main(["pair", "  Ada's\tphone", "--operator", "--home", str(tmp_path)]) == 0
    taking.join()
    said = capsys.readouterr().out
    assert "Pairing Ada's phone, as operator" in said
    assert re.search(rf"open  {ADDRESS}/pair  and type  \d{{4}} \d{{4}}\n", said)
    assert "Without TLS" in said
    assert "Ada's phone is paired, as operator, number 1." in said
    assert "a-secret-link" not in said
    assert modules(said) == [
        [bool(each) for each in row] for row in expected(f"{ADDRESS}/pair#a-secret-link")
    ]
    assert not (tmp_path / FILE_NAME).exists()


def expected(text: str) -> list[bytearray]:
    """The picture's modules by the library's own matrix, with two light ones around it."""
    matrix = segno.make(text, micro=False, error="m").matrix_iter(border=2)
    return [bytearray(row) for row in matrix]


def modules(said: str) -> list[list[bool]]:
    """Read the picture back from the printed half blocks: dark is True."""
    light = {"█": (True, True), "▀": (True, False), "▄": (False, True), " ": (False, False)}
    lines = [line for line in said.splitlines() if line and set(line) <= set(light)]
    rows: list[list[bool]] = []
    for line in lines:
        rows += [[not light[each][half] for each in line] for half in (0, 1)]
    return rows[: len(rows[0])]  # square: the last half line has nothing below it


def test_an_offer_that_nobody_took_ends_with_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(offers, "LASTS_S", 0.05)
    assert main(["pair", "Ada", "--home", str(tmp_path), "--address", "https://kiln.example/"]) == 1
    said = capsys.readouterr().out
    assert "Pairing Ada, as watcher: it may see, hold and abort." in said
    assert "open  https://kiln.example/pair " in said
    assert "Without TLS" not in said
    assert "Nobody took it in time: Ada is not paired." in said
    assert not (tmp_path / FILE_NAME).exists()


def test_breaking_it_off_withdraws_the_offer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken_off(_: float) -> None:
        assert (tmp_path / FILE_NAME).exists()
        raise KeyboardInterrupt

    monkeypatch.setattr("time.sleep", broken_off)
    assert main(["pair", "Ada", "--home", str(tmp_path), "--address", ADDRESS]) == 130
    assert not (tmp_path / FILE_NAME).exists()


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ([], "start it with --host 0.0.0.0"),
        (["--address", "kiln.example"], "expected http://... or https://..."),
    ],
)
def test_without_a_page_that_can_be_reached_it_says_how(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], says: str
) -> None:
    assert main(["pair", "Ada", "--home", str(tmp_path), *more]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
    assert not (tmp_path / FILE_NAME).exists()


def test_a_name_that_is_paired_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pair_device(tmp_path / "record.db", "Ada", "watcher", "hash", 1.0)
    assert main(["pair", "Ada", "--home", str(tmp_path), "--address", ADDRESS]) == 2
    assert "`stokehold devices revoke 1`" in capsys.readouterr().err


def test_devices_are_listed_and_revoked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    home = ["--home", str(tmp_path)]
    assert main(["devices", *home]) == 0
    assert "No device is paired" in capsys.readouterr().out
    record = tmp_path / "record.db"
    pair_device(record, "Ada's phone", "operator", "hash-a", 1.0)
    pair_device(record, "Ben's phone", "watcher", "hash-b", 2.0)
    device_seen(record, 2, 3.0)
    assert main(["devices", *home]) == 0
    lines = capsys.readouterr().out.splitlines()[1:]
    assert ["Ada's phone" in lines[0], "operator" in lines[0], "not yet" in lines[0]] == [True] * 3
    assert ["Ben's phone" in lines[1], "watcher" in lines[1], "not yet" in lines[1]] == [True, True, False]
    assert main(["devices", "revoke", "2", *home]) == 0
    assert capsys.readouterr().out == "Ben's phone is no longer paired.\n"
    assert [device.paired for device in devices(record)] == [True, False]
    assert main(["devices", *home]) == 0
    assert "Ben's phone" not in capsys.readouterr().out
    assert main(["devices", "--all", *home]) == 0
    assert "revoked" in capsys.readouterr().out


@pytest.mark.parametrize(("more", "says"), [([], "found no number"), (["7"], "found no paired device 7")])
def test_revoking_nobody_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], says: str
) -> None:
    assert main(["devices", "revoke", *more, "--home", str(tmp_path)]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
