"""What the board makes of its sensors: readings, faults, and its own temperature limit."""

import pytest

from controller.wire.board_line import Flag, Sensor

pytestmark = pytest.mark.wire

SOON_MS = 110  # sensors are read every 100 ms
KINDS = {
    "open": "open",
    "ground": "shorted to ground",
    "supply": "shorted to the supply",
    "absent": "the converter does not answer",
    "unsaid": "the converter does not answer",
}


@pytest.fixture
def known(board):
    """Return the driver's line to a board whose restart is acknowledged."""
    board.acknowledge()
    return board


@pytest.mark.parametrize(
    ("hot_c", "cold_c"),
    [(0.25, 0.0), (815.25, 25.0625), (-5.25, -10.0625), (949.75, 84.9375), (-199.75, -40.0), (0.0, 0.0625)],
)
def test_a_temperature_arrives_to_the_hundredth(chip, known, hot_c, cold_c) -> None:
    chip.temperature(1, hot_c)
    chip.cold_junction(1, cold_c)
    chip.run(SOON_MS)
    sensor = known.status().sensors[1]
    assert sensor.hot_c == hot_c
    assert sensor.cold_c == pytest.approx(cold_c, abs=0.01)
    assert abs(sensor.cold_c) <= abs(cold_c)


def test_the_sensors_are_not_mixed_up(chip, known) -> None:
    chip.temperature(0, 111.25)
    chip.temperature(1, 222.5)
    chip.run(SOON_MS)
    assert [sensor.hot_c for sensor in known.status().sensors] == [111.25, 222.5]


@pytest.mark.parametrize("channel", [0, 1])
@pytest.mark.parametrize("kind", list(KINDS))
def test_a_sensor_at_fault_ends_the_heat(chip, known, kind, channel) -> None:
    known.order(9000, True)
    chip.sensor(channel, kind)
    chip.run(SOON_MS)
    assert not chip.heat()
    assert chip.main()
    status = known.status()
    assert status.flags == Flag.SENSOR
    assert status.sensors[channel].hot_c is None
    assert status.sensors[channel].fault == KINDS[kind]
    assert status.sensors[1 - channel] == Sensor(20.0, None, 25.0)
    assert not known.order(3000, True).heat_pin
    chip.sensor(channel, "none")
    chip.run(SOON_MS)
    assert not chip.heat()
    assert known.order(3000, True).heat_pin


def test_before_the_first_reading_there_is_none_and_no_heat(chip, known) -> None:
    chip.reset("power")
    chip.run(20)
    status = known.acknowledge()
    assert status.flags == Flag.SENSOR
    assert [sensor.hot_c for sensor in status.sensors] == [None, None]


def test_just_below_the_limit_is_quiet(chip, known) -> None:
    known.order(9000, True)
    chip.temperature(0, 949.75)
    chip.run(5000)
    assert chip.heat()
    assert known.status().flags == Flag(0)


def test_one_reading_over_the_limit_ends_the_heat_and_latches_nothing(chip, known) -> None:
    known.order(9000, True)
    chip.temperature(1, 950.0)
    chip.run(SOON_MS)
    chip.temperature(1, 900.0)
    assert not chip.heat()
    assert chip.main()
    chip.run(SOON_MS)
    assert known.order(3000, True).heat_pin


@pytest.mark.parametrize("channel", [0, 1])
def test_the_limit_latches_until_the_supply_is_switched_off_and_on(chip, known, channel) -> None:
    known.order(9000, True)
    chip.temperature(channel, 950.0)
    chip.run(400)
    assert not chip.heat()
    assert not chip.main()
    assert known.status().flags == Flag.LIMIT | Flag.OVER
    chip.temperature(channel, 20.0)
    chip.run(1000)
    assert known.order(3000, True).flags == Flag.LIMIT
    assert known.acknowledge().flags == Flag.LIMIT
    for kind in ("external", "brown-out"):
        chip.reset(kind)
        chip.run(300)
        assert known.acknowledge().flags == Flag.LIMIT
    chip.hang("all")
    chip.run(1000)
    known.acknowledge()
    refused = known.order(3000, True)
    assert refused.flags == Flag.LIMIT
    assert (refused.heat_pin, refused.main_pin) == (False, False)
    chip.reset("power")
    chip.run(300)
    assert known.acknowledge().flags == Flag(0)
    assert known.order(3000, True).heat_pin


def test_a_brown_out_that_spoilt_the_memory_counts_as_latched(chip, known) -> None:
    chip.reset("brown-out", spoil_memory=True)
    chip.run(300)
    assert known.acknowledge().flags == Flag.LIMIT


def test_the_driver_says_what_is_wrong_in_words(chip, kiln) -> None:
    inputs, heat = kiln
    heat.close_main()
    chip.sensor(0, "open")
    chip.temperature(1, 950.0)
    chip.run(400)
    polled = inputs.poll()
    assert polled.readings["air"].value_c is None
    assert polled.readings["air"].fault == "open"
    assert polled.readings["load"].value_c == 950.0
    assert polled.readings["enclosure"].value_c == 25.0
    assert "its own temperature limit has latched" in polled.errors[0]
    assert (polled.heat_on, polled.main_on) == (False, False)
