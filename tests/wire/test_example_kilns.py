"""The example configurations: each loads, can be opened, and carries its cautions and its advice."""

from pathlib import Path

import pytest

from controller.config import BoardHeaterConfig, RtuBusConfig, load_kiln
from controller.wire.kiln_wire import open_wire, wire_over

FOLDER = Path(__file__).parents[2] / "hardware_notes" / "kilns"
EXAMPLES = sorted(FOLDER.glob("*.toml"))


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 6


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_loads_and_its_wire_can_be_opened(path, clock) -> None:
    kiln = load_kiln(path)
    inputs, heat = open_wire(kiln, clock)  # nothing is asked yet
    inputs.close()
    assert heat.has_main_contactor or heat.has_hardware_lease
    assert {"door", "emergency_stop"} <= set(kiln.contacts)
    assert not kiln.simulated


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_begins_with_its_cautions_and_tells_where_the_numbers_come_from(path) -> None:
    text = " ".join(path.read_text().replace("#", " ").split())
    before_the_first_key = text[: text.index("name =")]
    for needed in (
        "independent over-temperature limit, with its own sensor and its own contactor",
        "fused and earthed",
        "local electrical code",
        "licensed electrician",
        "HOW TO FIND THE NUMBERS",
        "address: counts from zero",
    ):
        assert needed in before_the_first_key


def test_the_examples_show_what_they_are_said_to_show() -> None:
    tenths = load_kiln(FOLDER / "tenths_reader_and_relay_board.toml")
    assert [(r.type, r.scale) for r in tenths.readers.values()] == [("int16", 0.1)] * 4
    timed = load_kiln(FOLDER / "float_reader_and_timed_relay.toml")
    assert {(r.type, r.order) for r in timed.readers.values()} == {("float32", "word-swapped")}
    assert timed.heater.watchdog is not None
    gateway = load_kiln(FOLDER / "fahrenheit_reader_behind_a_gateway.toml")
    assert {r.degrees for r in gateway.readers.values()} == {"F"}
    assert gateway.heater.read_back.unit != gateway.heater.unit


def test_floats_of_either_word_order_are_shown() -> None:
    orders = {r.order for path in EXAMPLES for r in load_kiln(path).readers.values() if _is_float(r)}
    assert {"big", "word-swapped"} <= orders


def _is_float(reader) -> bool:
    return getattr(reader, "type", "") == "float32"


def test_a_panel_instrument_is_only_supervised() -> None:
    panel = load_kiln(FOLDER / "supervised_panel_instrument.toml")
    assert {panel.heater.bus, panel.main_contactor.bus} == {"relays"}  # nothing is ever written to "panel"
    assert (panel.shown["panel_setpoint"].bus, panel.shown["panel_setpoint"].in_units) == ("panel", "C")
    assert panel.readers["air"].band_k(815.0) == pytest.approx(3.26)


def test_the_serial_line_measures_millivolts_with_a_certificate(memory, clock) -> None:
    kiln = load_kiln(FOLDER / "serial_line.toml")
    assert isinstance(kiln.buses["line"], RtuBusConfig)
    # Type K, 815 C against terminals at 25 C: 32.889043 mV (NIST Monograph 175, with another package).
    memory.cells.clear()
    memory.put(1, "input", 0, *divmod(32889, 65536), *divmod(32889, 65536))
    memory.put(1, "input", 16, 2500)
    memory.put(2, "discrete", 0, *[True] * 8)
    polled = wire_over(kiln, {"line": memory}, clock)[0].poll()
    assert polled.errors == ()
    assert polled.readings["air"].value_c == pytest.approx(815.0, abs=0.02)
    correction_k = -0.3 - 0.9 * 215 / 300
    assert polled.readings["load"].value_c == pytest.approx(815.0 + correction_k, abs=0.02)


def test_the_board_has_everything_on_it() -> None:
    kiln = load_kiln(FOLDER / "board_of_our_own.toml")
    assert isinstance(kiln.heater, BoardHeaterConfig)
    assert {one.bus for one in (*kiln.readers.values(), *kiln.contacts.values())} == {"board"}
    assert kiln.reads_heat_back
