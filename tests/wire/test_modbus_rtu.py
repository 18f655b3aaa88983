"""Modbus RTU on a pseudo-terminal, with umodbus on the far side: what is right comes through, noise never."""

import os
import time
import tty

import pytest

from controller.config import RtuBusConfig
from controller.errors import WireError
from controller.wire.bus import RefusedError
from controller.wire.modbus_rtu import modbus_rtu
from tests.wire.garble import framed
from tests.wire.rtu import FarSide

pytestmark = pytest.mark.wire

TIMEOUT_S = 0.1  # where something is silent
AT_ONCE_S = 0.3  # what a busy machine may add


def cells() -> dict[int, dict[tuple[int, int], int]]:
    """Return two instruments with a few registers and bits."""
    reader = {(4, address): 8000 + address for address in range(8)}
    relays = {(1, address): 0 for address in range(4)} | {(2, 0): 1, (2, 1): 0, (2, 2): 1}
    return {1: reader, 2: relays | {(3, 10): 0, (3, 11): 0}}


@pytest.fixture
def far():
    """Return a function that sets up a far side."""
    made = []

    def make(**given) -> FarSide:
        made.append(FarSide(cells(), **given))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def bus_on(clock):
    """Return a function that opens the bus on a port."""
    made = []

    def make(port: str, timeout_s: float = 1.0, retries: int = 0, **given):
        config = RtuBusConfig(
            name="line", kind="modbus-rtu", port=port, timeout_s=timeout_s, retries=retries, **given
        )
        made.append(modbus_rtu(config, clock, quiet_s=0.5))
        return made[-1]

    yield make
    for one in made:
        one.close()


def test_registers_and_bits_are_read_from_another_hands_stack(far, bus_on) -> None:
    line = far()
    bus = bus_on(line.port)
    assert bus.read(1, "input", 0, 8) == [8000 + n for n in range(8)]
    assert bus.read(2, "discrete", 0, 3) == [True, False, True]
    assert line.heard[0] == framed(bytes([1, 4, 0, 0, 0, 8]))


def test_coils_and_registers_are_written(far, bus_on) -> None:
    line = far()
    bus = bus_on(line.port)
    bus.write_coil(2, 1, True)
    bus.write_registers(2, 10, [3000])
    assert (line.units[2][1, 1], line.units[2][3, 10]) == (1, 3000)
    bus.write_registers(2, 10, [1, 2])
    bus.write_coil(2, 1, False)
    assert [line.units[2][key] for key in ((1, 1), (3, 10), (3, 11))] == [0, 1, 2]


def test_a_refusal_is_told_in_words(far, bus_on) -> None:
    with pytest.raises(RefusedError, match="no such address"):
        bus_on(far().port).read(1, "input", 100, 1)


@pytest.mark.parametrize("parity", ["none", "even", "odd"])
@pytest.mark.parametrize("baud", [9600, 115200])
def test_every_setting_of_the_port_can_be_opened(far, bus_on, baud, parity) -> None:
    bus = bus_on(far().port, baud=baud, parity=parity, stop_bits=2)
    assert bus.read(1, "input", 0, 1) == [8000]


def test_silence_costs_one_timeout_and_names_everything(far, bus_on) -> None:
    line = far()
    start_s = time.monotonic()
    with pytest.raises(WireError) as caught:
        bus_on(line.port, TIMEOUT_S).read(9, "input", 0, 1)
    took_s = time.monotonic() - start_s
    assert TIMEOUT_S < took_s < TIMEOUT_S + AT_ONCE_S
    assert str(caught.value) == (
        f"bus line ({line.port}), unit 9: asked for 1 input registers from 0, no answer within 100 ms"
    )


def test_a_silent_instrument_does_not_silence_the_others(far, bus_on) -> None:
    line = far()
    bus = bus_on(line.port, TIMEOUT_S)
    for _ in range(2):
        with pytest.raises(WireError):
            bus.read(9, "input", 0, 1)
        assert bus.read(1, "input", 0, 1) == [8000]
    assert [question[0] for question in line.heard] == [9, 1, 1]


@pytest.mark.parametrize(
    "noise",
    [
        lambda question, answer: answer[:-1],
        lambda question, answer: answer[1:],
        lambda question, answer: answer[:2] + answer[2:3] + answer[2:],
        lambda question, answer: answer + answer,
        lambda question, answer: answer + b"\0",
        lambda question, answer: b"\0" + answer,
        lambda question, answer: answer[:3] + bytes([answer[3] ^ 4]) + answer[4:],
        lambda question, answer: framed(bytes([3]) + answer[1:-2]),
        lambda question, answer: question,
        lambda question, answer: question + answer,
        lambda question, answer: b"",
    ],
    ids=[
        *("cut short", "head lost", "byte doubled", "said twice", "noise after", "noise before"),
        *("bit flipped", "another unit", "our own question", "not said to echo", "silence"),
    ],
)
def test_noise_gives_no_value_and_the_next_question_is_answered(far, bus_on, clock, noise) -> None:
    line = far()
    line.noise = noise
    bus = bus_on(line.port, TIMEOUT_S)
    with pytest.raises(WireError) as caught:
        bus.read(1, "input", 0, 2)
    assert "\n" not in str(caught.value)
    line.noise = lambda question, answer: answer
    clock.tick()
    assert bus.read(1, "input", 0, 2) == [8000, 8001]


def test_an_answer_that_silence_does_not_end_is_none(far, bus_on) -> None:
    line = far()
    line.noise = lambda question, answer: [answer, 0.005, b"\0"]
    bus = bus_on(line.port, baud=1200)  # at which 3.5 characters are 32 ms
    with pytest.raises(WireError, match="more than an answer"):
        bus.read(1, "input", 0, 2)


def test_an_answer_in_pieces_is_taken(far, bus_on) -> None:
    line = far()
    line.noise = lambda question, answer: [answer[:4], 0.01, answer[4:6], 0.01, answer[6:]]
    assert bus_on(line.port).read(1, "input", 0, 2) == [8000, 8001]


def test_a_foreign_unit_that_answers_first_is_let_go_by(far, bus_on) -> None:
    line = far()
    line.noise = lambda question, answer: [framed(bytes([3, 4, 2, 0, 0])), 0.02, answer]
    assert bus_on(line.port).read(1, "input", 0, 1) == [8000]


def test_a_late_answer_is_never_taken_for_the_next_one(far, bus_on, clock) -> None:
    line = far()
    line.noise = lambda question, answer: [0.15, framed(bytes([1, 4, 2, 0, 1]))]
    bus = bus_on(line.port, TIMEOUT_S)
    with pytest.raises(WireError, match="no answer within"):
        bus.read(1, "input", 0, 1)
    line.noise = lambda question, answer: answer
    time.sleep(0.08)  # the late answer comes while nobody asks
    clock.tick()
    assert bus.read(1, "input", 0, 1) == [8000]


def test_a_line_of_two_wires_hears_itself(far, bus_on) -> None:
    line = far(echo=True)
    bus = bus_on(line.port, TIMEOUT_S, echo=True)
    assert bus.read(1, "input", 0, 2) == [8000, 8001]
    bus.write_coil(2, 1, True)
    assert line.units[2][1, 1] == 1


def test_the_echo_of_a_write_is_not_its_answer(far, bus_on) -> None:
    line = far(echo=True)
    line.noise = lambda question, answer: b""
    with pytest.raises(WireError, match="no answer within"):
        bus_on(line.port, TIMEOUT_S, echo=True).write_coil(2, 1, True)


def test_a_wrong_setting_of_echo_is_named(far, bus_on) -> None:
    with pytest.raises(WireError, match="hears itself"):
        bus_on(far(echo=True).port, TIMEOUT_S).read(1, "input", 0, 2)
    with pytest.raises(WireError, match="did not come back"):
        bus_on(far().port, TIMEOUT_S, echo=True).read(1, "input", 0, 2)


@pytest.mark.parametrize("retries", [0, 1, 2])
def test_a_question_is_asked_as_often_as_configured(far, bus_on, retries) -> None:
    line = far()
    with pytest.raises(WireError):
        bus_on(line.port, 0.05, retries).read(9, "input", 0, 1)
    assert len(line.heard) == 1 + retries


def test_a_retry_mends_what_noise_has_spoilt(far, bus_on) -> None:
    line = far()
    spoilt = iter([True])
    line.noise = lambda question, answer: answer[:-1] if next(spoilt, False) else answer
    assert bus_on(line.port, TIMEOUT_S, retries=1).read(1, "input", 0, 1) == [8000]
    assert len(line.heard) == 2


def test_retries_stay_within_the_ticks_budget(far, bus_on, clock) -> None:
    line = far()
    bus = bus_on(line.port, 0.15, retries=3)  # half a tick is 0.5 s: three times 0.15 s, and no fourth
    for unit, asked in ((9, 3), (10, 4)):
        with pytest.raises(WireError):
            bus.read(unit, "input", 0, 1)
        assert len(line.heard) == asked
    clock.tick()
    with pytest.raises(WireError):
        bus.read(9, "input", 0, 1)
    assert len(line.heard) == 7


def test_the_line_is_silent_before_each_question(bus_on) -> None:
    near, far_end = os.openpty()
    tty.setraw(far_end)
    bus = bus_on(os.ttyname(far_end), 0.05, turn_around_s=0.04)
    with pytest.raises(WireError):
        bus.read(1, "input", 0, 1)
    os.write(near, b"\1\2\3")
    start_s = time.monotonic()
    with pytest.raises(WireError):
        bus.read(2, "input", 0, 1)
    assert time.monotonic() - start_s > 0.04 + 0.05
    bus.close()
    os.close(near)
    os.close(far_end)


def test_a_port_that_is_not_there_is_one_line(bus_on, tmp_path) -> None:
    port = str(tmp_path / "no-such-port")
    with pytest.raises(WireError) as caught:
        bus_on(port).read(1, "input", 0, 1)
    assert str(caught.value).endswith("cannot open the port (No such file or directory)")


def test_a_port_belongs_to_one_program(far, bus_on) -> None:
    line = far()
    assert bus_on(line.port).read(1, "input", 0, 1) == [8000]
    with pytest.raises(WireError, match="another program has it"):
        bus_on(line.port).read(1, "input", 0, 1)


def test_a_port_that_is_pulled_out_is_told_and_opened_again(far, bus_on, clock) -> None:
    line = far()
    bus = bus_on(line.port, TIMEOUT_S)
    assert bus.read(1, "input", 0, 1) == [8000]
    os.close(line._near)
    for _ in range(2):
        clock.tick()
        with pytest.raises(WireError) as caught:
            bus.read(1, "input", 0, 1)
        assert "port" in str(caught.value)


def test_health_counts_answers_and_misses_of_each_unit(far, bus_on) -> None:
    bus = bus_on(far().port, 0.05)
    bus.read(1, "input", 0, 1)
    with pytest.raises(RefusedError):
        bus.read(1, "input", 100, 1)
    with pytest.raises(WireError):
        bus.read(9, "input", 0, 1)
    health = bus.health()
    assert (health[1].answers, health[1].misses, health[1].last_reason) == (2, 0, "")
    assert 0 < health[1].took_s < 0.5
    assert (health[9].answers, health[9].misses) == (0, 1)
    assert health[9].last_reason == "no answer within 50 ms"
