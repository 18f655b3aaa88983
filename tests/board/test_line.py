"""The line protocol without a line: frames, their checksum, and what damage does to them."""

import re
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.wire import board_line as line
from controller.wire.board_line import (
    Cause,
    Contacts,
    Flag,
    Identity,
    LineError,
    Lines,
    Refusal,
    Sensor,
    Status,
)
from tests.board.build import FIRMWARE
from tests.board.garble import garbled

PAGE = (FIRMWARE / "protocol.md").read_text()
WORDS = {fault: word.decode() for word, fault in line.FAULTS.items()}


def framed(text: str) -> bytes:
    """Return an answer as the board would send it; written here a second time, from protocol.md."""
    return f"{text}{line.checksum(text.encode()):04X}\n".encode()


def hundredths(c: float, digits: int) -> str:
    """Return a temperature as the board writes it."""
    return f"{'-' if c < 0 else '+'}{abs(round(c * 100)):0{digits}d}"


def written(status: Status) -> bytes:
    """Return a status as the board would send it."""
    pins = status.heat_pin + 2 * status.main_pin
    sensors = [
        f"{WORDS[s.fault] if s.fault else hundredths(s.hot_c, 6)} {hundredths(s.cold_c or 0.0, 5)} "
        for s in status.sensors
    ]
    head = f"<{status.sequence:02X} S {status.flags:02X} {status.contacts:02X} {pins} {status.cause:X} "
    return framed(f"{head}{status.lease_ms:05d} {''.join(sensors)}")


sensors = st.one_of(
    st.builds(
        Sensor,
        st.integers(-8192, 8191).map(lambda quarters: quarters / 4),
        st.none(),
        st.integers(-12800, 12793).map(lambda n: n / 100),
    ),
    st.builds(
        Sensor,
        st.none(),
        st.sampled_from([fault for word, fault in line.FAULTS.items() if word != b"ABSENT."]),
        st.integers(-12800, 12793).map(lambda n: n / 100),
    ),
    st.just(Sensor(None, line.FAULTS[b"ABSENT."], None)),
)
statuses = st.builds(
    Status,
    st.integers(0, 255),
    st.integers(0, 255).map(Flag),
    st.integers(0, 63).map(Contacts),
    st.booleans(),
    st.booleans(),
    st.integers(0, 15).map(Cause),
    st.integers(0, 30_000),
    st.lists(sensors, min_size=1, max_size=3).map(tuple),
)


def test_the_checksum_is_the_one_that_the_page_names() -> None:
    # The check value of CRC-16/IBM-3740 in the public catalogues of CRC algorithms, from memory.
    assert line.checksum(b"123456789") == 0x29B1
    assert "0x29B1" in PAGE


def test_the_examples_on_the_page_are_what_the_driver_says_and_understands() -> None:
    asked = dict(re.findall(r"^    (>(..) .*)$", PAGE, re.MULTILINE))
    assert line.identify(0x1D).decode().rstrip() in asked
    assert line.acknowledge(0x1C).decode().rstrip() in asked
    assert line.heat(0x1A, 3000, True).decode().rstrip() in asked
    assert line.read(0x1B).decode().rstrip() in asked
    said = [
        line.parse(text.encode()) for text in re.findall(r"^    (<[0-9A-F]{2} . .*[0-9A-F]{4})$", PAGE, re.M)
    ]
    assert said == [
        Identity(0x1D, 1, 2, 950.0, 30_000, 10_000, 0),
        Status(
            0x1C, Flag(0), Contacts(0x3F), False, False, Cause.POWER_ON, 0,
            (Sensor(20.0, None, 25.0), Sensor(-5.25, None, -10.12)),
        ),
        Status(
            0x1A, Flag(0), Contacts(0x3F), True, True, Cause.POWER_ON, 3000,
            (Sensor(815.25, None, 25.06), Sensor(799.5, None, 25.12)),
        ),
        Status(
            0x1B, Flag.DOOR | Flag.SENSOR, Contacts(0x3E), False, True, Cause.POWER_ON, 0,
            (Sensor(None, "open", 25.06), Sensor(799.5, None, 25.12)),
        ),
        Refusal(0x1E, 1),
    ]  # fmt: skip


@given(statuses)
def test_every_status_comes_through(status) -> None:
    assert line.parse(written(status)[:-1]) == status


@given(st.integers(0, 255), st.integers(0, 99_999), st.booleans())
def test_every_order_has_the_form_that_the_page_gives(sequence, lease_ms, main) -> None:
    text = line.heat(sequence, lease_ms, main)
    assert re.fullmatch(rb">[0-9A-F]{2} H [0-9]{5} [01] [0-9A-F]{4}\n", text)
    assert int(text[-5:-1], 16) == line.checksum(text[:-5])
    assert (int(text[1:3], 16), int(text[6:11]), text[12:13] == b"1") == (sequence, lease_ms, main)


@pytest.mark.parametrize("lease_ms", [-1, 100_000])
def test_a_lease_that_the_field_cannot_carry_is_no_order(lease_ms) -> None:
    with pytest.raises(ValueError, match="expected 0 to 99999"):
        line.heat(1, lease_ms, False)


@given(statuses, st.data())
def test_up_to_three_flipped_bits_never_pass(status, data) -> None:
    text = bytearray(written(status)[:-1])
    bits = data.draw(st.sets(st.integers(0, 8 * len(text) - 1), min_size=1, max_size=3))
    for bit in bits:
        text[bit // 8] ^= 1 << bit % 8
    with pytest.raises(LineError):
        line.parse(bytes(text))


@given(statuses, st.data())
def test_a_burst_of_sixteen_bits_never_passes(status, data) -> None:
    text = int.from_bytes(written(status)[:-1], "big")
    size = len(written(status)) - 1
    burst = data.draw(st.integers(1, 0xFFFF)) << data.draw(st.integers(0, 8 * size - 17))
    with pytest.raises(LineError):
        line.parse((text ^ burst).to_bytes(size, "big"))


@given(st.binary(max_size=120))
def test_noise_is_no_answer(noise) -> None:
    with pytest.raises(LineError):
        line.parse(noise)


@given(statuses, st.binary(max_size=200), st.integers(1, 40))
def test_an_answer_is_found_behind_any_noise_in_pieces_of_any_size(status, noise, size) -> None:
    lines, heard = Lines(), noise + written(status)
    found = [text for i in range(0, len(heard), size) for text in lines.feed(heard[i : i + size])]
    assert line.parse(found[-1]) == status


def test_a_line_that_is_too_long_is_dropped_and_the_next_one_is_heard() -> None:
    lines = Lines()
    assert lines.feed(b"<" + b"0" * 500 + b"\n" + framed("<07 E 1 ")) == [
        b"<07 E 1 " + framed("<07 E 1 ")[8:-1]
    ]


def test_of_a_hundred_thousand_garbled_answers_no_wrong_value_is_accepted() -> None:
    chance, wrong, heard = Random(4), 0, 0
    for n in range(100_000):
        truth = drawn(chance, n & 0xFF)
        frame, other = written(truth), written(drawn(chance, (n + 1) & 0xFF))
        for text in Lines().feed(garbled(frame, other, chance)):
            heard += 1
            try:
                answer = line.parse(text)
            except LineError:
                continue
            wrong += answer.sequence == truth.sequence and answer != truth
    assert heard > 30_000  # so many were lines at all
    assert wrong == 0


def drawn(chance: Random, sequence: int) -> Status:
    """Return any status."""
    hot = tuple(Sensor(chance.randrange(5200) / 4, None, 25.0) for _ in range(chance.randint(1, 3)))
    flags, contacts = Flag(chance.randrange(256)), Contacts(chance.randrange(64))
    heat, main = chance.random() < 0.5, chance.random() < 0.5
    return Status(sequence, flags, contacts, heat, main, Cause.POWER_ON, chance.randrange(30_000), hot)
