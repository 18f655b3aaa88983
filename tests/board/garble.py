"""What a bad line does to frames. Every way is drawn from a given random source, so each run is the same."""

from __future__ import annotations

from random import Random


def garbled(frame: bytes, other: bytes, chance: Random) -> bytes:
    """Return a frame as it may arrive, damaged: never with the whole frame in it.

    `other` is another frame, which this one may run into.
    """
    while True:
        damaged = chance.choice(WAYS)(frame, other, chance)
        if len(damaged) > 8 and chance.random() < 0.3:
            damaged = chance.choice(WAYS)(damaged, other, chance)
        if frame[:-1] not in damaged and other[:-1] not in damaged:
            return damaged


def _flip_bits(frame: bytes, _other: bytes, chance: Random) -> bytes:
    text = bytearray(frame)
    for _ in range(chance.randint(1, 12)):
        text[chance.randrange(len(text))] ^= 1 << chance.randrange(8)
    return bytes(text)


def _swap_digits(frame: bytes, _other: bytes, chance: Random) -> bytes:
    """The worst a form can meet: characters turn into others that may stand there."""
    text = bytearray(frame)
    for _ in range(chance.randint(1, 3)):
        text[chance.randrange(len(text))] = chance.choice(b"0123456789ABCDEF+- ")
    return bytes(text)


def _drop(frame: bytes, _other: bytes, chance: Random) -> bytes:
    text = bytearray(frame)
    for _ in range(chance.randint(1, 4)):
        del text[chance.randrange(len(text))]
    return bytes(text)


def _double(frame: bytes, _other: bytes, chance: Random) -> bytes:
    place = chance.randrange(1, len(frame))
    return frame[:place] + frame[place - 1 : place] * chance.randint(1, 3) + frame[place:]


def _insert(frame: bytes, _other: bytes, chance: Random) -> bytes:
    place = chance.randrange(1, len(frame))
    return frame[:place] + chance.randbytes(chance.randint(1, 5)) + frame[place:]


def _cut(frame: bytes, _other: bytes, chance: Random) -> bytes:
    return frame[: chance.randrange(1, len(frame) - 1)]


def _behead(frame: bytes, _other: bytes, chance: Random) -> bytes:
    return frame[chance.randrange(1, len(frame)) :]


def _splice(frame: bytes, other: bytes, chance: Random) -> bytes:
    return frame[: chance.randrange(1, len(frame))] + other[chance.randrange(1, len(other)) :]


def _swap_places(frame: bytes, _other: bytes, chance: Random) -> bytes:
    place = chance.randrange(1, len(frame) - 2)
    return frame[:place] + frame[place + 1 : place + 2] + frame[place : place + 1] + frame[place + 2 :]


def _lengthen(frame: bytes, _other: bytes, chance: Random) -> bytes:
    place = chance.randrange(1, len(frame))
    return frame[:place] + frame[1:-1] * chance.randint(1, 6) + frame[place:]


def _noise(frame: bytes, _other: bytes, chance: Random) -> bytes:
    return chance.randbytes(chance.randint(1, 2 * len(frame)))


WAYS = (
    _flip_bits,
    _swap_digits,
    _drop,
    _double,
    _insert,
    _cut,
    _behead,
    _splice,
    _swap_places,
    _lengthen,
    _noise,
)
