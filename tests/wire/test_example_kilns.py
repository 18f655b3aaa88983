"""The example configurations: each loads, can be opened, and carries its cautions and its advice."""

from pathlib import Path

import pytest

from controller.config import load_kiln
from controller.wire.kiln_wire import open_wire

FOLDER = Path(__file__).parents[2] / "hardware_notes" / "kilns"
EXAMPLES = sorted(FOLDER.glob("*.toml"))


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 3


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
