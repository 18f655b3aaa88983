"""A kiln for tests, a bus that is a few dictionaries, and the fixtures that start servers and buses."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import pytest

from controller.config import KilnConfig, TcpBusConfig, read_kiln
from controller.errors import WireError
from controller.wire.bus import RefusedError
from controller.wire.health import Health
from controller.wire.modbus import ModbusBus
from controller.wire.modbus_tcp import modbus_tcp
from tests.wire.servers import PymodbusServer, ScriptedServer

KILN = """\
name = "A kiln for tests"
ceiling = "900 C"

[bus.io]
kind = "modbus-tcp"
host = "127.0.0.1"
port = 5020
timeout = "200 ms"

[reader.air]
bus = "io"
function = "input"
address = 0
type = "int16"
scale = 0.1
fault_values = [32767]

[reader.load]
bus = "io"
function = "input"
address = 1
type = "int16"
scale = 0.1
fault_values = [32767]

[reader.limit]
bus = "io"
function = "input"
address = 4
type = "float32"

[contact.door]
bus = "io"
function = "discrete"
address = 0

[contact.emergency_stop]
bus = "io"
function = "discrete"
address = 1

[contact.extraction]
bus = "io"
function = "discrete"
address = 2

[contact.presence]
bus = "io"
function = "discrete"
address = 3

[heater]
bus = "io"
kind = "coil"
address = 0
power = "6500 W"
watchdog = { address = 10 }
read_back = { function = "coil", address = 0 }

[main_contactor]
bus = "io"
kind = "coil"
address = 1
read_back = { function = "coil", address = 1 }
"""


class Clock:
    """A clock that a test moves by hand."""

    def __init__(self) -> None:
        self.now_s = 1000.0

    def __call__(self) -> float:
        return self.now_s

    def tick(self, seconds: float = 1.0) -> None:
        self.now_s += seconds


class MemoryBus:
    """A `Bus` of dictionaries: what is not in `cells` is refused, and `dead` units are silent."""

    def __init__(self) -> None:
        self.cells: dict[tuple[int, str, int], int] = {}
        self.dead: set[int] = set()
        self.calls: list[tuple[object, ...]] = []
        self.urgent: list[bool] = []
        self.closed = False

    def put(self, unit: int, function: str, address: int, *values: int) -> None:
        for offset, value in enumerate(values):
            self.cells[unit, function, address + offset] = value

    def read(self, unit: int, function: str, address: int, count: int) -> Sequence[int]:
        self._note(unit, "read", function, address, count)
        try:
            return [self.cells[unit, function, address + i] for i in range(count)]
        except KeyError:
            raise RefusedError(f"unit {unit}: asked for {count} {function} from {address}", 2) from None

    def write_coil(self, unit: int, address: int, on: bool, *, urgent: bool = False) -> None:
        self.urgent.append(urgent)
        self._note(unit, "coil", address, on)
        self.put(unit, "coil", address, on)

    def write_registers(
        self, unit: int, address: int, registers: Sequence[int], *, urgent: bool = False
    ) -> None:
        self.urgent.append(urgent)
        self._note(unit, "registers", address, list(registers))
        self.put(unit, "holding", address, *registers)

    def health(self) -> dict[int, Health]:
        return {}

    def close(self) -> None:
        self.closed = True

    def _note(self, unit: int, *call: object) -> None:
        self.calls.append((unit, *call))
        if unit in self.dead:
            raise WireError(f"unit {unit}: no answer within 200 ms")


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def memory() -> MemoryBus:
    """A memory bus that holds what KILN reads: 100 C, 90 C, 102.5 C, all contacts healthy, heat off."""
    bus = MemoryBus()
    bus.put(1, "input", 0, 1000, 900, 0, 0, 0x42CD, 0x0000)
    bus.put(1, "discrete", 0, True, True, True, True)
    bus.put(1, "coil", 0, False, True)
    return bus


@pytest.fixture
def kiln_text() -> str:
    return KILN


@pytest.fixture
def kiln() -> KilnConfig:
    return read_kiln(KILN, "kiln.toml")


@pytest.fixture
def scripted() -> Iterator[Callable[..., ScriptedServer]]:
    """Start servers that say what they are told to."""
    servers: list[ScriptedServer] = []

    def start(answer: Callable[[bytes], object], port: int = 0) -> ScriptedServer:
        servers.append(ScriptedServer(answer, port))
        return servers[-1]

    yield start
    for server in servers:
        server.close()


@pytest.fixture
def pymodbus_server() -> Iterator[Callable[..., PymodbusServer]]:
    """Start pymodbus' own servers."""
    servers: list[PymodbusServer] = []

    def start(port: int = 0) -> PymodbusServer:
        servers.append(PymodbusServer(port))
        return servers[-1]

    yield start
    for server in servers:
        server.close()


@pytest.fixture
def bus_to(clock: Clock) -> Iterator[Callable[..., ModbusBus]]:
    """Open buses to a port on loopback; `now` is the test's clock, and a tick is one second.

    The timeout is long, so that a busy machine fails no test; a test of silence gives its own.
    """
    buses: list[ModbusBus] = []

    def connect(port: int, timeout_s: float = 2.0, retries: int = 0) -> ModbusBus:
        config = TcpBusConfig(
            name="io", kind="modbus-tcp", host="127.0.0.1", port=port, timeout_s=timeout_s, retries=retries
        )
        buses.append(modbus_tcp(config, clock, quiet_s=0.5))
        return buses[-1]

    yield connect
    for bus in buses:
        bus.close()
