"""What a kiln's file may say of thermocouples, serial lines and boards, and every mistake in it."""

from datetime import date

import pytest

from controller.config import read_kiln
from controller.schedule.located import FileProblems
from controller.wire.kiln_wire import wire_over
from tests.wire.test_open_serial import BOARD_KILN, RTU_KILN

MILLIVOLTS = """\
[reader.enclosure]
bus = "io"
function = "input"
address = 2
scale = 0.1

[reader.load]
thermocouple = "K"
class = 1
cold_junction = "enclosure"
bus = "io"
function = "input"
address = 1
type = "uint16"
scale = 0.001
"""
CALIBRATION = """\
[reader.load.calibration]
certificate = "number 0417, the test house in Eastmoor"
due = 2027-03-02
points = [{ at = "0 C", correction = "1 K" }, { at = "1000 C", correction = "-9 K" }]

[reader.limit]
"""


@pytest.fixture
def in_millivolts(kiln_text) -> str:
    """Return a kiln whose load is measured in microvolts, with a cold junction beside it."""
    head, tail = kiln_text.split("[reader.load]\n")[0], kiln_text.split("[reader.limit]")[1]
    return head + MILLIVOLTS + "\n[reader.limit]" + tail


def problems(text: str) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        read_kiln(text, "kiln.toml")
    return [str(problem).removeprefix("kiln.toml:") for problem in caught.value.problems]


def load(text: str, memory, clock):
    """Return what a poll says of the load."""
    return wire_over(read_kiln(text, "kiln.toml"), {"io": memory}, clock)[0].poll().readings["load"]


def test_millivolts_are_compensated_in_millivolts(in_millivolts, memory, clock) -> None:
    # Type K, hot 815 C, cold junction 25 C: 32.889043 mV (NIST Monograph 175, with another package). Adding
    # 25 C to what 32.889 mV alone would be gives 815.6 C.
    memory.put(1, "input", 1, 32889, 250)
    assert load(in_millivolts, memory, clock).value_c == pytest.approx(815.0, abs=0.03)
    memory.put(1, "input", 2, 350)  # the box warms by 10 K: the same voltage, a hotter junction
    assert load(in_millivolts, memory, clock).value_c == pytest.approx(825.0, abs=0.6)


def test_without_its_cold_junction_there_is_no_temperature(in_millivolts, memory, clock) -> None:
    memory.put(1, "input", 1, 32889, 5000)
    found = load(
        in_millivolts.replace(
            "scale = 0.1\n\n[reader.load]", 'scale = 0.1\nhighest = "100 C"\n\n[reader.load]'
        ),
        memory,
        clock,
    )
    assert found.value_c is None
    assert found.fault.startswith("its cold junction is not known: out of range")


def test_millivolts_beyond_the_thermocouple_are_a_fault(in_millivolts, memory, clock) -> None:
    memory.put(1, "input", 1, 60000, 250)
    found = load(in_millivolts, memory, clock)
    assert found.value_c is None
    assert "thermocouple type K" in found.fault


def test_a_cold_junction_older_than_its_reading_tells_the_older_time(in_millivolts, memory, clock) -> None:
    text = in_millivolts.replace('cold_junction = "enclosure"', 'cold_junction = "enclosure"\nunit = 2')
    memory.put(1, "input", 2, 250)
    memory.put(2, "input", 1, 32889)
    ask = memory.read
    memory.read = lambda *question: (clock.tick(), ask(*question))[1]
    polled = wire_over(read_kiln(text, "kiln.toml"), {"io": memory}, clock)[0].poll()
    assert polled.readings["load"].at_s == polled.readings["enclosure"].at_s < clock.now_s


def test_a_reading_older_than_its_cold_junction_tells_the_older_time(in_millivolts, memory, clock) -> None:
    text = in_millivolts.replace("address = 2\n", "address = 2\nunit = 2\n")
    memory.put(1, "input", 1, 32889)
    memory.put(2, "input", 2, 250)
    inputs = wire_over(read_kiln(text, "kiln.toml"), {"io": memory}, clock)[0]
    first_s = clock.now_s
    assert inputs.poll().readings["load"].at_s == first_s
    ask = memory.read
    memory.read = lambda *question: (clock.tick(), ask(*question))[1]
    polled = inputs.poll()
    assert polled.readings["enclosure"].at_s > polled.readings["air"].at_s  # unit 2 is asked after unit 1
    assert polled.readings["load"].at_s == polled.readings["air"].at_s
    first_s = polled.readings["enclosure"].at_s
    memory.dead.add(2)
    found = inputs.poll().readings["load"]
    assert (found.value_c, found.at_s) == (None, first_s)


def test_a_calibration_is_applied_and_kept_in_the_kilns_text(kiln_text, memory, clock) -> None:
    text = kiln_text.replace("[reader.limit]\n", CALIBRATION)
    kiln = read_kiln(text, "kiln.toml")
    calibration = kiln.readers["load"].calibration
    assert (calibration.due_on, len(calibration.points)) == (date(2027, 3, 2), 2)
    assert "number 0417" in kiln.text
    memory.put(1, "input", 1, 5000)
    assert load(text, memory, clock).value_c == pytest.approx(500.0 - 4.0)


def test_a_calibrations_mistakes_are_told_with_their_lines(kiln_text) -> None:
    text = kiln_text.replace(
        "[reader.limit]\n", CALIBRATION.replace("-9 K", "-90 K").replace("2027-03-02", '"soon"')
    )
    line = 1 + text[: text.index("due =")].count("\n")
    told = problems(text)
    assert told[0].startswith(f"{line}: reader.load.calibration.due: found ")
    text = kiln_text.replace("[reader.limit]\n", CALIBRATION.replace("-9 K", "-90 K"))
    assert problems(text)[0].startswith(
        f"{line + 1}: reader.load.calibration.points.1.correction: found -90 K"
    )


@pytest.mark.parametrize(
    ("letter", "class_", "at_c", "band_k"),
    # IEC 60584-1, by way of two secondary pages that agree.
    [
        ("K", 1, 815.0, 3.26),
        ("K", 2, 815.0, 6.1125),
        ("N", 1, 100.0, 1.5),
        ("S", 2, 815.0, 2.0375),
        ("K", 1, 1100.0, None),
    ],
)
def test_a_class_tells_how_far_a_reading_may_be_off(kiln_text, letter, class_, at_c, band_k) -> None:
    text = kiln_text.replace("scale = 0.1", f'scale = 0.1\nthermocouple = "{letter}"\nclass = {class_}', 1)
    found = read_kiln(text, "kiln.toml").readers["air"].band_k(at_c)
    assert found == (None if band_k is None else pytest.approx(band_k))


def test_without_a_class_no_band_is_told(kiln) -> None:
    assert kiln.readers["air"].band_k(815.0) is None


OTHER_BUS = 'bus = "io2"\nfunction = "input"\naddress = 2'
MISTAKES = [
    ('cold_junction = "enclosure"', 'cold_junction = "box"', "reader.load.cold_junction", '"air" or "load"'),
    ('cold_junction = "enclosure"', 'cold_junction = "load"', "reader.load.cold_junction", "by itself"),
    ("[reader.enclosure]", "[reader.limit]", "reader.load.cold_junction", "is not there"),
    ('thermocouple = "K"\n', "", "reader.load.cold_junction", "makes a temperature"),
    ('thermocouple = "K"\n', "", "reader.load.class", "a class is that of a type"),
    ('thermocouple = "K"', 'thermocouple = "Q"', "reader.load.thermocouple", '"B" or "E"'),
    ('thermocouple = "K"\nclass = 1', 'thermocouple = "B"\nclass = 1', "reader.load.class", "2 or 3"),
    ("class = 1", "class = 4", "reader.load.class", "from 1 to 3"),
    ('thermocouple = "K"\nclass = 1', 'thermocouple = "B"', "reader.load.thermocouple", "in a cold kiln"),
    (
        'cold_junction = "enclosure"',
        'cold_junction = "enclosure"\ndegrees = "F"',
        "reader.load.degrees",
        "millivolts",
    ),
    ('bus = "io"\nfunction = "input"\naddress = 2', OTHER_BUS, "reader.load.cold_junction", "same bus"),
]


@pytest.mark.parametrize(("old", "new", "where", "expected"), MISTAKES)
def test_a_mistake_about_a_thermocouple_is_told(in_millivolts, old, new, where, expected) -> None:
    text = in_millivolts.replace(old, new, 1)
    if "io2" in new:
        text = text.replace(
            "[reader.air]", '[bus.io2]\nkind = "modbus-tcp"\nhost = "192.0.2.9"\n\n[reader.air]'
        )
    if "limit" in new:
        text = text[: text.rindex("[reader.limit]")] + text[text.index("[contact.door]") :]
    told = [line for line in problems(text) if f": {where}: " in line]
    assert len(told) == 1
    assert expected in told[0].split(", expected ")[-1]


SERIAL_MISTAKES = [
    (RTU_KILN, 'port = "@RTU"', 'port = "@RTU"\nbaud = 12345', "bus.line.baud", "one of 1200, 2400"),
    (RTU_KILN, 'port = "@RTU"', 'port = "@RTU"\nbaud = true', "bus.line.baud", "one of 1200, 2400"),
    (
        RTU_KILN,
        'port = "@RTU"',
        'port = "@RTU"\nparity = "E"',
        "bus.line.parity",
        '"none" or "even" or "odd"',
    ),
    (RTU_KILN, 'port = "@RTU"', 'port = "@RTU"\nhost = "x"', "bus.line.host", "one of: kind"),
    (RTU_KILN, "100 ms", "170 ms", "bus.line.timeout", "at most half a tick (500 ms)"),
    (RTU_KILN, '"100 ms"', '"130 ms"\nretries = 3', "bus.line.timeout", "at most half a tick (500 ms)"),
    (BOARD_KILN, "channel = 0", "channel = 3", "reader.air.channel", "from 0 to 2"),
    (BOARD_KILN, "channel = 0", "channel = 0\naddress = 1", "reader.air.address", "one of: bus"),
    (BOARD_KILN, "channel = 0", "channel = 0\nuv_per_k = 41", "reader.air.uv_per_k", "true curve"),
    (
        BOARD_KILN,
        "contact.door",
        "contact.presence",
        "contact.presence.bus",
        "a board has door, emergency_stop",
    ),
    (BOARD_KILN, 'read_back = "pin"', 'read_back = "no"', "bus.board.read_back", '"pin" or "proven"'),
    (
        BOARD_KILN,
        'read_back = "pin"',
        'timeout = "600 ms"',
        "bus.board.timeout",
        "at most half a tick (500 ms)",
    ),
    (
        BOARD_KILN,
        '[main_contactor]\nbus = "board"',
        '[bus.two]\nkind = "board"\nport = "@BOARD"\n\n[main_contactor]\nbus = "two"',
        "main_contactor.bus",
        "switches both or none",
    ),
    (
        BOARD_KILN,
        "[reader.air]",
        '[bus.two]\nkind = "modbus-rtu"\nport = "@BOARD"\n\n[reader.air]',
        "bus.two.port",
        "a port of its own",
    ),
    (
        RTU_KILN,
        "address = 0 }",
        'address = 0, bus = "board" }\n\n[bus.board]\nkind = "board"\nport = "p"',
        "heater.read_back.bus",
        "no board",
    ),
]


@pytest.mark.parametrize(("text", "old", "new", "where", "expected"), SERIAL_MISTAKES)
def test_a_mistake_about_a_serial_port_is_told(text, old, new, where, expected) -> None:
    assert old in text
    told = [line for line in problems(text.replace(old, new, 1)) if f": {where}: " in line]
    assert len(told) == 1
    assert expected in told[0].split(", expected ", 1)[-1]


def test_the_longest_timeouts_that_fit_are_taken() -> None:
    read_kiln(RTU_KILN.replace("100 ms", "166 ms"), "kiln.toml")  # three instruments
    read_kiln('tick = "600 ms"\n' + RTU_KILN, "kiln.toml")
    read_kiln(RTU_KILN.replace('"100 ms"', '"125 ms"\nretries = 3'), "kiln.toml")
