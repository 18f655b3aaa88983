"""Rated castings side by side: medians, counts, and plain words of how little they say."""

from __future__ import annotations

import pytest

from controller.review.casting import COMPARED, FEW, Casting, caution, counts, reasons, side_by_side


def casting(firing: int, rating: str, *why: str, **values: float | None) -> Casting:
    return Casting(firing, rating, why, dict(values))


def test_medians_stand_side_by_side_each_with_its_own_number() -> None:
    rows = side_by_side(
        [
            casting(1, "good", rise_c_per_h=40.0, cracks=0),
            casting(2, "good", rise_c_per_h=60.0, cracks=None),
            casting(3, "good", rise_c_per_h=500.0),
            casting(4, "scrap", rise_c_per_h=90.0),
        ]
    )
    assert [row.compared.key for row in rows] == ["rise_c_per_h", "cracks"]
    rate, cracks = rows
    assert rate.by_rating["good"] == (60.0, 40.0, 500.0, 3)
    assert rate.by_rating["scrap"] == (90.0, 90.0, 90.0, 1)
    assert rate.by_rating["usable"] is None
    assert cracks.by_rating["good"] == (0, 0, 0, 1)


def test_what_nobody_knows_has_no_row() -> None:
    assert side_by_side([casting(1, "good")]) == []
    assert side_by_side([]) == []


def test_every_measure_has_words_and_a_key_of_its_own() -> None:
    assert len({each.key for each in COMPARED}) == len(COMPARED)
    assert all(each.words for each in COMPARED)


def test_reasons_are_those_of_castings_that_were_not_good() -> None:
    found = reasons(
        [
            casting(1, "good", "crack"),
            casting(2, "scrap", "Misrun", "crack"),
            casting(3, "usable", "misrun"),
        ]
    )
    assert found == [("misrun", 2), ("crack", 1)]


@pytest.mark.parametrize(
    ("good", "usable", "scrap", "words"),
    [
        (0, 0, 0, "No casting is rated yet"),
        (5, 0, 0, "all alike, so there is nothing to compare"),
        (FEW, 0, FEW - 1, "These are very few"),
        (40, 0, 1, "These are very few"),
    ],
)
def test_it_says_plainly_how_few_they_are(good: int, usable: int, scrap: int, words: str) -> None:
    assert words in caution({"good": good, "usable": usable, "scrap": scrap})


def test_many_are_still_no_proof() -> None:
    said = caution(counts([casting(n, "good" if n % 2 else "scrap") for n in range(2 * FEW)]))
    assert said.startswith(f"{2 * FEW} rated: {FEW} good, 0 usable, {FEW} scrap.")
    assert "few" not in said
    assert "may be chance" in said
    assert said.endswith("no proof.")
