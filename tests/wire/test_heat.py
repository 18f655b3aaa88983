"""The heat output: the lease goes out before the heat, and what fails says so."""

import pytest

from controller.config import read_kiln
from controller.errors import WireError
from controller.wire.heat import ModbusHeatOutput
from controller.wire.kiln_wire import wire_over


@pytest.fixture
def heat(kiln, memory, clock) -> ModbusHeatOutput:
    return wire_over(kiln, {"io": memory}, clock)[1]


@pytest.fixture
def heat_with(kiln_text, memory, clock):
    """Return a heat output whose configuration was changed."""

    def make(old: str, new: str) -> ModbusHeatOutput:
        assert old in kiln_text
        return wire_over(read_kiln(kiln_text.replace(old, new), "kiln.toml"), {"io": memory}, clock)[1]

    return make


def test_the_lease_goes_out_before_the_heat(heat, memory) -> None:
    heat.energise(3.0)
    assert memory.calls == [(1, "registers", 10, [3000]), (1, "coil", 0, True)]


def test_every_call_renews_the_lease(heat, memory) -> None:
    for _ in range(3):
        heat.energise(3.0)
    assert memory.calls == [(1, "registers", 10, [3000]), (1, "coil", 0, True)] * 3


def test_without_a_lease_in_the_hardware_there_is_no_heat(heat, memory, monkeypatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise WireError("no answer")

    monkeypatch.setattr(memory, "write_registers", fail)
    with pytest.raises(WireError):
        heat.energise(3.0)
    assert memory.calls == []


@pytest.mark.parametrize(
    ("watchdog", "lease_s", "registers"),
    [
        ("{ address = 10, scale_ms = 100 }", 3.0, [30]),
        ("{ address = 10, scale_ms = 100 }", 2.99, [29]),  # rounded down: the hardware never ends it late
        ("{ address = 10, scale_ms = 100 }", 0.3, [3]),
        ("{ address = 10, scale_ms = 100 }", 0.1, [1]),
        ('{ address = 10, type = "uint32", order = "word-swapped", scale_ms = 0.01 }', 3.0, [0x93E0, 4]),
        ('{ address = 10, type = "float32", scale_ms = 1000 }', 3.0, [0x4040, 0]),
    ],
)
def test_the_watchdog_has_its_own_type_and_scale(heat_with, memory, watchdog, lease_s, registers) -> None:
    heat_with("{ address = 10 }", watchdog).energise(lease_s)
    assert memory.calls[0] == (1, "registers", 10, registers)


@pytest.mark.parametrize("lease_s", [0.0, 0.0004, -1.0, 1e9, float("nan"), float("inf")])
def test_a_lease_that_the_hardware_cannot_hold_is_refused_and_gives_no_heat(heat, memory, lease_s) -> None:
    with pytest.raises(WireError, match="lease"):
        heat.energise(lease_s)
    assert memory.calls == []


def test_a_heater_without_a_watchdog_says_so(heat, heat_with, memory) -> None:
    plain = heat_with("watchdog = { address = 10 }\n", "")
    plain.energise(3.0)
    assert memory.calls == [(1, "coil", 0, True)]
    assert (heat.has_hardware_lease, plain.has_hardware_lease) == (True, False)


def test_dropping_switches_off_and_is_urgent_while_heating_is_not(heat, memory) -> None:
    heat.energise(3.0)
    heat.drop()
    assert memory.calls[-1] == (1, "coil", 0, False)
    assert memory.urgent == [False, False, True]


def test_a_heater_in_a_register_is_written_its_own_numbers(heat_with, memory) -> None:
    heat = heat_with(
        'kind = "coil"\naddress = 0\npower', 'kind = "register"\non = 0xFF00\noff = 7\naddress = 5\npower'
    )
    heat.energise(3.0)
    heat.drop()
    assert memory.calls[1:] == [(1, "registers", 5, [0xFF00]), (1, "registers", 5, [7])]


def test_the_main_contactor_opens_urgently_and_closes(heat, memory) -> None:
    heat.open_main()
    heat.close_main()
    assert memory.calls == [(1, "coil", 1, False), (1, "coil", 1, True)]
    assert memory.urgent == [True, False]
    assert heat.has_main_contactor


def test_without_a_main_contactor_nothing_is_written(kiln_text, memory, clock) -> None:
    config = read_kiln(kiln_text[: kiln_text.index("[main_contactor]")], "kiln.toml")
    heat = wire_over(config, {"io": memory}, clock)[1]
    heat.open_main()
    heat.close_main()
    assert memory.calls == []
    assert not heat.has_main_contactor


@pytest.mark.parametrize("call", ["drop", "open_main", "close_main"])
def test_what_fails_says_so(heat, memory, call) -> None:
    memory.dead.add(1)
    with pytest.raises(WireError, match="no answer"):
        getattr(heat, call)()
