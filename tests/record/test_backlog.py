"""Rows wait in order; what could not be written goes before what came since."""

from __future__ import annotations

from controller.record.backlog import KINDS, Backlog


def test_what_is_taken_comes_by_kind_in_the_order_of_writing() -> None:
    backlog = Backlog(100)
    for kind in reversed(KINDS):
        backlog.put(kind, (1,))
        backlog.put(kind, (2,))
    batch = backlog.take()
    assert list(batch) == list(KINDS)
    assert batch["event"] == [(1,), (2,)]
    assert backlog.waiting == 2 * len(KINDS)  # until they are said to be written
    backlog.done()
    assert (backlog.waiting, backlog.take()) == (0, {})


def test_what_is_given_back_goes_before_what_came_since() -> None:
    backlog = Backlog(100)
    for number in (1, 2, 3):
        backlog.put("event", (number,))
    batch = backlog.take()
    backlog.put("event", (4,))
    backlog.give_back(batch)
    assert backlog.waiting == 4
    assert backlog.take() == {"event": [(1,), (2,), (3,), (4,)]}


def test_what_is_given_back_makes_way_again_when_there_is_no_room() -> None:
    backlog = Backlog(4)
    for number in (1, 2, 3):
        backlog.put("tick", (number,))
    batch = backlog.take()
    for number in (4, 5, 6):
        backlog.put("tick", (number,))
    backlog.give_back(batch)
    assert backlog.take() == {"tick": [(3,), (4,), (5,), (6,)]}
    assert backlog.lost == 2


def test_ticks_make_way_before_words_and_a_firings_ends_never() -> None:
    backlog = Backlog(3)
    for kind in ("begin", "tick", "event", "note", "end", "tick"):
        backlog.put(kind, (kind,))
    assert (backlog.waiting, backlog.lost) == (3, 3)
    assert list(backlog.take()) == ["begin", "note", "end"]
