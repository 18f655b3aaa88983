"""The whole wire against pymodbus' own server: what a kiln shows is read, what is ordered arrives."""

import pytest

from controller.config import read_kiln
from controller.wire.kiln_wire import open_wire

pytestmark = pytest.mark.wire

COIL, DISCRETE, HOLDING, INPUT = 1, 2, 3, 4


@pytest.fixture
def wire_to(kiln_text, clock):
    """Open a wire to a port, and close it in the end."""
    opened = []

    def connect(port: int):
        config = read_kiln(kiln_text.replace("port = 5020", f"port = {port}"), "kiln.toml")
        opened.append(open_wire(config, clock))
        return opened[-1]

    yield connect
    for inputs, _ in opened:
        inputs.close()


def warm(server) -> None:
    """Put temperatures and healthy contacts on a server."""
    server.put(INPUT, 0, [1234, 1200])
    server.put(INPUT, 4, [0x42F6, 0xE666])  # 123.45 in 32 bits
    server.put(DISCRETE, 0, [True, False, True, True])


def test_a_kiln_is_read(pymodbus_server, wire_to, clock) -> None:
    server = pymodbus_server()
    warm(server)
    inputs, _ = wire_to(server.port)
    polled = inputs.poll()
    assert polled.errors == ()
    assert polled.readings["air"] == (pytest.approx(123.4), None, clock.now_s)
    assert polled.readings["limit"].value_c == pytest.approx(123.45, abs=1e-5)
    assert polled.contacts["door"].on is True
    assert polled.contacts["emergency_stop"].on is False
    assert (polled.heat_on, polled.main_on) == (False, False)


def test_heat_goes_on_with_its_lease_and_off(pymodbus_server, wire_to) -> None:
    server = pymodbus_server()
    inputs, heat = wire_to(server.port)
    heat.close_main()
    heat.energise(3.0)
    assert (server.get(HOLDING, 10), server.get(COIL, 0), server.get(COIL, 1)) == (3000, 1, 1)
    assert (inputs.poll().heat_on, inputs.poll().main_on) == (True, True)
    heat.drop()
    heat.open_main()
    assert (server.get(COIL, 0), server.get(COIL, 1)) == (0, 0)


def test_a_poll_does_not_raise_when_nobody_is_there_and_says_why(pymodbus_server, wire_to, clock) -> None:
    server = pymodbus_server()
    server.close()
    polled = wire_to(server.port)[0].poll()
    assert len(polled.errors) == 1
    assert "cannot connect" in polled.errors[0]
    assert all(reading.value_c is None for reading in polled.readings.values())
    assert all(contact.on is None for contact in polled.contacts.values())


def test_everything_comes_back_when_the_server_does(pymodbus_server, wire_to, clock) -> None:
    server = pymodbus_server()
    warm(server)
    inputs, heat = wire_to(server.port)
    seen_s = clock.now_s
    assert inputs.poll().errors == ()
    server.close()
    clock.tick()
    polled = inputs.poll()
    assert (polled.readings["air"].value_c, polled.readings["air"].at_s) == (None, seen_s)
    warm(pymodbus_server(server.port))
    clock.tick()
    polled = inputs.poll()
    assert polled.errors == ()
    assert polled.readings["air"] == (pytest.approx(123.4), None, clock.now_s)
    heat.energise(3.0)
    assert inputs.poll().heat_on is True
