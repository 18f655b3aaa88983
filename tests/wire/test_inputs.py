"""A poll says what was measured, and of what could not be measured why; it never raises for the wire."""

import pytest

from controller.config import KilnConfig, read_kiln
from controller.wire.inputs import ModbusInputs
from controller.wire.kiln_wire import wire_over
from controller.wire.reading import Contact, Reading

CONTACTS = ("door", "emergency_stop", "extraction", "presence")


@pytest.fixture
def inputs(kiln, memory, clock) -> ModbusInputs:
    return wire_over(kiln, {"io": memory}, clock)[0]


def with_changes(kiln_text: str, *changes: tuple[str, str]) -> KilnConfig:
    for old, new in changes:
        assert old in kiln_text
        kiln_text = kiln_text.replace(old, new)
    return read_kiln(kiln_text, "kiln.toml")


def test_a_poll_brings_every_reading_contact_and_read_back(inputs, memory, clock) -> None:
    polled = inputs.poll()
    assert polled.readings == {
        "air": Reading(100.0, None, clock.now_s),
        "load": Reading(90.0, None, clock.now_s),
        "limit": Reading(102.5, None, clock.now_s),
    }
    assert polled.contacts == {role: Contact(True, None, clock.now_s) for role in CONTACTS}
    assert (polled.heat_on, polled.main_on) == (False, True)
    assert polled.errors == ()


def test_a_poll_asks_as_few_questions_as_can_be(inputs, memory) -> None:
    inputs.poll()
    assert memory.calls == [
        (1, "read", "coil", 0, 2),
        (1, "read", "discrete", 0, 4),
        (1, "read", "input", 0, 6),
    ]


def test_a_fault_value_is_bad_and_fresh(inputs, memory, clock) -> None:
    inputs.poll()
    clock.tick()
    memory.put(1, "input", 0, 32767)
    air = inputs.poll().readings["air"]
    assert air == Reading(None, "open or out of its range (the reader sent 32767)", clock.now_s)


def test_a_float_that_is_not_a_number_is_bad(inputs, memory) -> None:
    memory.put(1, "input", 4, 0x7FC0, 0)
    assert inputs.poll().readings["limit"].fault == "not a number"
    memory.put(1, "input", 4, 0xFF80, 0)
    assert inputs.poll().readings["limit"].fault == "not a number"


def test_what_does_not_answer_is_bad_with_the_reason_and_keeps_its_old_time(inputs, memory, clock) -> None:
    before_s = clock.now_s
    inputs.poll()
    memory.dead.add(1)
    for _ in range(3):
        clock.tick()
        polled = inputs.poll()
    assert polled.readings["air"] == Reading(None, "unit 1: no answer within 200 ms", before_s)
    assert polled.contacts["door"] == Contact(None, "unit 1: no answer within 200 ms", before_s)
    assert (polled.heat_on, polled.main_on) == (None, None)


def test_a_unit_that_fails_all_its_questions_for_one_reason_is_one_error(inputs, memory) -> None:
    memory.dead.add(1)
    assert inputs.poll().errors == ("unit 1: no answer within 200 ms",)


def test_what_never_answered_dates_from_the_opening_of_the_wire(kiln, memory, clock) -> None:
    opened_s = clock.now_s
    inputs = wire_over(kiln, {"io": memory}, clock)[0]
    memory.dead.add(1)
    clock.tick(60)
    assert inputs.poll().readings["air"].at_s == opened_s


def test_readings_come_back_by_themselves(inputs, memory, clock) -> None:
    memory.dead.add(1)
    inputs.poll()
    memory.dead.clear()
    clock.tick()
    polled = inputs.poll()
    assert polled.readings["air"] == Reading(100.0, None, clock.now_s)
    assert polled.contacts["door"].on is True
    assert polled.errors == ()


def test_one_dead_unit_does_not_spoil_another(kiln_text, memory, clock) -> None:
    kiln = with_changes(kiln_text, ("[reader.limit]\nbus", "[reader.limit]\nunit = 2\nbus"))
    memory.put(2, "input", 4, 0x42CD, 0)
    inputs = wire_over(kiln, {"io": memory}, clock)[0]
    memory.dead.add(2)
    polled = inputs.poll()
    assert polled.readings["limit"].value_c is None
    assert polled.readings["air"].value_c == 100.0


def test_one_missing_register_does_not_spoil_its_neighbours(inputs, memory) -> None:
    del memory.cells[1, "input", 1]
    polled = inputs.poll()
    assert polled.readings["air"].value_c == 100.0
    assert polled.readings["limit"].value_c == 102.5
    assert "it has no such address" in polled.readings["load"].fault
    assert len(polled.errors) == 1


def test_a_gap_that_does_not_exist_is_not_asked_for_again(inputs, memory) -> None:
    del memory.cells[1, "input", 2]
    assert inputs.poll().errors == ()
    memory.calls.clear()
    assert inputs.poll().errors == ()
    assert [call for call in memory.calls if call[2] == "input"] == [
        (1, "read", "input", 0, 2),
        (1, "read", "input", 4, 2),
    ]


def test_contacts_that_are_not_healthy_are_off(inputs, memory) -> None:
    memory.put(1, "discrete", 1, False)
    contacts = inputs.poll().contacts
    assert (contacts["door"].on, contacts["emergency_stop"].on) == (True, False)


def test_nothing_is_read_back_that_is_not_configured(kiln_text, memory, clock) -> None:
    changes = [(f'read_back = {{ function = "coil", address = {n} }}\n', "") for n in (0, 1)]
    inputs = wire_over(with_changes(kiln_text, *changes), {"io": memory}, clock)[0]
    polled = inputs.poll()
    assert (polled.heat_on, polled.main_on) == (None, None)
    assert not any(call[2] == "coil" for call in memory.calls)


def test_a_read_back_may_come_from_another_board(kiln_text, memory, clock) -> None:
    old = 'read_back = { function = "coil", address = 0 }'
    kiln = with_changes(kiln_text, (old, 'read_back = { unit = 7, function = "discrete", address = 5 }'))
    memory.put(7, "discrete", 5, True)
    assert wire_over(kiln, {"io": memory}, clock)[0].poll().heat_on is True


def test_closing_lets_go_of_the_wire(inputs, memory) -> None:
    inputs.close()
    assert memory.closed
