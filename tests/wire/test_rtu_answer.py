"""What is heard after a question becomes its answer, or nothing; no port, no clock."""

import random

import pytest

from controller.wire.client import NoAnswerError
from controller.wire.modbus import READS
from controller.wire.rtu_answer import FRAMER, Hearing
from tests.wire import garble

FRAMES = 100_000


@pytest.mark.parametrize(
    ("frame", "checksum"),
    [
        # Computed with another package; the first is the specification's own example (from memory).
        ("02 07", "41 12"),
        ("01 03 00 00 00 01", "84 0A"),
        ("01 03 00 00 00 0A", "C5 CD"),
        ("11 03 00 6B 00 03", "76 87"),
        (b"123456789".hex(" "), "37 4B"),
    ],
)
def test_the_checksum_is_that_of_the_protocol(frame, checksum) -> None:
    data = bytes.fromhex(frame)
    assert FRAMER.encode(data[1:], data[0], 0) == data + bytes.fromhex(checksum)


def hear(*pieces: bytes, echo: bool = False, count: int = 2) -> list[int]:
    """Return what is taken for the answer to a read of unit 7."""
    request = READS["input"](dev_id=7, address=3, count=count)
    hearing = Hearing(request, FRAMER.buildFrame(request), echo)
    for piece in pieces:
        hearing.feed(piece)
    return list(hearing.answer().registers)


GOOD = garble.framed(bytes([7, 4, 4, 3, 47, 255, 255]))
QUESTION = garble.framed(bytes([7, 4, 0, 3, 0, 2]))


def test_an_answer_is_taken_whole_or_byte_by_byte() -> None:
    assert hear(GOOD) == [815, 65535]
    assert hear(*(GOOD[i : i + 1] for i in range(len(GOOD)))) == [815, 65535]


def test_a_line_that_hears_itself_brings_the_question_first() -> None:
    assert hear(QUESTION + GOOD, echo=True) == [815, 65535]
    assert hear(QUESTION[:3], QUESTION[3:] + GOOD[:1], GOOD[1:], echo=True) == [815, 65535]


@pytest.mark.parametrize(
    ("pieces", "echo", "why"),
    [
        ([], False, "no answer"),
        ([GOOD[:5]], False, "broke off after 5 bytes"),
        ([GOOD[:-1] + b"\0"], False, "its checksum is wrong"),
        ([GOOD + b"\0"], False, "more than an answer"),
        ([GOOD, GOOD], False, "more than an answer"),
        ([garble.framed(b"\x08" + GOOD[1:-2])], False, r"another unit \(8\) answered"),
        ([garble.framed(b"\x07\x03" + GOOD[2:-2])], False, "no answer to this"),
        ([garble.framed(bytes([7, 4, 2, 3, 47]))], False, "no answer to this"),
        ([QUESTION + GOOD], False, "the line hears itself"),
        ([GOOD], True, "did not come back"),
        ([QUESTION[:4] + b"\xff" + QUESTION[5:] + GOOD], True, "did not come back"),
        ([QUESTION[:4]], True, "did not come back"),
    ],
)
def test_anything_else_is_none_and_says_why(pieces, echo, why) -> None:
    with pytest.raises(NoAnswerError, match=why):
        hear(*pieces, echo=echo)


def test_a_refusal_is_an_answer() -> None:
    request = READS["input"](dev_id=7, address=3, count=2)
    hearing = Hearing(request, QUESTION, echo=False)
    hearing.feed(garble.framed(bytes([7, 0x84, 2])))
    assert (hearing.complete, hearing.answer().exception_code) == (True, 2)


def test_after_another_units_frame_and_silence_the_answer_is_heard() -> None:
    request = READS["input"](dev_id=7, address=3, count=2)
    foreign = garble.framed(b"\x08" + GOOD[1:-2])
    for after_silence in (True, False):
        hearing = Hearing(request, QUESTION, echo=False)
        hearing.feed(foreign)
        hearing.feed(GOOD, after_silence)
        assert hearing.complete is after_silence


@pytest.mark.parametrize("way", garble.WAYS, ids=lambda way: way.__name__)
def test_every_way_of_spoiling_a_frame_spoils_it(way) -> None:
    chance = random.Random(way.__name__)
    good = 0
    for _ in range(200):
        c = garble.case(chance)
        assert garble.heard(c, [(c.answer, False)]) == c.values
        pieces = way(c, chance)
        taken = garble.heard(c, pieces)
        assert taken in (None, c.values)
        good += taken is not None
    assert good == 0 or way is garble.foreign


def test_of_a_hundred_thousand_garbled_frames_none_gives_a_wrong_value() -> None:
    found = garble.run(FRAMES, seed=1)
    assert set(found) == {"none", "right"}
    assert found["right"] < 0.1 * FRAMES  # those that came whole after another unit's frame
