"""Heat as a lease, in the firmware as compiled. Times are the chip's own, exact to its cycle."""

import pytest

from controller.errors import WireError
from controller.wire.board_line import Cause, Flag

pytestmark = pytest.mark.wire

EARLY_S = 0.0011  # a lease may end up to a millisecond early (protocol.md), and a tenth for the interrupt
LATE_S = 0.0001  # and never late, but for the cycles that the interrupt takes


@pytest.fixture
def known(board):
    """Return the driver's line to a board whose restart is acknowledged."""
    board.acknowledge()
    return board


def ends(chip, what="heat"):
    """Return when an output last went off, s of the chip's time."""
    chip.news()
    return [edge.at_s for edge in chip.edges if edge.what == what and not edge.on][-1]


def begins(chip, what="heat"):
    """Return when an output last went on."""
    chip.news()
    return [edge.at_s for edge in chip.edges if edge.what == what and edge.on][-1]


def test_power_up_is_off_until_a_person_or_program_has_heard_of_it(chip, board) -> None:
    status = board.order(5000, True)
    assert status.flags & Flag.RESTARTED
    assert status.cause == Cause.POWER_ON
    assert (status.heat_pin, status.main_pin, status.lease_ms) == (False, False, 0)
    chip.run(2000)
    assert chip.news() == []


def test_power_up_is_off_whatever_the_memory_holds(chip, board) -> None:
    board.acknowledge()
    for _ in range(20):
        board.order(20_000, True)
        chip.reset("power")
        chip.run(300)
        status = board.status()
        assert status.flags == Flag.RESTARTED
        assert (status.heat_pin, status.main_pin, status.lease_ms) == (False, False, 0)
        board.acknowledge()
    assert not chip.heat()


@pytest.mark.parametrize("lease_ms", [2, 50, 999, 3000, 9500])
def test_a_lease_ends_by_itself_early_by_a_millisecond_at_most(chip, known, lease_ms) -> None:
    status = known.order(lease_ms, True)
    assert lease_ms - 1 <= status.lease_ms <= lease_ms
    assert status.heat_pin
    chip.run(lease_ms + 50)
    lasted_s = ends(chip) - begins(chip)
    assert lease_ms / 1000 - EARLY_S <= lasted_s <= lease_ms / 1000 + LATE_S
    after = known.status()
    assert (after.heat_pin, after.main_pin, after.lease_ms) == (False, True, 0)


def test_a_renewed_lease_leaves_no_gap(chip, known) -> None:
    for _ in range(30):
        known.order(3000, True)
        chip.run(1000)
    assert [edge.on for edge in chip.news() if edge.what == "heat"] == [True]
    chip.run(3000)
    assert not chip.heat()


def test_a_new_lease_replaces_the_old_one_and_is_not_added(chip, known) -> None:
    known.order(9000, False)
    known.order(1000, False)
    chip.run(1100)
    assert not chip.heat()
    assert ends(chip) - begins(chip) < 1.1


def test_no_lease_is_off_at_once(chip, known) -> None:
    known.order(9000, True)
    assert chip.heat()
    status = known.order(0, True)
    assert (status.heat_pin, status.main_pin, status.lease_ms) == (False, True, 0)
    assert not chip.heat()


def test_silence_ends_the_longest_lease_and_opens_the_main_contactor(chip, known) -> None:
    known.order(30_000, True)
    chip.run(9_900)
    assert chip.heat()
    chip.run(200)
    assert not chip.heat()
    assert 10.0 - EARLY_S <= ends(chip) - begins(chip) <= 10.0 + LATE_S
    assert ends(chip, "main") == ends(chip)
    assert known.status().flags == Flag.SILENT
    assert known.order(1000, True).flags == Flag(0)
    assert chip.heat()


def test_a_lease_longer_than_the_board_allows_is_shortened(chip, known) -> None:
    status = known.order(99_999, False)
    assert status.flags == Flag.CAPPED
    assert 29_999 <= status.lease_ms <= 30_000
    for _ in range(6):
        chip.run(5000)
        known.status()  # a question keeps the line from being silent, and lengthens nothing
    assert not chip.heat()
    assert 30.0 - EARLY_S <= ends(chip) - begins(chip) <= 30.0 + LATE_S


@pytest.mark.parametrize("how", ["loop", "all"])
def test_a_chip_that_hangs_is_reset_by_its_watchdog_with_the_heat_off(chip, known, how) -> None:
    known.order(9000, True)
    hung_s = chip.now_s
    chip.hang(how)
    chip.run(1000)
    assert not chip.heat()
    assert not chip.main()
    # 250 ms by name, 256 ms of an undisturbed 128 kHz oscillator; a real one's may be 10 % off.
    assert 0.2 < ends(chip) - hung_s < 0.26
    status = known.status()
    assert status.cause == Cause.WATCHDOG
    assert status.flags == Flag.RESTARTED
    assert not known.order(3000, True).heat_pin


@pytest.mark.parametrize(
    ("kind", "cause"),
    [("external", Cause.EXTERNAL), ("brown-out", Cause.BROWN_OUT), ("power", Cause.POWER_ON)],
)
def test_a_reset_ends_the_heat_and_says_its_cause(chip, known, kind, cause) -> None:
    known.order(9000, True)
    chip.reset(kind)
    assert not chip.heat()
    chip.run(300)
    status = known.status()
    assert status.cause == cause
    assert status.flags == Flag.RESTARTED
    assert (status.heat_pin, status.main_pin, status.lease_ms) == (False, False, 0)


def test_the_contacts_end_the_heat_within_a_millisecond(chip, known) -> None:
    for name, flag, keeps_main in (("door", Flag.DOOR, True), ("emergency_stop", Flag.STOP, False)):
        known.order(9000, True)
        opened_s = chip.now_s
        chip.contact(name, False)
        chip.run(5)
        assert not chip.heat()
        assert ends(chip) - opened_s < 0.0012
        assert chip.main() is keeps_main
        refused = known.order(3000, keeps_main)
        assert refused.flags == flag
        assert not refused.heat_pin
        chip.contact(name, True)
        chip.run(3000)
        assert not chip.heat()  # what was refused or ended does not come back by itself
        assert known.order(3000, True).heat_pin


def test_the_other_contacts_are_told_and_change_nothing(chip, known) -> None:
    known.order(9000, True)
    for name in ("extraction", "key", "heat_proven", "main_proven"):
        chip.contact(name, False)
        status = known.status()
        assert name.upper() not in {bit.name for bit in status.contacts}
        assert len(list(status.contacts)) == 5
        assert status.heat_pin
        chip.contact(name, True)


def test_the_real_driver_gives_and_takes_heat(chip, kiln) -> None:
    inputs, heat = kiln
    heat.close_main()
    assert chip.main()
    assert not chip.heat()
    heat.energise(3.0)
    polled = inputs.poll()
    assert (polled.heat_on, polled.main_on, polled.errors) == (True, True, ())
    heat.drop()
    assert not chip.heat()
    assert chip.main()
    heat.energise(2.0)
    heat.open_main()
    assert not chip.heat()
    assert not chip.main()


def test_the_real_driver_makes_a_restart_known_and_refuses_one_lease(chip, kiln) -> None:
    inputs, heat = kiln
    heat.close_main()
    heat.energise(3.0)
    chip.hang("loop")
    chip.run(1000)
    assert "it restarted: its watchdog bit" in inputs.poll().errors[0]
    with pytest.raises(WireError, match="its watchdog bit"):
        heat.energise(3.0)
    assert not chip.heat()
    heat.energise(3.0)
    assert chip.heat()
    assert chip.main()
