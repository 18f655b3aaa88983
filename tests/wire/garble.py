"""Frames of Modbus RTU as noise leaves them, and what our receiver makes of them. No port and no clock here.

Most ways of spoiling a frame are those that its checksum must find (up to three bits, one burst of up to
sixteen); some leave only its first bytes, and of those one in 65,536 is beyond any receiver.
"""

from __future__ import annotations

import random
from collections import Counter
from typing import NamedTuple

from pymodbus.pdu import ModbusPDU
from umodbus.client.serial.redundancy_check import get_crc

from controller.wire.client import NoAnswerError
from controller.wire.modbus import READS, answers
from controller.wire.rtu_answer import FRAMER, Hearing

Pieces = list[tuple[bytes, bool]]  # what comes, and whether the line was silent before


class Case(NamedTuple):
    """A question, the frame that answers it, and the values in it."""

    request: ModbusPDU
    question: bytes
    answer: bytes
    values: list[int]


def case(chance: random.Random) -> Case:
    """Return a question of ours and its right answer, whose checksum is another hand's."""
    unit, count = chance.randint(1, 247), chance.randint(1, 10)
    function = chance.choice(("input", "holding", "coil", "discrete"))
    request = READS[function](dev_id=unit, address=chance.randrange(2000), count=count)
    if function in ("input", "holding"):
        values = [chance.randrange(65536) for _ in range(count)]
        data = b"".join(value.to_bytes(2, "big") for value in values)
    else:
        values = [chance.randrange(2) for _ in range(count)]
        packed = sum(bit << place for place, bit in enumerate(values))
        data = packed.to_bytes((count + 7) // 8, "little")
    body = bytes([unit, request.function_code, len(data)]) + data
    return Case(request, FRAMER.buildFrame(request), body + get_crc(body), values)


def framed(body: bytes) -> bytes:
    """Return a frame with its checksum."""
    return body + get_crc(body)


def bits(c: Case, chance: random.Random) -> Pieces:
    """Flip one to three bits."""
    frame = int.from_bytes(c.answer, "big")
    for place in chance.sample(range(8 * len(c.answer)), chance.randint(1, 3)):
        frame ^= 1 << place
    return [(frame.to_bytes(len(c.answer), "big"), False)]


def burst(c: Case, chance: random.Random) -> Pieces:
    """Spoil up to sixteen bits in a row."""
    frame = int.from_bytes(c.answer, "big")
    frame ^= chance.randrange(1, 1 << 16) << chance.randrange(8 * len(c.answer) - 15)
    return [(frame.to_bytes(len(c.answer), "big"), False)]


def dropped(c: Case, chance: random.Random) -> Pieces:
    """Lose some bytes, at the end or before."""
    left = sorted(chance.sample(range(len(c.answer)), chance.randrange(len(c.answer))))
    return [(bytes(c.answer[place] for place in left), False)]


def doubled(c: Case, chance: random.Random) -> Pieces:
    """Hear one byte twice."""
    place = chance.randrange(len(c.answer))
    return [(c.answer[:place] + c.answer[place : place + 1] + c.answer[place:], False)]


def noisy_ends(c: Case, chance: random.Random) -> Pieces:
    """Bytes of noise before or after a frame that is good."""
    noise = chance.randbytes(chance.randint(1, 4))
    return [(noise + c.answer if chance.random() < 0.5 else c.answer + noise, False)]


def foreign(c: Case, chance: random.Random) -> Pieces:
    """A good frame from another unit, of the same shape; at times the right answer after it."""
    other = chance.choice([unit for unit in range(1, 248) if unit != c.request.dev_id])
    frame = framed(bytes([other]) + c.answer[1:3] + chance.randbytes(len(c.answer) - 5))
    if chance.random() < 0.3:
        return [(frame, False), (c.answer, True)]
    return [(frame, False), (chance.choice((c.answer, b"")), False)]


def other_question(c: Case, chance: random.Random) -> Pieces:
    """A good frame from this unit that answers another question."""
    function = chance.choice([f for f in (1, 2, 3, 4, 5, 6, 16) if f != c.request.function_code])
    return [(framed(bytes([c.request.dev_id, function]) + c.answer[2:-2]), False)]


def other_count(c: Case, chance: random.Random) -> Pieces:
    """A good answer to a longer or shorter question of the same kind."""
    size = chance.choice([n for n in range(2, 26) if n != c.answer[2]])
    return [(framed(c.answer[:2] + bytes([size]) + chance.randbytes(size)), False)]


def echo(c: Case, chance: random.Random) -> Pieces:
    """Our own question in place of the answer, or before it."""
    return [(c.question + (c.answer if chance.random() < 0.5 else b""), False)]


def late(c: Case, chance: random.Random) -> Pieces:
    """The tail of an earlier frame of the same shape, then the beginning of this one's."""
    earlier = framed(c.answer[:3] + chance.randbytes(len(c.answer) - 5))
    cut = chance.randrange(1, len(earlier))
    return [(earlier[cut:], False), (c.answer[: chance.randrange(len(c.answer))], False)]


def junk(c: Case, chance: random.Random) -> Pieces:
    """Nothing of the frame but, at times, its first bytes."""
    head = c.answer[: chance.randint(0, 3)]
    return [(head + chance.randbytes(chance.randrange(40)), False)]


WAYS = (bits, burst, dropped, doubled, noisy_ends, foreign, other_question, other_count, echo, late, junk)


def heard(c: Case, pieces: Pieces) -> list[int] | None:
    """Return the values that our receiver takes from what came, None when it takes nothing."""
    hearing = Hearing(c.request, c.question, echo=False)
    try:
        for data, after_silence in pieces:
            hearing.feed(data, after_silence)
        reply = hearing.answer()
    except NoAnswerError:
        return None
    if not answers(reply, c.request):
        return None
    return list(reply.registers) or [int(bit) for bit in reply.bits[: c.request.count]]


def run(count: int, seed: int) -> Counter[str]:
    """Return how many frames of each way were taken with a wrong value (`wrong`), or with the right one."""
    chance = random.Random(seed)
    found: Counter[str] = Counter()
    for number in range(count):
        c, way = case(chance), WAYS[number % len(WAYS)]
        values = heard(c, way(c, chance))
        found["none" if values is None else "right" if values == c.values else f"wrong {way.__name__}"] += 1
    return found
