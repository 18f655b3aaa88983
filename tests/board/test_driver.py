"""The driver, against a board that says what a test wants it to."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from itertools import pairwise

import pytest

from controller.errors import WireError
from controller.wire.board import Board, BoardConfig
from controller.wire.board_kiln import BoardHeatOutput, BoardInputs, Place, open_board
from tests.board.scripted import Scripted, framed, identity, obedient, status

pytestmark = pytest.mark.wire

TIMEOUT_S, BUDGET_S = 0.1, 0.35


@pytest.fixture
def far() -> Iterator[Scripted]:
    """Return a board that follows every order, until a test says otherwise."""
    board = Scripted()
    yield board
    board.close()


class Clock:
    """The controller's clock, moved by hand."""

    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


@pytest.fixture
def clock() -> Clock:
    return Clock()


def opened(far, clock, *, patient: bool = True, **more) -> tuple[BoardInputs, BoardHeatOutput]:
    """Return the driver on a scripted board. Patient: for a busy machine, where no answer is missing."""
    times = {"timeout_s": 2.0, "budget_s": 5.0} if patient else {"timeout_s": TIMEOUT_S, "budget_s": BUDGET_S}
    config = BoardConfig(name="board", port=far.port, **times)
    readers = more.pop("readers", {"air": Place(0)})
    return open_board(config, readers, ("door", "emergency_stop"), clock, tick_s=1.0, **more)


def test_one_exchange_brings_everything(far, clock) -> None:
    inputs, _ = opened(far, clock)
    inputs.poll()
    before = len(far.heard)
    polled = inputs.poll()
    assert len(far.heard) == before + 1
    assert polled.readings["air"] == (20.0, None, 100.0)
    assert polled.contacts["door"] == (True, None, 100.0)
    assert (polled.heat_on, polled.main_on, polled.errors) == (False, False, ())


def test_every_line_has_a_new_sequence_number(far, clock) -> None:
    inputs, _ = opened(far, clock)
    for _ in range(300):
        inputs.poll()
    numbers = [int(text[1:3], 16) for _, text in far.heard]
    assert all(b == (a + 1) % 256 for a, b in pairwise(numbers))


def test_a_late_answer_to_an_earlier_question_is_not_taken(far, clock) -> None:
    inputs, _ = opened(far, clock, patient=False)
    inputs.poll()
    first = []

    def late(question: bytes) -> bytes | None:
        if not first:
            first.append(status(question, hot="+099900"))
            return None
        return first[0] + status(question, hot="+004200")

    far.answer = late
    assert inputs.poll().readings["air"].value_c == 42.0


def test_an_answer_of_another_kind_is_not_taken(far, clock) -> None:
    inputs, _ = opened(far, clock, patient=False)
    inputs.poll()
    far.answer = identity
    polled = inputs.poll()
    assert polled.readings["air"].value_c is None
    assert "no answer within 100 ms" in polled.errors[0]


def test_silence_costs_no_more_than_the_budget_and_is_told_in_one_line(far, clock) -> None:
    inputs, _ = opened(far, clock, patient=False)
    inputs.poll()
    far.answer = lambda _: None
    before, clock.now_s, start_s = len(far.heard), 101.0, time.monotonic()
    polled = inputs.poll()
    took_s = time.monotonic() - start_s
    assert 2 <= len(far.heard) - before <= 3  # as often as 100 ms fit into 350 ms; a busy machine is late
    assert took_s < BUDGET_S + 0.4  # a busy machine
    assert polled.errors == (f"bus board (board on {far.port}): no answer within 100 ms",)
    assert polled.readings["air"] == (None, polled.errors[0], 100.0)  # as old as its last good answer
    assert polled.contacts["door"].on is None
    assert (polled.heat_on, polled.main_on) == (None, None)


def test_a_silent_board_is_asked_once_a_tick_but_heat_off_is_tried_all_the_same(far, clock) -> None:
    inputs, heat = opened(far, clock, patient=False)
    inputs.poll()
    far.answer = lambda _: None
    inputs.poll()
    before = len(far.heard)
    with pytest.raises(WireError, match="no answer"):
        heat.energise(3.0)
    assert len(far.heard) == before
    with pytest.raises(WireError, match="no answer"):
        heat.drop()
    tried = far.kinds()[before:]
    assert tried in ("HH", "HHH")  # as often as fits; a busy machine is late
    with pytest.raises(WireError, match="no answer"):
        heat.open_main()
    assert far.kinds()[before:] == tried
    far.answer = obedient
    clock.now_s += 0.6
    heat.energise(3.0)
    assert inputs.poll().errors == ()


def test_taking_heat_away_does_not_wait_for_a_question_that_nobody_answers(far, clock) -> None:
    inputs, heat = opened(far, clock)
    inputs.poll()
    far.answer = lambda question: obedient(question) if b"H" in question else None
    waiting = threading.Thread(target=inputs.poll)
    waiting.start()
    while not far.kinds().endswith("R"):
        time.sleep(0.001)
    start_s = time.monotonic()
    heat.drop()
    assert time.monotonic() - start_s < 1.0  # a question waits 2 s
    waiting.join(timeout=5)
    far.answer = obedient
    assert inputs.poll().errors == ()  # giving way is not held against the line


def test_many_threads_get_their_own_answers(far, clock) -> None:
    _, heat = opened(far, clock)
    wrong = []

    def use() -> None:
        for n in range(40):
            try:
                heat.energise(1.0 + n / 100)
                heat.drop()
            except WireError as error:
                if "gave way" not in str(error):
                    wrong.append(error)

    threads = [threading.Thread(target=use) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert wrong == []


@pytest.mark.parametrize(
    ("answer", "expected"),
    [
        (lambda q: identity(q, 2), "speaks version 2 of the line protocol, expected 1"),
        (lambda q: framed(f"<{q[1:3].decode()} E 1 "), "refused: it does not know this message"),
        (lambda q: framed(f"<{q[1:3].decode()} E 2 "), "refused: the message has wrong fields"),
    ],
)
def test_a_board_that_speaks_otherwise_is_one_clear_line(far, clock, answer, expected) -> None:
    far.answer = answer
    inputs, heat = opened(far, clock)
    (error,) = inputs.poll().errors
    assert expected in error
    with pytest.raises(WireError, match=expected):
        heat.drop()


@pytest.mark.parametrize(
    ("act", "answer", "expected"),
    [
        ("energise", {"pins": 0, "lease_ms": 0, "flags": 0x40}, "it gives no heat: the door is open"),
        ("energise", {"pins": 0, "lease_ms": 0, "flags": 0x0A}, "limit has latched.*; a sensor is at fault"),
        ("energise", {"pins": 0, "lease_ms": 3000}, "it gives no heat: it does not say why"),
        ("energise", {"pins": 1, "lease_ms": 3001}, "it gives no heat"),
        ("drop", {"pins": 1}, "told to drop the heat, and its output reads on"),
        ("open_main", {"pins": 2}, "told to open the main contactor, and its output reads on"),
        ("open_main", {"pins": 1}, "told to drop the heat"),
        ("close_main", {"pins": 0, "flags": 0x20}, "does not close the main contactor: the emergency stop"),
    ],
)
def test_an_order_that_is_answered_but_not_followed_is_an_error(far, clock, act, answer, expected) -> None:
    _, heat = opened(far, clock)
    far.answer = lambda q: identity(q) if b"I" in q else status(q, **answer)
    with pytest.raises(WireError, match=expected):
        heat.energise(3.0) if act == "energise" else getattr(heat, act)()


@pytest.mark.parametrize(("lease_s", "lease_ms"), [(3.0, 3000), (2.9999, 2999), (0.001, 1), (0.3, 300)])
def test_a_lease_is_rounded_down_to_the_millisecond(far, clock, lease_s, lease_ms) -> None:
    _, heat = opened(far, clock)
    heat.energise(lease_s)
    assert far.heard[-1][1][6:11] == b"%05d" % lease_ms


@pytest.mark.parametrize("lease_s", [0.0, 0.0009, -1.0, 100.0, float("nan"), float("inf")])
def test_a_lease_that_is_none_is_not_sent(far, clock, lease_s) -> None:
    _, heat = opened(far, clock)
    with pytest.raises(WireError, match="cannot be given"):
        heat.energise(lease_s)
    assert "H" not in far.kinds()


def test_the_main_contactors_wish_goes_out_with_every_order(far, clock) -> None:
    _, heat = opened(far, clock)
    heat.drop()
    heat.close_main()
    heat.energise(3.0)
    heat.drop()
    heat.open_main()
    heat.energise(3.0)
    orders = [text[6:13] for _, text in far.heard if text[4:5] == b"H"]
    assert orders == [b"00000 0", b"00000 1", b"03000 1", b"00000 1", b"00000 0", b"03000 0"]


def test_a_kiln_without_a_main_contactor_never_closes_one(far, clock) -> None:
    _, heat = opened(far, clock, has_main_contactor=False)
    heat.close_main()
    heat.energise(3.0)
    assert far.heard[-1][1][12:13] == b"0"
    assert not heat.has_main_contactor


def test_a_restart_before_the_first_contact_is_acknowledged_quietly(far, clock) -> None:
    fresh = [True]

    def answer(question: bytes) -> bytes:
        if question[4:5] == b"A":
            fresh[0] = False
        return status(question, flags=1) if fresh[0] and question[4:5] != b"I" else obedient(question)

    far.answer = answer
    inputs, heat = opened(far, clock)
    assert inputs.poll().errors == ()
    heat.drop()
    assert "A" not in far.kinds()
    heat.close_main()
    assert far.kinds() == "IRHHAH"
    heat.energise(3.0)
    fresh[0] = True
    assert inputs.poll().errors == (f"bus board (board on {far.port}): it restarted: its watchdog bit",)
    with pytest.raises(WireError, match="its watchdog bit"):
        heat.energise(3.0)
    heat.energise(3.0)


def test_readers_are_found_corrected_and_checked(far, clock) -> None:
    readers = {
        "air": Place(0, correct=lambda hot_c, cold_c: hot_c - cold_c),
        "load": Place(1),
        "enclosure": Place(0, cold=True),
        "limit": Place(0, highest_c=700.0),
    }
    inputs, _ = opened(far, clock, readers=readers)
    far.answer = lambda q: identity(q) if b"I" in q else status(q, hot="+080000")
    readings = inputs.poll().readings
    assert readings["air"].value_c == 775.0
    assert readings["load"].fault == "the board has 1 sensors"
    assert readings["enclosure"].value_c == 25.0
    assert readings["limit"] == (None, "800.0 C is out of range", 100.0)


def test_auxiliary_contacts_say_more_than_pins_where_they_are_wired(far, clock) -> None:
    far.answer = lambda q: identity(q) if b"I" in q else status(q, pins=0)
    inputs, _ = opened(far, clock)
    assert inputs.poll()[2:4] == (False, False)
    inputs.close()
    inputs, _ = opened(far, clock, read_back="proven")
    assert inputs.poll()[2:4] == (True, True)


def test_a_port_that_is_taken_or_missing_is_one_clear_line(far, clock) -> None:
    inputs, _ = opened(far, clock)
    inputs.poll()
    second, _ = opened(far, clock)
    (error,) = second.poll().errors
    assert error.startswith(f"bus board (board on {far.port}): the port failed: ")
    absent = Board(BoardConfig(name="board", port="/dev/no-such-port"), clock, 0.5)
    with pytest.raises(WireError, match=r"bus board \(board on /dev/no-such-port\): the port failed: "):
        absent.status()


def test_a_board_that_is_unplugged_and_plugged_in_again_is_found_again(clock, tmp_path) -> None:
    link = tmp_path / "port"
    first = Scripted()
    link.symlink_to(first.port)
    config = BoardConfig(name="board", port=str(link), timeout_s=0.3, budget_s=0.7)
    inputs, heat = open_board(config, {"air": Place(0)}, (), clock, tick_s=1.0)
    assert inputs.poll().errors == ()
    first.close()
    clock.now_s += 1
    assert inputs.poll().readings["air"].value_c is None
    with pytest.raises(WireError, match="bus board"):
        heat.drop()
    second = Scripted()
    link.unlink()
    link.symlink_to(second.port)
    clock.now_s += 1
    assert inputs.poll().readings["air"].value_c == 20.0
    inputs.close()
    second.close()
