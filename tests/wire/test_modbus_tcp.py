"""A wire that is slow, closed, refusing or absent: told in one line, at the cost of one timeout a tick."""

import logging
import time

import pytest

from controller.errors import WireError
from controller.wire.bus import RefusedError
from tests.wire.servers import echo, registers, reply

pytestmark = pytest.mark.wire

TIMEOUT_S = 0.5  # where something is silent
AT_ONCE_S = 0.3  # well below it, and well above what a busy machine takes to fail without waiting


def took_s(call) -> float:
    """Return how long a call takes to fail with WireError."""
    start_s = time.monotonic()
    with pytest.raises(WireError):
        call()
    return time.monotonic() - start_s


def test_silence_costs_one_timeout_and_names_everything(scripted, bus_to) -> None:
    server = scripted(lambda request: b"")
    bus = bus_to(server.port, TIMEOUT_S)
    start_s = time.monotonic()
    with pytest.raises(WireError) as caught:
        bus.read(3, "holding", 100, 2)
    assert TIMEOUT_S * 0.9 < time.monotonic() - start_s < TIMEOUT_S + AT_ONCE_S
    assert str(caught.value) == (
        f"bus io (127.0.0.1:{server.port}), unit 3: asked for 2 holding registers from 100, "
        "no answer within 500 ms"
    )


def test_an_answer_that_stops_halfway_costs_one_timeout_too(scripted, bus_to) -> None:
    server = scripted(lambda request: [0.85 * TIMEOUT_S, registers(request, 815)[:5]])
    bus = bus_to(server.port, TIMEOUT_S)
    assert took_s(lambda: bus.read(1, "input", 0, 1)) < TIMEOUT_S + AT_ONCE_S


@pytest.mark.parametrize(
    ("code", "words"), [(2, "no such address"), (6, "busy"), (99, "a reason of its own")]
)
def test_a_refusal_is_told_in_words_and_keeps_the_connection(scripted, bus_to, code, words) -> None:
    server = scripted(lambda request: reply(request, bytes([request[7] | 0x80, code])))
    bus = bus_to(server.port)
    for _ in range(2):
        with pytest.raises(RefusedError, match=words) as caught:
            bus.read(1, "input", 0, 1)
        assert caught.value.code == code
    assert (server.connections, len(server.requests)) == (1, 2)


def test_a_gateway_that_cannot_reach_a_unit_is_not_asked_again_in_this_tick(scripted, bus_to, clock) -> None:
    server = scripted(lambda request: reply(request, bytes([request[7] | 0x80, 11])))
    bus = bus_to(server.port)
    for _ in range(3):
        with pytest.raises(WireError, match="gateway"):
            bus.read(1, "input", 0, 1)
    assert len(server.requests) == 1


def test_a_closed_connection_is_told_and_opened_again(scripted, bus_to, clock) -> None:
    answers = iter([None])
    server = scripted(lambda request: next(answers, registers(request, 815)))
    bus = bus_to(server.port)
    with pytest.raises(WireError, match="the connection was closed"):
        bus.read(1, "input", 0, 1)
    clock.tick()
    assert bus.read(1, "input", 0, 1) == [815]
    assert server.connections == 2


def test_nobody_there_is_told_at_once(scripted, bus_to) -> None:
    server = scripted(lambda request: b"")
    server.close()
    bus = bus_to(server.port)
    with pytest.raises(
        WireError, match=r"unit 1: asked for coil 0 to be on, cannot connect \(Connection refused\)$"
    ):
        bus.write_coil(1, 0, True)


def test_a_server_that_returns_is_heard_again(scripted, bus_to, clock) -> None:
    first = scripted(lambda request: registers(request, 1))
    bus = bus_to(first.port)
    assert bus.read(1, "input", 0, 1) == [1]
    first.close()
    with pytest.raises(WireError):
        bus.read(1, "input", 0, 1)
    scripted(lambda request: registers(request, 2), port=first.port)
    clock.tick()
    assert bus.read(1, "input", 0, 1) == [2]


def test_a_silent_unit_costs_one_timeout_a_tick(scripted, bus_to, clock) -> None:
    server = scripted(lambda request: b"")
    bus = bus_to(server.port, TIMEOUT_S)
    took_s(lambda: bus.read(1, "input", 0, 1))
    assert took_s(lambda: bus.read(1, "coil", 0, 1)) < AT_ONCE_S
    assert took_s(lambda: bus.write_coil(1, 0, True)) < AT_ONCE_S
    clock.tick()
    assert took_s(lambda: bus.read(1, "input", 0, 1)) > TIMEOUT_S * 0.9
    assert len(server.requests) == 2


def test_a_silent_unit_does_not_silence_its_neighbour(scripted, bus_to) -> None:
    server = scripted(lambda request: registers(request, 815) if request[6] == 2 else b"")
    bus = bus_to(server.port, TIMEOUT_S)
    took_s(lambda: bus.read(1, "input", 0, 1))
    assert bus.read(2, "input", 0, 1) == [815]


def test_taking_heat_away_is_tried_although_the_unit_was_silent(scripted, bus_to) -> None:
    server = scripted(lambda request: echo(request) if request[7] == 5 else b"")
    bus = bus_to(server.port, TIMEOUT_S)
    took_s(lambda: bus.read(1, "input", 0, 1))
    bus.write_coil(1, 0, False, urgent=True)
    assert server.requests[-1][7:] == bytes([5, 0, 0, 0, 0])


def test_taking_heat_away_is_tried_once_a_tick(scripted, bus_to, clock) -> None:
    server = scripted(lambda request: b"")
    bus = bus_to(server.port, TIMEOUT_S)
    assert took_s(lambda: bus.write_coil(1, 0, False, urgent=True)) > TIMEOUT_S * 0.9
    assert took_s(lambda: bus.write_coil(1, 1, False, urgent=True)) < AT_ONCE_S
    assert took_s(lambda: bus.read(1, "input", 0, 1)) < AT_ONCE_S
    clock.tick()
    assert took_s(lambda: bus.write_coil(1, 0, False, urgent=True)) > TIMEOUT_S * 0.9


@pytest.mark.parametrize("retries", [0, 1, 2])
def test_a_question_is_asked_as_often_as_configured_and_no_more(scripted, bus_to, retries) -> None:
    server = scripted(lambda request: b"")
    took_s(lambda: bus_to(server.port, timeout_s=0.06, retries=retries).read(1, "input", 0, 1))
    assert len(server.requests) == 1 + retries


def test_nothing_is_printed_beside_the_one_line(scripted, bus_to, capfd, monkeypatch) -> None:
    monkeypatch.setattr(logging.root, "handlers", [])  # as in a program that has set up no log
    server = scripted(lambda request: b"\1\2\3\4\5\6\7\x08\x09")
    took_s(lambda: bus_to(server.port, TIMEOUT_S).read(1, "input", 0, 1))
    assert capfd.readouterr() == ("", "")
