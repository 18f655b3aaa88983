"""Taking heat away waits for the question in hand, and for none of those behind it."""

import threading
import time

import pytest
from pymodbus.pdu import ModbusPDU
from pymodbus.pdu.bit_message import WriteSingleCoilRequest, WriteSingleCoilResponse
from pymodbus.pdu.register_message import ReadInputRegistersResponse

from controller.errors import WireError
from controller.wire.client import NoAnswerError
from controller.wire.modbus import ModbusBus
from controller.wire.right_of_way import RightOfWay
from tests.wire.servers import echo

SOON_S = 5.0  # far more than it takes


class Line:
    """Answers everything; `during` is called while a question is on the line."""

    def __init__(self, during=lambda request: None) -> None:
        self.asked: list[str] = []
        self.during = during

    def exchange(self, request: ModbusPDU, timeout_s: float, is_wanted) -> ModbusPDU:
        heat = isinstance(request, WriteSingleCoilRequest)
        self.asked.append("heat off" if heat else f"read {request.address}")
        self.during(request)
        if heat:
            return WriteSingleCoilResponse(dev_id=1, address=request.address, bits=request.bits)
        return ReadInputRegistersResponse(dev_id=1, registers=[0] * request.count)

    def give_up(self) -> None:
        pass

    def close(self) -> None:
        pass


def until(true) -> None:
    end_s = time.monotonic() + SOON_S
    while not true():
        assert time.monotonic() < end_s
        time.sleep(0.001)


def aborting_at(line: Line, clock, retries: int = 0, *, silent: bool = False):
    """Return a bus, and the thread that takes heat away once the first question is on the line."""
    bus = ModbusBus(line, "bus", 0.1, retries, clock, 0.5)
    abort = threading.Thread(target=lambda: bus.write_coil(1, 0, False, urgent=True))

    def during(request: ModbusPDU) -> None:
        if isinstance(request, WriteSingleCoilRequest):
            return
        if len(line.asked) == 1:
            abort.start()
            until(lambda: bus._way.is_wanted)
        if silent:
            raise NoAnswerError("silence")

    line.during = during
    return bus, abort


def test_an_abort_in_the_middle_of_a_poll_is_the_next_on_the_wire(clock) -> None:
    line = Line()
    bus, abort = aborting_at(line, clock)
    for address in range(5):
        bus.read(1, "input", address, 1)
    abort.join(SOON_S)
    assert line.asked == ["read 0", "heat off", "read 1", "read 2", "read 3", "read 4"]


def test_a_question_is_not_asked_again_while_an_abort_waits(clock) -> None:
    line = Line()
    bus, abort = aborting_at(line, clock, retries=3, silent=True)
    with pytest.raises(WireError, match="silence"):
        bus.read(1, "input", 0, 1)
    abort.join(SOON_S)
    assert line.asked == ["read 0", "heat off"]


def test_the_wire_is_let_go_of_after_an_error() -> None:
    way = RightOfWay()
    with pytest.raises(ValueError, match="broken"), way.turn():
        raise ValueError("broken")
    with way.turn():
        pass


@pytest.mark.wire
def test_on_the_network_an_abort_does_not_wait_for_a_silent_instrument(scripted, bus_to, clock) -> None:
    server = scripted(lambda request: echo(request) if request[7] == 5 else b"")
    bus = bus_to(server.port, timeout_s=SOON_S)
    told: list[str] = []

    def read() -> None:
        with pytest.raises(WireError) as caught:
            bus.read(1, "input", 0, 1)
        told.append(str(caught.value))

    poll = threading.Thread(target=read)
    poll.start()
    until(lambda: len(server.requests) == 1)
    start_s = time.monotonic()
    bus.write_coil(1, 0, False, urgent=True)
    assert time.monotonic() - start_s < SOON_S / 5
    poll.join(SOON_S)
    assert told[0].endswith("gave way to an order that takes heat away")
