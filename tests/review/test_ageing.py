"""The kiln's own ageing: only alike holds are laid side by side, and few firings say nothing."""

from __future__ import annotations

import pytest

from controller.review.ageing import ENDS, Fired, change, near_c, needed
from controller.review.switching import SteadyHold


def fired(number: int, *holds: tuple[float, float, float], power_w: float | None = 6000.0) -> Fired:
    return Fired(number, 1e9 + number, power_w, tuple(SteadyHold(*hold) for hold in holds), 700)


def test_815_is_compared_when_any_firing_held_it() -> None:
    assert near_c([fired(1, (95.0, 1.0, 0.1)), fired(2, (95.0, 1.0, 0.1), (803.0, 1.0, 0.4))]) == 815.0


def test_else_the_hottest_hold_at_hand() -> None:
    assert near_c([fired(1, (95.0, 1, 0.1), (700.0, 1, 0.3)), fired(2, (702.0, 1, 0.3)), fired(3)]) == 701
    assert near_c([fired(1)]) is None


def test_the_power_is_of_the_longest_hold_near_it_oldest_firing_first() -> None:
    points = needed(
        [
            fired(2, (814.0, 0.5, 0.9), (820.0, 1.5, 0.41)),
            fired(1, (829.9, 1.0, 0.4), power_w=None),
            fired(3, (831.0, 1.0, 0.4)),
        ],
        815.0,
    )
    assert [(point.firing, point.air_c, point.duty, point.power_w) for point in points] == [
        (1, 829.9, 0.4, None),
        (2, 820.0, 0.41, pytest.approx(2460.0)),
    ]


def test_a_change_wants_ten_firings_at_either_end() -> None:
    def points(count: int) -> list[float]:
        return [0.40 if n < ENDS else 0.44 for n in range(count)]

    def told(duties: list[float]) -> float | None:
        return change(needed([fired(n, (815.0, 1.0, d)) for n, d in enumerate(duties)], 815.0))

    assert told(points(2 * ENDS - 1)) is None
    assert told(points(2 * ENDS)) == pytest.approx(0.1)
