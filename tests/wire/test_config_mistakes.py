"""Every mistake in a kiln's file is told with its line, all at once."""

import re

import pytest

from controller.config import load_kiln, read_kiln
from controller.errors import UsageError
from controller.schedule.located import FileProblems


def problems(text: str) -> list[str]:
    """Return every problem of a file as "LINE: WHERE: found ..., expected ..."."""
    with pytest.raises(FileProblems) as caught:
        read_kiln(text, "kiln.toml")
    return [str(problem).removeprefix("kiln.toml:") for problem in caught.value.problems]


MISTAKES = [
    # what is changed, into what, where, what is found, what is expected
    ('ceiling = "900 C"', 'ceiling = "900"', "ceiling", '"900", without a unit', "a temperature from 50 C"),
    ('ceiling = "900 C"', "ceiling = 900", "ceiling", "900, without a unit", "a temperature from 50 C"),
    ('ceiling = "900 C"', 'ceiling = "9000 C"', "ceiling", '"9000 C"', "a temperature from 50 C to 1750 C"),
    ('ceiling = "900 C"', 'ceiling = "nan C"', "ceiling", '"nan C"', "a temperature"),
    ('name = "A kiln for tests"', "name = 3", "name", "3", "a text"),
    ('name = "A kiln for tests"', 'name = "x"\nsimulated = "no"', "simulated", '"no"', "true or false"),
    ('name = "A kiln for tests"', 'name = "x"\ntick = "9 s"', "tick", '"9 s"', "from 100 ms to 5 s"),
    ('name = "A kiln for tests"', 'name = "x"\ntariff = "0.3"', "tariff", '"0.3"', 'such as "0.31 EUR/kWh"'),
    ('name = "A kiln for tests"', 'name = "x"\ntariff = 0.3', "tariff", "0.3", 'such as "0.31 EUR/kWh"'),
    (
        'name = "A kiln for tests"',
        'name = "x"\nrelay_life = 10',
        "relay_life",
        "10",
        "from 1000 to 100000000",
    ),
    ('kind = "modbus-tcp"', 'kind = "modbus-udp"', "bus.io.kind", '"modbus-udp"', '"modbus-tcp"'),
    ("port = 5020", "port = 70000", "bus.io.port", "70000", "a whole number from 1 to 65535"),
    ("port = 5020", "port = true", "bus.io.port", "true", "a whole number from 1 to 65535"),
    ('timeout = "200 ms"', 'timeout = "600 ms"', "bus.io.timeout", "600 ms with its retries", "at most half"),
    ("address = 0\n", "address = 1.5\n", "reader.air.address", "1.5", "a whole number from 0 to 65535"),
    ("address = 0\n", "address = 40001000\n", "reader.air.address", "40001000", "from 0 to 65535"),
    ("address = 4\n", "address = 65535\n", "reader.limit.address", "65535", "room for two registers"),
    ('function = "input"', 'function = "inputs"', "reader.air.function", '"inputs"', '"input" or "holding"'),
    ('type = "int16"', 'type = "int61"', "reader.air.type", '"int61"', '"int16" or "uint16"'),
    ("scale = 0.1", "scale = 0", "reader.air.scale", "0", "a number that is not 0"),
    ("scale = 0.1", "scale = inf", "reader.air.scale", "inf", "a number"),
    ("scale = 0.1", "unit = 0", "reader.air.unit", "0", "a unit from 1 to 247, or 255"),
    ("scale = 0.1", 'order = "ABCD"', "reader.air.order", '"ABCD"', '"big" or "word-swapped"'),
    ("scale = 0.1", 'highest = "800 C"', "reader.air.highest", "800 C", "more than the ceiling (900 C)"),
    ("scale = 0.1", 'lowest = "2 kC"', "reader.air.lowest", '"2 kC"', "a temperature from -273 C to 100 C"),
    (
        "fault_values = [32767]",
        "fault_values = 32767",
        "reader.air.fault_values",
        "32767",
        "a list of numbers",
    ),
    (
        "fault_values = [32767]",
        "fault_values = [70000]",
        "reader.air.fault_values",
        "70000",
        "int16 can hold",
    ),
    ("fault_values = [32767]", "fault_values = [1.5]", "reader.air.fault_values", "1.5", "int16 can hold"),
    ("[reader.load]", '[vent]\nflow = "20"\n[reader.load]', "vent.flow", '"20"', "from 0 m3/h to 5000 m3/h"),
    (
        "[reader.load]",
        '[vent]\nrate = "2 m3/h"\n[reader.load]',
        "vent.rate",
        'the unknown key "rate"',
        "one of: flow",
    ),
    ("[reader.load]", "[reader.lode]", "reader.lode", 'the unknown key "lode"', '"load"'),
    ("[contact.door]", "[contact.window]", "contact.window", 'the unknown key "window"', "one of: door"),
    ('power = "6500 W"', 'power = "6500 J"', "heater.power", '"6500 J"', 'from "10 W" to "500000 W"'),
    ('power = "6500 W"', 'power = "7 kW"\non = false', "heater.on", "an inverted coil", "no power, no heat"),
    ('power = "6500 W"', 'power = "7 kW"\non = 70000', "heater.on", "70000", "from 0 to 65535"),
    (
        "{ address = 10 }",
        "{ adress = 10 }",
        "heater.watchdog.adress",
        'the unknown key "adress"',
        '"address"',
    ),
    ("{ address = 10 }", "10", "heater.watchdog", "10", "a table"),
    (
        "{ address = 10 }",
        "{ address = 10, scale_ms = 5000 }",
        "heater.watchdog.scale_ms",
        "5000",
        "the lease",
    ),
    (
        "{ address = 10 }",
        "{ address = 10, scale_ms = 0.01 }",
        "heater.watchdog.scale_ms",
        "0.01",
        "65535 counts",
    ),
    ('"coil", address = 0 }', '"coil", address = 0, bit = 1 }', "heater.read_back.bit", "1", "no bit"),
    ('"coil", address = 0 }', '"coil", address = 0, on = 2 }', "heater.read_back.on", "2", "true or false"),
    ('"coil", address = 0 }', '"coil", address = 0, bus = "oi" }', "heater.read_back.bus", '"oi"', '"io"'),
    (
        'kind = "coil"\naddress = 1',
        'kind = "coil"\naddress = 0',
        "main_contactor.address",
        "0, the h",
        "its own",
    ),
]


@pytest.mark.parametrize(("old", "new", "where", "found", "expected"), MISTAKES)
def test_a_mistake_names_its_line_what_was_found_and_what_was_expected(
    kiln_text, old, new, where, found, expected
) -> None:
    text = kiln_text.replace(old, new, 1)
    told = [line for line in problems(text) if f": {where}: " in line]
    assert len(told) == 1
    number, _, said, hoped = re.fullmatch(r"(\d+): (.*): found (.*), expected (.*)", told[0]).groups()
    key = where.rsplit(".", 1)[-1]
    assert key in text.split("\n")[int(number) - 1]
    assert found in said
    assert expected in hoped


def test_a_wrong_value_at_the_top_is_the_only_mistake_told(kiln_text) -> None:
    assert problems(kiln_text.replace('"900 C"', '"900"')) == [
        '2: ceiling: found "900", without a unit, expected a temperature from 50 C to 1750 C'
    ]


def test_an_unknown_key_is_told_with_the_nearest_known_one(kiln_text) -> None:
    text = 'tik = "1 s"\nmain_contacter = 1\nqqq = 2\n' + kiln_text + '[guard]\nstall = "9 s"\n'
    told = problems(text)
    assert told[0] == '1: tik: found the unknown key "tik", expected "tick"'
    assert told[1] == '2: main_contacter: found the unknown key "main_contacter", expected "main_contactor"'
    assert told[2].startswith(
        '3: qqq: found the unknown key "qqq", expected one of: name, simulated, ceiling'
    )
    assert told[3].endswith('guard.stall: found the unknown key "stall", expected "stale"')


def test_everything_that_is_missing_from_an_empty_file_is_told() -> None:
    assert [line.split(": found")[0] for line in problems("")] == [
        *("1: name", "1: ceiling", "1: bus", "1: reader.air", "1: heater")
    ]


def test_all_mistakes_are_told_at_once_in_the_order_of_their_lines(kiln_text) -> None:
    text = (
        kiln_text.replace('"900 C"', '"900"').replace("port = 5020", "port = 0").replace("bus =", "bsu =", 1)
    )
    text = text.replace('bus = "io"', 'bus = "oi"', 1)
    told = problems(text)
    assert [line.split(": found")[0].split(": ")[1] for line in told] == [
        "ceiling",
        "bus.io.port",
        "reader.air.bus",
        "reader.air.bsu",
        "reader.load.bus",
    ]


@pytest.mark.parametrize(
    ("lease", "wrong"), [("1 s", True), ("1.1 s", False), ("30 s", False), ("31 s", True), ("200 ms", True)]
)
def test_a_lease_is_longer_than_a_tick_and_not_above_30_s(kiln_text, lease, wrong) -> None:
    text = f'lease = "{lease}"\n{kiln_text}'
    if wrong:
        assert problems(text)[0].startswith("1: lease: found")
    else:
        read_kiln(text, "kiln.toml")


def test_retries_count_in_what_a_silent_unit_costs(kiln_text) -> None:
    read_kiln(kiln_text.replace('"200 ms"', '"250 ms"\nretries = 1'), "kiln.toml")
    told = problems(kiln_text.replace('"200 ms"', '"250 ms"\nretries = 2'))
    assert told == ["8: bus.io.timeout: found 750 ms with its retries, expected at most half a tick (500 ms)"]


def test_a_reading_is_stale_only_after_a_tick(kiln_text) -> None:
    text = kiln_text.replace("\n", '\ntick = "2 s"\n', 1) + '[guard]\nstale = "@"\n'
    read_kiln(text.replace("@", "2.1 s"), "kiln.toml")
    assert problems(text.replace("@", "2 s"))[0].endswith(
        "guard.stale: found 2 s, expected longer than a tick (2 s)"
    )


def test_a_sensors_range_has_two_ends(kiln_text) -> None:
    text = kiln_text.replace("[reader.load]", "[reader.enclosure]")
    text = text.replace("address = 1\n", 'address = 1\nlowest = "60 C"\nhighest = "@"\n', 1)
    assert read_kiln(text.replace("@", "61 C"), "kiln.toml").readers["enclosure"].highest_c == 61.0
    told = problems(text.replace("@", "60 C"))
    assert [line.split(": ", 1)[1] for line in told] == [
        "reader.enclosure.lowest: found 60 C, expected less than highest (60 C)"
    ]


@pytest.mark.parametrize(
    ("type_", "good", "bad"),
    [
        ("int16", [-(2**15), 2**16 - 1], [-(2**15) - 1, 2**16]),
        ("uint16", [0, 2**16 - 1], [-1, 2**16]),
        ("int32", [-(2**31), 2**32 - 1], [-(2**31) - 1, 2**32]),
        ("uint32", [0, 2**32 - 1], [-1, 2**32]),
        ("float32", [-3.4e38, 3.4e38, 0.5], [-3.41e38, 3.41e38]),
    ],
)
def test_a_fault_value_is_one_that_the_type_can_hold(kiln_text, type_, good, bad) -> None:
    text = kiln_text.replace('type = "float32"', f'type = "{type_}"\nfault_values = @')
    assert read_kiln(text.replace("@", str(good)), "kiln.toml").readers["limit"].fault_values == tuple(good)
    for value in bad:
        assert f"what {type_} can hold" in problems(text.replace("@", str([value])))[0]


@pytest.mark.parametrize(
    ("watchdog", "good"),
    [
        ("scale_ms = 3000", True),  # one count
        ("scale_ms = 3001", False),
        ("scale_ms = 0.1", True),  # 30,000 counts
        ('type = "int16", scale_ms = 0.1', True),
        ('type = "int16", scale_ms = 0.09', False),  # 33,333 counts, above 32,767
        ("scale_ms = 0.09", True),
        ("scale_ms = 0.045", False),  # 66,667 counts, above 65,535
        ('type = "uint32", scale_ms = 0.045', True),
    ],
)
def test_the_lease_fits_the_watchdogs_register(kiln_text, watchdog, good) -> None:
    text = kiln_text.replace("{ address = 10 }", f"{{ address = 10, {watchdog} }}")
    if good:
        read_kiln(text, "kiln.toml")
    else:
        assert "the lease (3 s) is from 1 to" in problems(text)[0]


@pytest.mark.parametrize("type_", ["int16", "uint16"])
def test_a_number_of_one_register_may_stand_at_the_last_address(kiln_text, type_) -> None:
    text = kiln_text.replace("{ address = 10 }", f'{{ address = 65535, type = "{type_}" }}')
    text = text.replace('address = 4\ntype = "float32"', f'address = 65535\ntype = "{type_}"')
    assert read_kiln(text, "kiln.toml").readers["limit"].address == 65535


@pytest.mark.parametrize("table", ["bus", "reader", "contact"])
def test_a_value_where_tables_are_expected_is_told(kiln_text, table) -> None:
    parts = [part for part in kiln_text.split("\n\n") if not part.startswith(f"[{table}.")]
    told = problems(f"{table} = 3\n" + "\n\n".join(parts))
    assert f"1: {table}: found 3, expected tables [{table}.NAME]" in told


def test_shortest_on_and_off_fit_into_the_cycle(kiln_text) -> None:
    cycle = '[control]\ncycle = "{}"\nshortest_on = "2 s"\nshortest_off = "3 s"\n'
    read_kiln(kiln_text + cycle.format("5 s"), "kiln.toml")
    assert "shortest_on and shortest_off together" in problems(kiln_text + cycle.format("4.9 s"))[0]


def test_a_register_heater_needs_two_different_numbers(kiln_text) -> None:
    text = kiln_text.replace('kind = "coil"', 'kind = "register"\non = 5\noff = 5', 1)
    assert "heater.off: found 5, expected a number other than on" in problems(text)[0]


def test_bad_toml_names_its_line(kiln_text) -> None:
    assert problems(kiln_text.replace('host = "127.0.0.1"', "host = 127.0.0.1"))[0].startswith("6: not TOML")


def test_a_file_that_is_not_there_is_one_line(tmp_path) -> None:
    with pytest.raises(UsageError, match="cannot be read"):
        load_kiln(tmp_path / "no.toml")
