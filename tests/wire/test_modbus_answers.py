"""What counts as an answer: this question's own, whole and of the right shape; anything else is none."""

import threading
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from controller.errors import WireError
from controller.wire.bus import RefusedError
from tests.wire.servers import echo, registers, reply

pytestmark = pytest.mark.wire

TIMEOUT_S = 0.15  # where something is silent


def test_a_right_answer_is_taken(scripted, bus_to) -> None:
    server = scripted(lambda request: registers(request, 815, 65535))
    assert bus_to(server.port).read(7, "input", 3, 2) == [815, 65535]
    assert server.requests[0][6:] == bytes([7, 4, 0, 3, 0, 2])


def test_bits_are_cut_to_what_was_asked(scripted, bus_to) -> None:
    server = scripted(lambda request: reply(request, bytes([2, 2, 0b0000_0101, 0b10])))
    assert bus_to(server.port).read(1, "discrete", 0, 10) == [
        *(True, False, True, False, False, False, False, False),
        *(False, True),
    ]


@pytest.mark.parametrize(("count", "bytes_"), [(1, 1), (8, 1), (9, 2), (16, 2)])
def test_an_answer_of_bits_has_just_the_bytes_it_needs(scripted, bus_to, count, bytes_) -> None:
    server = scripted(lambda request: reply(request, bytes([1, bytes_, *([0xFF] * bytes_)])))
    assert bus_to(server.port).read(1, "coil", 0, count) == [True] * count
    for wrong in (bytes_ - 1, bytes_ + 1):
        server = scripted(lambda request, n=wrong: reply(request, bytes([1, n, *([0xFF] * n)])))
        with pytest.raises(WireError, match="no answer to this"):
            bus_to(server.port).read(1, "coil", 0, count)


def test_writes_use_the_functions_for_one_and_for_more(scripted, bus_to) -> None:
    def answer(request: bytes) -> bytes:
        return reply(request, request[7:12]) if request[7] == 16 else echo(request)

    server = scripted(answer)
    bus = bus_to(server.port)
    bus.write_coil(1, 2, True)
    bus.write_coil(1, 2, False)
    bus.write_registers(1, 10, [3000])
    bus.write_registers(1, 10, [1, 2])
    assert [request[7:] for request in server.requests] == [
        bytes([5, 0, 2, 0xFF, 0]),
        bytes([5, 0, 2, 0, 0]),
        bytes([6, 0, 10, 0x0B, 0xB8]),
        bytes([16, 0, 10, 0, 2, 4, 0, 1, 0, 2]),
    ]


def test_an_answer_in_pieces_is_taken(scripted, bus_to) -> None:
    def pieces(request: bytes) -> list[object]:
        whole = registers(request, 815)
        return [whole[:4], 0.01, whole[4:8], 0.01, whole[8:]]

    assert bus_to(scripted(pieces).port).read(1, "input", 0, 1) == [815]


def test_the_answer_to_another_transaction_is_skipped(scripted, bus_to) -> None:
    server = scripted(lambda r: registers(r, 1, tid=999) + registers(r, 2, tid=0xFFFE) + registers(r, 815))
    assert bus_to(server.port).read(1, "input", 0, 1) == [815]


@pytest.mark.parametrize("wrong", [{"tid": 999}, {"tid": 0}, {"unit": 9}])
def test_only_an_answer_to_this_question_counts(scripted, bus_to, wrong) -> None:
    server = scripted(lambda request: registers(request, 815, **wrong))
    with pytest.raises(WireError):
        bus_to(server.port, TIMEOUT_S).read(1, "input", 0, 1)


def test_a_late_answer_is_never_taken_for_the_next_one(scripted, bus_to, clock) -> None:
    values = iter([111, 222])

    def answer(request: bytes) -> list[object]:
        value = next(values)
        return [0.45, registers(request, value)] if value == 111 else [registers(request, value)]

    bus = bus_to(scripted(answer).port, timeout_s=0.3)
    with pytest.raises(WireError):
        bus.read(1, "input", 0, 1)
    time.sleep(0.2)  # let the late answer come
    clock.tick()
    assert bus.read(1, "input", 0, 1) == [222]


@pytest.mark.parametrize(
    "pdu",
    [
        bytes([3, 2, 3, 47]),  # another function
        bytes([4, 4, 3, 47, 0, 0]),  # too many registers
        bytes([4, 0]),  # none
        bytes([4, 2, 3]),  # cut short
        bytes([4, 3, 3, 47, 0]),  # half a register
        bytes([4, 2, 3, 47, 0, 0]),  # more than it says
        bytes([0x83, 2]),  # the refusal of another function
        bytes([77, 1, 2]),  # no function at all
        b"",
    ],
)
def test_an_answer_of_another_shape_is_none(scripted, bus_to, pdu) -> None:
    server = scripted(lambda request: reply(request, pdu))
    with pytest.raises(WireError) as caught:
        bus_to(server.port, TIMEOUT_S).read(1, "input", 0, 1)
    assert not isinstance(caught.value, RefusedError)


@pytest.mark.parametrize(
    "answer", [bytes([5, 0, 2, 0, 0]), bytes([5, 0, 3, 0xFF, 0]), bytes([6, 0, 2, 0xFF, 0])]
)
def test_a_write_counts_only_with_its_own_echo(scripted, bus_to, answer) -> None:
    server = scripted(lambda request: reply(request, answer))
    with pytest.raises(WireError, match="no answer to this"):
        bus_to(server.port).write_coil(1, 2, True)


@pytest.mark.parametrize("answer", [bytes([6, 0, 10, 0, 2]), bytes([6, 0, 11, 0, 1])])
def test_a_register_counts_as_written_only_with_its_own_echo(scripted, bus_to, answer) -> None:
    server = scripted(lambda request: reply(request, answer))
    with pytest.raises(WireError, match="no answer to this"):
        bus_to(server.port).write_registers(1, 10, [1])


def test_threads_do_not_take_each_others_answers(scripted, bus_to) -> None:
    server = scripted(lambda request: registers(request, int.from_bytes(request[8:10], "big")))
    bus = bus_to(server.port)
    wrong: list[object] = []

    def ask(address: int) -> None:
        wrong.extend(got for _ in range(50) if (got := bus.read(1, "input", address, 1)) != [address])

    threads = [threading.Thread(target=ask, args=(address,)) for address in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert wrong == []
    assert len(server.requests) == 200


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(garbage=st.binary(max_size=40), with_header=st.booleans())
def test_garbage_is_a_wire_error_and_nothing_else(scripted, bus_to, clock, garbage, with_header) -> None:
    # The connection is closed after the garbage, so that nothing waits for more of it.
    answers = iter([[reply(bytes([0, 1, 0, 0, 0, 0, 1]), garbage) if with_header else garbage, None]])
    server = scripted(lambda request: next(answers, None))
    with pytest.raises(WireError) as caught:
        bus_to(server.port, timeout_s=0.03).read(1, "input", 0, 1)
    assert "\n" not in str(caught.value)
    server.close()
