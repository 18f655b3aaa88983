"""Registers to numbers and back, against `struct` on the bytes in every order."""

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.config import model
from controller.wire.encoding import ORDERS, TYPES, as_sent, decoder, encode, register_count

# The bytes of a number, most significant first, as each order puts them into registers.
BYTES = {"big": "ABCD", "word-swapped": "CDAB", "byte-swapped": "BADC", "little": "DCBA"}
SAMPLES = {
    "int16": [0, 1, -1, 1234, -32768, 32767],
    "uint16": [0, 1, 1234, 0x8001, 65535],
    "int32": [0, 1, -1, 305419896, -(2**31), 2**31 - 1],
    "uint32": [0, 1, 305419896, 2**32 - 1],
    "float32": [0.0, 1.0, -1.5, 815.25, 1372.125, -273.125, 3.0e38],
}
CASES = [(t, o, n) for t, numbers in SAMPLES.items() for o in BYTES for n in numbers]


def registers_of(number: float, type_: str, order: str) -> list[int]:
    """Return the registers of a number by shuffling its bytes, letter by letter."""
    raw = struct.pack(
        {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}[type_], number
    )
    letters = BYTES[order] if len(raw) == 4 else {"A": "AB", "B": "BA", "C": "AB", "D": "BA"}[BYTES[order][0]]
    shuffled = bytes(raw["ABCD".index(letter)] for letter in letters)
    return [int.from_bytes(shuffled[i : i + 2], "big") for i in range(0, len(shuffled), 2)]


def test_the_four_orders_of_one_well_known_number() -> None:
    assert decoder("uint32", "big")([0x1234, 0x5678]) == 0x12345678
    assert decoder("uint32", "word-swapped")([0x5678, 0x1234]) == 0x12345678
    assert decoder("uint32", "byte-swapped")([0x3412, 0x7856]) == 0x12345678
    assert decoder("uint32", "little")([0x7856, 0x3412]) == 0x12345678


@pytest.mark.parametrize(("type_", "order", "number"), CASES)
def test_every_type_in_every_order_comes_out_as_it_went_in(type_: str, order: str, number: float) -> None:
    registers = registers_of(number, type_, order)
    assert len(registers) == register_count(type_)
    assert decoder(type_, order)(registers) == pytest.approx(number, rel=1e-7)
    assert encode(number, type_, order) == registers


@pytest.mark.parametrize("order", BYTES)
@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_finite_is_no_number(number: float, order: str) -> None:
    assert decoder("float32", order)(registers_of(number, "float32", order)) is None


@given(st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=2), st.sampled_from(sorted(ORDERS)))
def test_any_two_registers_decode_to_a_finite_float_or_to_none(registers: list[int], order: str) -> None:
    number = decoder("float32", order)(registers)
    assert number is None or encode(number, "float32", order) == registers


@pytest.mark.parametrize(
    ("number", "type_"),
    [
        (65536, "uint16"),
        (-1, "uint16"),
        (32768, "int16"),
        (1.5, "uint16"),
        (2**32, "uint32"),
        (1e39, "float32"),
        (float("nan"), "int16"),
        (float("inf"), "uint32"),
    ],
)
def test_a_number_that_does_not_fit_is_refused_not_cut(number: float, type_: str) -> None:
    with pytest.raises(ValueError, match=type_):
        encode(number, type_, "big")


def test_a_fault_value_compares_as_it_is_sent() -> None:
    assert as_sent(0x8000, "int16") == -32768
    assert as_sent(-32768, "int16") == -32768
    assert as_sent(0xFFFFFFFF, "int32") == -1
    assert as_sent(-999.9, "float32") == struct.unpack(">f", struct.pack(">f", -999.9))[0] != -999.9
    assert as_sent(70000, "int16") is None


def test_the_configuration_offers_exactly_the_types_and_orders_there_are() -> None:
    assert set(model.NumberType.__args__) == set(TYPES)
    assert set(model.Order.__args__) == set(ORDERS)
