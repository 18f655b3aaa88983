"""A kiln's file opens wires of every kind: RTU with several instruments, a board of our own, and both."""

import time

import pytest

from controller.config import BoardHeaterConfig, RtuBusConfig, read_kiln
from controller.wire.kiln_wire import open_inputs, open_wire
from tests.board.scripted import Scripted
from tests.wire.rtu import FarSide

pytestmark = pytest.mark.wire

RTU = """\
name = "A kiln on a serial line"
ceiling = "900 C"

[bus.line]
kind = "modbus-rtu"
port = "@RTU"
timeout = "100 ms"
"""
READER = """
[reader.{role}]
bus = "line"
unit = {unit}
function = "input"
address = {address}
scale = 0.1
"""
RTU_HEATER = """
[heater]
bus = "line"
unit = 3
kind = "coil"
address = 0
power = "6 kW"
read_back = { function = "coil", address = 0 }
"""
RTU_KILN = (
    RTU
    + READER.format(role="air", unit=1, address=0)
    + READER.format(role="load", unit=2, address=0)
    + RTU_HEATER
)
BOARD = """
[bus.board]
kind = "board"
port = "@BOARD"
read_back = "pin"
"""
BOARD_READERS = """
[reader.limit]
bus = "board"
channel = 0

[reader.enclosure]
bus = "board"
channel = 0
shows = "cold junction"

[contact.door]
bus = "board"
"""
BOARD_HEATER = """
[heater]
bus = "board"
power = "6 kW"

[main_contactor]
bus = "board"
"""
BOARD_KILN = (
    'name = "A kiln on a board"\nceiling = "900 C"\n'
    + BOARD
    + BOARD_READERS.replace("limit", "air")
    + BOARD_HEATER
)


@pytest.fixture
def far():
    """Return instruments on a serial line: two readers, and relays."""
    line = FarSide({1: {(4, 0): 2015}, 2: {(4, 0): 1987}, 3: {(1, 0): 0}})
    yield line
    line.close()


@pytest.fixture
def board():
    scripted = Scripted()
    yield scripted
    scripted.close()


@pytest.fixture
def opened(clock):
    """Return a function that opens a kiln's wires on the ports given."""
    made = []

    def make(text: str, rtu: str = "", board: str = ""):
        config = read_kiln(text.replace("@RTU", rtu).replace("@BOARD", board), "kiln.toml")
        made.append(open_wire(config, clock))
        return made[-1]

    yield make
    for inputs, _ in made:
        inputs.close()


def values(polled) -> dict[str, float | None]:
    return {role: reading.value_c for role, reading in polled.readings.items()}


def test_several_instruments_on_one_line_are_read_in_one_poll(opened, far) -> None:
    inputs, heat = opened(RTU_KILN, far.port)
    polled = inputs.poll()
    assert (polled.errors, polled.heat_on) == ((), False)
    assert values(polled) == {"air": pytest.approx(201.5), "load": pytest.approx(198.7)}
    heat.energise(3.0)
    assert (far.units[3][1, 0], inputs.poll().heat_on) == (1, True)
    heat.drop()
    assert far.units[3][1, 0] == 0
    assert {key: one.misses for key, one in inputs.health().items()} == dict.fromkeys(
        [("line", 1), ("line", 2), ("line", 3)], 0
    )


def test_silent_instruments_cost_a_poll_no_more_than_half_a_tick(opened, far, clock) -> None:
    inputs, _ = opened(RTU_KILN, far.port)
    far.noise = lambda question, answer: b""
    start_s = time.monotonic()
    polled = inputs.poll()
    assert time.monotonic() - start_s < 0.5 + 0.4  # 0.4 s: a busy machine
    assert len(polled.errors) == 3
    health = inputs.health()["line", 1]
    assert (health.answers, health.misses, health.last_reason) == (0, 1, "no answer within 100 ms")


def test_a_kiln_on_a_board_is_read_and_heated(opened, board) -> None:
    inputs, heat = opened(BOARD_KILN, board=board.port)
    polled = inputs.poll()
    assert polled.errors == ()
    assert values(polled) == {"air": 20.0, "enclosure": 25.0}
    assert (polled.contacts["door"].on, polled.heat_on, polled.main_on) == (True, False, False)
    assert (heat.has_hardware_lease, heat.has_main_contactor) == (True, True)
    heat.close_main()
    heat.energise(3.0)
    assert board.heard[-1][1].split()[1:4] == [b"H", b"03000", b"1"]
    assert {(one.what, one.place, one.raw) for one in inputs.heard()} == {
        ("reader air", "channel 0", (20.0,)),
        ("reader enclosure", "channel 0, cold junction", (25.0,)),
        ("contact door", "input DOOR", (True,)),
    }
    assert inputs.health()["board", 0].answers == 1


def test_a_board_knows_that_it_reads_heat_back() -> None:
    kiln = read_kiln(BOARD_KILN, "kiln.toml")
    assert isinstance(kiln.heater, BoardHeaterConfig)
    assert kiln.reads_heat_back
    assert read_kiln(RTU_KILN, "kiln.toml").reads_heat_back
    bare = RTU_KILN.replace('read_back = { function = "coil", address = 0 }', "")
    assert not read_kiln(bare, "kiln.toml").reads_heat_back


@pytest.mark.parametrize("heater", ["line", "board"])
def test_a_board_and_modbus_readers_are_polled_as_one(opened, far, board, heater) -> None:
    text = RTU + READER.format(role="air", unit=1, address=0) + BOARD + BOARD_READERS
    inputs, heat = opened(text + (RTU_HEATER if heater == "line" else BOARD_HEATER), far.port, board.port)
    polled = inputs.poll()
    assert values(polled) == {"air": pytest.approx(201.5), "limit": 20.0, "enclosure": 25.0}
    assert (set(polled.contacts), polled.heat_on, polled.errors) == ({"door"}, False, ())
    assert polled.main_on is (None if heater == "line" else False)
    assert {one.bus for one in inputs.heard()} == {"line", "board"}
    heat.drop()
    assert ("H" in board.kinds()) is (heater == "board")
    board.answer = lambda question: None
    polled = inputs.poll()
    assert (values(polled)["air"], values(polled)["limit"]) == (pytest.approx(201.5), None)
    assert len(polled.errors) == 1
    assert polled.heat_on is (None if heater == "board" else False)


def test_inputs_alone_can_be_had(far, clock) -> None:
    inputs = open_inputs(read_kiln(RTU_KILN.replace("@RTU", far.port), "kiln.toml"), clock)
    assert values(inputs.poll())["air"] == pytest.approx(201.5)
    inputs.close()


def test_a_boards_straight_line_is_turned_into_the_true_curve(opened, board) -> None:
    # A converter that takes type K for 41.276 uV/K shows 814.8 C - 25 C as this where the junction is at
    # 815 C and it at 25 C: (33.889285 - 1.000242) mV / 0.041276 + 25 C (emf of NIST Monograph 175).
    from tests.board.scripted import identity, status

    shown_c = (33.889285 - 1.000242) / 0.041276 + 25.0
    hot = f"{round(shown_c * 100):+07d}"
    board.answer = lambda q: status(q, hot=hot) if q[4:5] == b"R" else identity(q)
    text = BOARD_KILN.replace("channel = 0", 'channel = 0\nthermocouple = "K"\nuv_per_k = 41.276', 1)
    inputs, _ = opened(text, board=board.port)
    assert abs(shown_c - 815.0) > 5.0
    assert values(inputs.poll())["air"] == pytest.approx(815.0, abs=0.02)
    board.answer = lambda q: status(q, hot="+180000") if q[4:5] == b"R" else identity(q)
    assert "expected" in inputs.poll().readings["air"].fault


def test_the_timings_of_a_line_follow_from_its_settings() -> None:
    # t3.5 of 11-bit characters, by way of a secondary page: 9600 baud 4.010 ms, 19200 2.005, above 1.750.
    def bus(**given) -> RtuBusConfig:
        return RtuBusConfig(name="line", kind="modbus-rtu", port="p", **given)

    assert bus(baud=9600).silence_s == pytest.approx(4.010e-3, abs=1e-6)
    assert bus().silence_s == pytest.approx(2.005e-3, abs=1e-6)
    assert bus(baud=38400).silence_s == 1.75e-3
    assert (bus(turn_around_s=0.01).silence_s, bus(turn_around_s=0.01).frame_gap_s) == (0.01, bus().silence_s)
    assert bus(parity="none", stop_bits=2).character_s == bus().character_s
    assert bus(parity="none").character_s == pytest.approx(10 / 19200)
