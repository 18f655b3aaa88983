"""What people saw, put together: the newest word counts, and what was taken back does not."""

from __future__ import annotations

from typing import Any

from controller.record.rows import ObservationSeen
from controller.review.observed import Observed, gather


def told(*rows: tuple[int | None, str, dict[str, Any]]) -> Observed:
    """Put observations together; their numbers are 1, 2, 3 ..."""
    return gather(
        ObservationSeen(number, 100.0 + number, "page", stage, kind, fields)
        for number, (stage, kind, fields) in enumerate(rows, start=1)
    )


def test_nothing_said_is_nothing_known_not_nothing_found() -> None:
    nothing = told()
    assert (nothing.crack_count, nothing.drained_kg, nothing.rating) == (None, None, None)
    assert told((5, "crack", {"how_many": 0})).crack_count == 0


def test_the_newest_tick_of_a_line_counts_and_stages_are_kept_apart() -> None:
    seen = told(
        (5, "tick", {"says": "Tray out", "done": True}),
        (5, "tick", {"says": "Tray out", "done": False}),
        (7, "tick", {"says": "Tray out", "done": True}),
    )
    assert (seen.ticked[5]["Tray out"].done, seen.ticked[7]["Tray out"].done) == (False, True)


def test_cracks_add_up_and_can_be_patched_later() -> None:
    seen = told(
        (5, "crack", {"how_many": 2, "where": "rim", "patched": False, "photo": 8}),
        (5, "crack", {"how_many": 1, "where": "base", "patched": True}),
        (5, "patched", {"crack": 1, "patched": True}),
        (5, "patched", {"crack": 99, "patched": True}),
    )
    assert seen.crack_count == 3
    assert [(crack.where, crack.patched, crack.photo) for crack in seen.cracks] == [
        ("rim", True, 8),
        ("base", True, None),
    ]


def test_what_was_taken_back_does_not_count() -> None:
    seen = told((5, "crack", {"how_many": 2, "where": "rim"}), (5, "undone", {"observation": 1}))
    assert seen.crack_count is None


def test_each_stops_plastic_is_weighed_once_and_adds_up() -> None:
    seen = told((3, "drained", {"kg": 0.2}), (3, "drained", {"kg": 0.25}), (6, "drained", {"kg": 0.05}))
    assert seen.drained_kg is not None
    assert abs(seen.drained_kg - 0.3) < 1e-12


def test_a_casting_has_its_newest_rating() -> None:
    seen = told(
        (None, "rating", {"rating": "good"}),
        (None, "rating", {"rating": "scrap", "reasons": ["misrun"], "says": "thin"}),
    )
    assert seen.rating is not None
    assert seen.rating[:3] == ("scrap", ("misrun",), "thin")


def test_a_kind_of_another_version_is_left_out() -> None:
    assert told((5, "moon", {"phase": "full"})) == told()
