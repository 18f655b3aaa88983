"""Numbers as an instrument sends them: 16-bit registers to a number, and back. Pure.

An instrument holds a 32-bit number in two registers and does not say in which order. With the number's
bytes called A (most significant) to D, the four orders in use are

    order          registers   first, second
    big            ABCD        AB, CD
    word-swapped   CDAB        CD, AB
    byte-swapped   BADC        BA, DC
    little         DCBA        DC, BA

A 16-bit number is a single register, AB or BA: swapping words leaves it as it is. Rules: a float that
is not finite is no number, and comes out as None; a number that does not fit its type is never cut to
size, but refused with ValueError.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Sequence

Number = int | float
Decode = Callable[[Sequence[int]], Number | None]

# type -> how `struct` calls it
TYPES = {"int16": "h", "uint16": "H", "int32": "i", "uint32": "I", "float32": "f"}

# order -> (how `struct` writes the bytes of each register, whether the second register comes first)
ORDERS = {
    "big": (">", False),
    "word-swapped": (">", True),
    "byte-swapped": ("<", False),
    "little": ("<", True),
}


def register_count(type_: str) -> int:
    """Return how many registers a number of this type fills: 1 or 2."""
    return struct.calcsize(">" + TYPES[type_]) // 2


def decoder(type_: str, order: str) -> Decode:
    """Return a function from a number's registers to the number; None when it is not finite."""
    mark, swapped = ORDERS[order]
    step = -1 if swapped else 1
    pack = struct.Struct(f"{mark}{register_count(type_)}H").pack
    unpack = struct.Struct(">" + TYPES[type_]).unpack

    def decode(registers: Sequence[int]) -> Number | None:
        number: Number = unpack(pack(*registers[::step]))[0]
        return number if math.isfinite(number) else None

    return decode


def encode(number: Number, type_: str, order: str) -> list[int]:
    """Return the registers that hold `number`. ValueError when the type cannot hold it."""
    mark, swapped = ORDERS[order]
    value = number if type_ == "float32" else _whole(number, type_)
    try:
        raw = struct.pack(">" + TYPES[type_], value)
    except (struct.error, OverflowError):
        raise ValueError(f"{number} does not fit {type_}") from None
    registers = list(struct.unpack(f"{mark}{len(raw) // 2}H", raw))
    return registers[::-1] if swapped else registers


def as_sent(number: Number, type_: str) -> Number | None:
    """Return `number` as it looks after the wire, to compare with what an instrument sends.

    A float is rounded to 32 bits. A pattern of bits that a manual writes without its sign (8000 hex for
    the lowest int16) becomes the signed number. None when the type cannot hold it.
    """
    bits = 16 * register_count(type_)
    if type_.startswith("int") and 1 << (bits - 1) <= number < 1 << bits:
        number -= 1 << bits
    try:
        return decoder(type_, "big")(encode(number, type_, "big"))
    except ValueError:
        return None


def _whole(number: Number, type_: str) -> int:
    if not math.isfinite(number) or number != int(number):
        raise ValueError(f"{number} is not a whole number, which {type_} needs")
    return int(number)
