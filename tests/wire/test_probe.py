"""`stokehold probe` shows what each point says, works without a controller, and never writes."""

import itertools

import pytest

from controller import cli
from controller.commands import probe
from controller.config import load_kiln
from controller.wire.kiln_wire import open_inputs
from tests.board.scripted import Scripted
from tests.wire.rtu import FarSide
from tests.wire.servers import registers, reply
from tests.wire.test_open_serial import BOARD_KILN, RTU_KILN

pytestmark = pytest.mark.wire

READS = {1, 2, 3, 4}  # the functions of Modbus that only read
SHOWN = """
[shown.setpoint]
bus = "line"
unit = 2
function = "input"
address = 1
scale = 0.1
in_units = "C"
"""


@pytest.fixture
def far():
    line = FarSide({1: {(4, 0): 2015}, 2: {(4, 0): 1987, (4, 1): 8150}, 3: {(1, 0): 0}})
    yield line
    line.close()


@pytest.fixture
def probed(tmp_path, capsys, monkeypatch):
    """Return a function that probes a kiln once, and gives the exit status and what was printed."""
    monkeypatch.setenv("COLUMNS", "200")
    path = tmp_path / "kiln.toml"

    def run(text: str) -> tuple[int, str]:
        path.write_text(text)
        status = cli.main(["probe", "--kiln", str(path), "--once"])
        return status, " ".join(capsys.readouterr().out.split())

    return run


def test_every_point_is_shown_raw_and_in_units_with_its_instruments_health(probed, far) -> None:
    text = RTU_KILN.replace("@RTU", far.port).replace(
        "scale = 0.1", 'scale = 0.1\nthermocouple = "K"\nclass = 1', 1
    )
    status, shown = probed(text + SHOWN)
    assert status == 0
    for said in (
        "reader air │ line │ unit 1, input 0 │ 2015 (07DF) │ 201.5 C ± 1.5 K as delivered",
        "reader load │ line │ unit 2, input 0 │ 1987 (07C3) │ 198.7 C",
        "heat │ line │ unit 3, coil 0 │ 0 │ off",
        "shown setpoint │ line │ unit 2, input 1 │ 8150 (1FD6) │ 815 C",
        "line │ 3 │ 1 │ 0 │",
    ):
        assert said in shown


def test_no_function_that_writes_ever_leaves_for_the_serial_line(probed, far) -> None:
    far.noise = lambda question, answer: answer[:-1] if question[0] == 3 else answer
    status, shown = probed(RTU_KILN.replace("@RTU", far.port))
    assert (status, "broke off" in shown) == (1, True)
    assert len(far.heard) >= 3
    assert {question[1] for question in far.heard} <= READS


def test_no_function_that_writes_ever_leaves_for_the_network(probed, scripted, kiln_text) -> None:
    def answer(request: bytes) -> bytes:
        count = int.from_bytes(request[10:12], "big")
        if request[7] in (3, 4):
            return registers(request, *[1000] * count)
        return reply(request, bytes([request[7], 1, 0xFF]))

    server = scripted(answer)
    status, shown = probed(kiln_text.replace("port = 5020", f"port = {server.port}"))
    assert (status, "door" in shown, "100.0 C" in shown) == (0, True, True)
    assert {request[7] for request in server.requests} <= READS


def test_a_board_is_asked_what_it_is_and_how_it_is_and_nothing_else(probed) -> None:
    board = Scripted()
    status, shown = probed(BOARD_KILN.replace("@BOARD", board.port))
    board.close()
    assert (status, set(board.kinds())) == (0, {"I", "R"})
    assert "reader air │ board │ channel 0 │ 20.0 │ 20.0 C" in shown


def test_a_kiln_that_does_not_answer_is_shown_with_the_reason(probed) -> None:
    status, shown = probed(RTU_KILN.replace("@RTU", "/dev/no-such-port"))
    assert status == 1
    assert "nothing" in shown
    assert "cannot open the port (No such file or directory)" in shown


def test_live_it_looks_once_a_tick(far, tmp_path) -> None:
    path = tmp_path / "kiln.toml"
    path.write_text(RTU_KILN.replace("@RTU", far.port))
    config = load_kiln(path)
    now_s = itertools.count(0.0, 0.25)
    slept = []
    inputs = open_inputs(config, lambda: 0.0)
    looks = probe.looks(config, inputs, lambda: next(now_s), slept.append)
    assert [whole for whole, _ in itertools.islice(looks, 3)] == [True] * 3
    inputs.close()
    assert slept == [0.75, 0.75]


def test_live_it_ends_with_ctrl_c(far, tmp_path, monkeypatch, capsys) -> None:
    path = tmp_path / "kiln.toml"
    path.write_text(RTU_KILN.replace("@RTU", far.port))

    def interrupt(_: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(probe.time, "sleep", interrupt)
    assert cli.main(["probe", "--kiln", str(path)]) == 0
    assert "reader air" in capsys.readouterr().out
