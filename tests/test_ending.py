"""How a program that may heat is ended: by all that means an end, in order, and stopped by nothing."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator

import pytest

from controller.commands.ending import as_ctrl_c, on_ending

ENDS = (signal.SIGTERM, signal.SIGINT, signal.SIGQUIT, signal.SIGHUP)


@pytest.fixture(autouse=True)
def as_before() -> Iterator[None]:
    before = {number: signal.getsignal(number) for number in (*ENDS, signal.SIGTSTP)}
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


@pytest.mark.parametrize("number", ENDS)
def test_whatever_means_an_end_ends_it_in_order(number: signal.Signals) -> None:
    ended = threading.Event()
    on_ending(ended.set)
    signal.raise_signal(number)
    assert ended.wait(5.0)


def test_also_while_the_lock_is_held_that_the_end_wants() -> None:
    ended = threading.Event()
    on_ending(ended.set)
    with ended._cond:  # type: ignore[attr-defined]
        signal.raise_signal(signal.SIGTERM)
    assert ended.wait(5.0)


@pytest.mark.parametrize("number", ENDS)
def test_or_does_as_ctrl_c_does(number: signal.Signals) -> None:
    as_ctrl_c()
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(number)


def test_who_is_to_outlive_the_terminal_does() -> None:
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    on_ending(lambda: pytest.fail("ended"))
    assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN


def test_nothing_stops_it_with_a_relay_left_on() -> None:
    on_ending(lambda: None)
    assert signal.getsignal(signal.SIGTSTP) is signal.SIG_IGN
