"""Numbers become temperatures and contacts, or reasons; never a magic number."""

import struct

import pytest

from controller.config import ContactConfig, ReadBackConfig, ReaderConfig
from controller.wire.encoding import encode
from controller.wire.meaning import Measured, healthy, is_on, temperature


def reader(**given: object) -> ReaderConfig:
    return ReaderConfig(role="air", bus="io", function="input", address=0, **given)  # type: ignore[arg-type]


def measured(number: float, **given: object) -> Measured:
    config = reader(**given)
    return temperature(config)(encode(number, config.type, config.order))


def test_tenths_of_a_degree() -> None:
    assert measured(8153, scale=0.1) == Measured(pytest.approx(815.3), None)


def test_an_offset_is_in_the_readers_degrees() -> None:
    assert measured(1000, scale=0.1, offset=-2.5).value_c == pytest.approx(97.5)
    assert measured(210, degrees="F", offset=2).value_c == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("number", "degrees", "celsius"),
    [
        # Fixed points of the scales: NIST Special Publication 811 (2008), appendix B.8.
        (212, "F", 100.0),
        (32, "F", 0.0),
        (-40, "F", -40.0),
        (1500, "F", 815.5556),
        (373.15, "K", 100.0),
        (273.15, "K", 0.0),
    ],
)
def test_fahrenheit_and_kelvin(number: float, degrees: str, celsius: float) -> None:
    assert measured(number, type="float32", degrees=degrees).value_c == pytest.approx(celsius, abs=1e-3)


@pytest.mark.parametrize("order", ["big", "word-swapped", "byte-swapped", "little"])
@pytest.mark.parametrize(("type_", "number"), [("int32", 81525), ("uint32", 81525), ("float32", 81525.0)])
def test_two_registers_in_every_order(type_: str, order: str, number: float) -> None:
    assert measured(number, type=type_, order=order, scale=0.01).value_c == pytest.approx(815.25)


@pytest.mark.parametrize("type_", ["int16", "uint16", "int32", "uint32", "float32"])
@pytest.mark.parametrize("sent", [32767, 30001])
def test_every_fault_value_is_a_fault_and_its_neighbour_is_not(type_: str, sent: int) -> None:
    rules = {"type": type_, "scale": 0.01, "fault_values": (32767, 30001)}
    assert measured(sent, **rules) == Measured(None, f"open or out of its range (the reader sent {sent})")
    assert measured(sent - 1, **rules).value_c == pytest.approx((sent - 1) / 100)


def test_a_fault_value_may_be_written_without_its_sign_as_manuals_do() -> None:
    assert measured(-32768, fault_values=(0x8000,), scale=0.001).fault is not None
    assert measured(-32767, fault_values=(0x8000,), scale=0.001).fault is None


def test_a_float_fault_value_is_found_although_32_bits_round_it() -> None:
    assert measured(-999.9, type="float32", fault_values=(-999.9,), lowest_c=-2000).fault is not None


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_finite_is_a_fault(number: float) -> None:
    registers = struct.unpack(">HH", struct.pack(">f", number))
    assert temperature(reader(type="float32"))(registers) == Measured(None, "not a number")


def test_the_range_includes_its_ends_and_nothing_beyond() -> None:
    rules = {"lowest_c": -20.0, "highest_c": 1200.0}
    assert measured(-20, **rules).value_c == -20
    assert measured(1200, **rules).value_c == 1200
    assert measured(-21, **rules) == Measured(None, "out of range: -21.0 C, expected -20 C to 1200 C")
    assert measured(1201, **rules).value_c is None


def contact(**given: object) -> ContactConfig:
    return ContactConfig(role="door", bus="io", address=0, **given)  # type: ignore[arg-type]


def test_a_contact_is_on_when_it_reads_its_healthy_value() -> None:
    assert healthy(contact(function="discrete"))([True])
    assert not healthy(contact(function="discrete"))([False])
    assert healthy(contact(function="discrete", healthy=False))([False])
    assert not healthy(contact(function="discrete", healthy=False))([True])


def test_a_contact_may_be_one_bit_of_a_register_or_the_whole_of_it() -> None:
    third = healthy(contact(function="input", bit=3))
    assert third([0b1000])
    assert not third([0b0111])
    assert healthy(contact(function="input", bit=15, healthy=False))([0x7FFF])
    whole = healthy(contact(function="holding"))
    assert whole([0x0100])
    assert not whole([0])


def test_what_is_read_back_is_on_only_when_it_equals_on() -> None:
    coil = is_on(ReadBackConfig(function="coil", address=0))
    assert coil([True])
    assert not coil([False])
    opening = is_on(ReadBackConfig(function="discrete", address=0, on=0))
    assert opening([False])
    assert not opening([True])
    word = is_on(ReadBackConfig(function="holding", address=0, on=0xFF00))
    assert word([0xFF00])
    assert not word([1])
    bit = is_on(ReadBackConfig(function="input", address=0, bit=2))
    assert bit([0b0100])
    assert not bit([0b1011])
