"""Garbage on the line, against the firmware as compiled and the real driver: no heat, no wrong value."""

from __future__ import annotations

import os
import select
import threading
import tty
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from random import Random

import pytest

from controller.errors import WireError
from controller.wire import board_line as line
from controller.wire.board import BoardConfig
from controller.wire.board_kiln import Place, open_board
from controller.wire.board_line import Flag
from tests.board.garble import garbled

pytestmark = pytest.mark.wire

ORDER = line.heat(0x21, 20_000, True)
SUM = ORDER[-5:-1]


def summed(text: bytes) -> bytes:
    """Return a text with the checksum that it ought to have."""
    return b"%s%04X" % (text, line.checksum(text))


HOSTILE = {
    "nothing": b"\n\n\n",
    "zeros": b"\0" * 300,
    "ones": b"\xff" * 300,
    "wrong checksum": ORDER[:-5] + b"0000\n",
    "checksum of another order": ORDER[:-5] + line.heat(0x21, 20_000, False)[-5:],
    "checksum in small letters": b">21 H 20001 1 %s\n" % summed(b">21 H 20001 1 ")[-4:].lower(),
    "no checksum": ORDER[:-6] + b"\n",
    "no beginning": ORDER[1:],
    "cut off": ORDER[:-3],
    "carriage return": ORDER[:-1] + b"\r\n",
    "too long by one": summed(b">21 H 20000 1  ") + b"\n",
    "much too long": b">21 H " + b"2" * 1000 + b" 1 " + SUM + b"\n",
    "endless": b">" + b"9" * 5000,
    "an answer": b"<" + ORDER[1:],
    "lease of letters": summed(b">21 H 2000A 1 ") + b"\n",
    "lease below zero": summed(b">21 H -2000 1 ") + b"\n",
    "lease of four digits": summed(b">21 H 2000 1 ") + b"\n",
    "lease of six digits": summed(b">21 H 020000 1 ") + b"\n",
    "main contactor half closed": summed(b">21 H 20000 2 ") + b"\n",
    "kind in small letters": summed(b">21 h 20000 1 ") + b"\n",
    "an unknown kind": summed(b">21 Z ") + b"\n",
    "a question that is too long": summed(b">21 R 20000 1 ") + b"\n",
    "two spaces": summed(b">21  H20000 1 ") + b"\n",
    "sequence of letters": summed(b">XX H 20000 1 ") + b"\n",
    "empty frame": b">\n",
    "only a checksum": summed(b">") + b"\n",
}


class Line:
    """The line to a chip, without the driver."""

    def __init__(self, chip) -> None:
        self._chip = chip
        self._fd = os.open(chip.line, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self._fd)
        self._sent = self._got = 0

    def __call__(self, data: bytes) -> bytes:
        """Send bytes, let the chip have its time, and return what it has sent since."""
        self._sent += os.write(self._fd, data)
        self._chip.taken(self._sent)
        self._chip.run(50)
        due = self._chip.given() - self._got
        self._got += due
        heard = b""
        while len(heard) < due:
            heard += os.read(self._fd, due - len(heard))
        return heard

    def close(self) -> None:
        """Let go of it."""
        os.close(self._fd)


@pytest.fixture
def wire(chip) -> Iterator[Line]:
    """Return a function that puts bytes on the line and gives what the board sent meanwhile."""
    line_to_chip = Line(chip)
    yield line_to_chip
    line_to_chip.close()


def test_no_hostile_line_starts_heat_or_ends_it(chip, wire) -> None:
    wire(line.acknowledge(1))
    assert chip.news() == []
    for name, data in HOSTILE.items():
        wire(data)
        assert chip.news() == [], name
    assert wire(line.heat(2, 30_000, True)).startswith(b"<02 S 00 ")
    assert [edge.what for edge in chip.news()] == ["heat", "main"]
    for name, data in HOSTILE.items():
        wire(data)
        wire(line.read(3))  # so that the line is not silent
        assert chip.news() == [], name


def test_only_what_arrived_whole_is_answered(chip, wire) -> None:
    heard = {name: wire(data) for name, data in HOSTILE.items()}
    answered = {name: answer[4:7] for name, answer in heard.items() if answer}
    assert answered == {
        "too long by one": b"E 2",
        "lease of letters": b"E 2",
        "lease below zero": b"E 2",
        "lease of four digits": b"E 2",
        "lease of six digits": b"E 2",
        "main contactor half closed": b"E 2",
        "kind in small letters": b"E 2",
        "an unknown kind": b"E 1",
        "a question that is too long": b"E 2",
    }


def test_the_board_hears_the_next_line_after_any_hostile_one(chip, wire) -> None:
    for name, data in HOSTILE.items():
        assert wire(data + line.read(0x5A))[-57:].startswith(b"<5A S "), name


def test_no_hostile_line_disturbs_what_the_board_knows(chip, wire) -> None:
    before = wire(line.read(1))
    for name, data in HOSTILE.items():
        wire(data)
        assert wire(line.read(1)) == before, name
    chip.reset("external")  # the latch lies in memory, and would show here
    chip.run(300)
    assert line.parse(wire(line.read(1))[:-1]).flags == Flag.RESTARTED


@pytest.mark.parametrize(
    ("name", "count"),
    [("much too long", 1), ("endless", 1), ("wrong checksum", 1), ("cut off", 0), ("nothing", 0)],
)
def test_damaged_frames_are_counted(wire, name, count) -> None:
    wire(HOSTILE[name])
    assert line.parse(wire(line.identify(1))[:-1]).bad_lines == count


def test_frames_that_come_too_fast_are_lost_whole_and_damage_none(wire) -> None:
    heard = wire(b"".join(line.read(n) for n in range(20)))
    numbers = [line.parse(text).sequence for text in heard.splitlines()]
    assert numbers[:2] == [0, 1]
    assert 3 < len(numbers) < 20
    assert numbers == sorted(set(numbers))
    assert line.parse(wire(line.identify(1))[:-1]).bad_lines == 0


def test_an_order_is_carried_out_while_an_answer_is_still_on_its_way(chip, wire) -> None:
    wire(line.acknowledge(1))
    heard = wire(line.heat(2, 9000, True) + line.heat(3, 0, False))
    assert [heard[1:3], heard[58:60]] == [b"02", b"03"]
    on, off = (edge for edge in chip.news() if edge.what == "heat")
    assert off.at_s - on.at_s < 0.008  # 19 characters of 0.26 ms, and a few ms to look
    assert len(heard) == 2 * 57


def test_twenty_thousand_garbled_orders_never_give_heat(chip, wire) -> None:
    chance = Random(7)
    wire(line.acknowledge(1))
    chip.news()
    orders = [line.heat(n, 30_000 - n, True) for n in range(256)]
    for n in range(0, 20_000, 100):
        batch = [garbled(orders[(n + i) % 256], orders[(n + i + 1) % 256], chance) for i in range(100)]
        wire(b"\xff".join([*batch, b""]))  # a stray byte keeps two halves from making a whole
        assert chip.news() == []
    identity = line.parse(wire(b"\n" + line.identify(9))[:-1])
    assert identity.bad_lines == 255
    wire(line.heat(2, 3000, True))
    assert chip.heat()


@contextmanager
def noisy(chip, chance: Random) -> Iterator[str]:
    """A line to the chip that damages, loses, delays and echoes; gives its near end's path."""
    near, far_end = os.openpty()
    tty.setraw(far_end)
    chip_fd = os.open(chip.line, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(chip_fd)
    thread = threading.Thread(target=_carry, args=(near, chip_fd, chance), daemon=True)
    thread.start()
    yield os.ttyname(far_end)
    os.close(far_end)  # ends the thread's reading
    thread.join(timeout=5)
    os.close(near)
    os.close(chip_fd)


def _carry(near: int, chip_fd: int, chance: Random) -> None:
    late = b""
    with suppress(OSError):
        while question := os.read(near, 4096):
            if chance.random() < 0.1:
                os.write(near, question)  # the echo of a two-wire line
            os.write(chip_fd, question if chance.random() > 0.2 else garbled(question, ORDER, chance))
            answer = _line_from(chip_fd)
            fate = chance.random()
            if fate < 0.1:
                late, answer = answer, b""
            elif fate < 0.2 and answer:
                answer = garbled(answer, b"<21 E 1 0000\n", chance)
            elif fate < 0.35:
                answer = answer.replace(b" +01", b" +00")  # 100 C too cold, and well-formed
            os.write(near, late + answer if fate >= 0.1 else b"")
            if fate >= 0.1:
                late = b""


def _line_from(fd: int) -> bytes:
    """Return the chip's answer; nothing, when none comes for a while."""
    heard = b""
    while not heard.endswith(b"\n"):
        if not select.select([fd], [], [], 0.02)[0]:
            return heard
        heard += os.read(fd, 4096)
    return heard


def test_through_noise_every_value_is_right_or_bad_and_every_order_is_followed_or_told(chip) -> None:
    chance = Random(11)
    good = bad = kept = 0
    told: list[str] = []
    with noisy(chip, chance) as port:
        config = BoardConfig(name="board", port=port, timeout_s=0.06, budget_s=0.14)
        inputs, heat = open_board(config, {"air": Place(0)}, ("door",), lambda: 0.0, tick_s=0.0)
        for n in range(80):
            chip.temperature(0, 100.0 + n)
            chip.run(110)
            polled = inputs.poll()
            value_c = polled.readings["air"].value_c
            good, bad = good + (value_c is not None), bad + (value_c is None)
            assert value_c in (None, 100.0 + n)
            try:
                heat.energise(3.0) if n % 2 else heat.drop()
            except WireError as error:
                told.append(str(error))
            else:
                kept += 1
                assert chip.heat() is bool(n % 2)
        inputs.close()
    assert min(good, kept) > 20
    assert bad > 0
    assert told
    assert not any("\n" in text for text in told)


def test_a_board_that_only_sees_noise_lets_go_of_the_heat(chip, wire) -> None:
    chance = Random(3)
    wire(line.acknowledge(1))
    wire(line.heat(2, 30_000, True))
    began_s = chip.now_s
    while chip.heat() and chip.now_s < began_s + 15:
        wire(garbled(ORDER, line.heat(3, 30_000, True), chance))
    assert not chip.heat()
    assert chip.now_s - began_s < 10.1
    assert line.parse(wire(b"\n" + line.read(4))[:-1]).flags == Flag.SILENT
