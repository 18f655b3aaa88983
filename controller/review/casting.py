"""What good and bad castings had in common: measures of rated firings side by side, as medians. Pure.

It finds nothing and proves nothing: it lays numbers next to each other, says how few they are, and leaves the
thinking to whoever knows the castings. Medians, because one odd firing among six would rule a mean.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import NamedTuple

from controller.review.observed import RATED

# Below this in any column a difference says next to nothing; our choice, no source.
FEW = 8


class Compared(NamedTuple):
    """One measure: its key, its words, its unit ("" for a bare number; C and K are turned by the screen)."""

    key: str
    words: str
    unit: str


COMPARED = (
    Compared("rise_c_per_h", "Steepest rise, 80 to 100 °C", "C/h"),
    Compared("cracks", "Cracks found", ""),
    Compared("wait_h", "Waited at checkpoints", "h"),
    Compared("drained_kg", "Plastic drained", "kg"),
    Compared("hot_h", "Time above 500 °C", "h"),
    Compared("peak_c", "Peak of the air", "C"),
    Compared("heat_work_h", "Heat work, as time at 815 °C", "h"),
    Compared("pour_c", "Shell at its release to pour", "C"),
)


@dataclass(frozen=True, slots=True)
class Casting:
    """A rated firing: its measures by key; None: not known."""

    firing: int
    rating: str
    reasons: tuple[str, ...]
    values: dict[str, float | None]


class Middle(NamedTuple):
    """The median of `n` castings, with the lowest and the highest."""

    median: float
    low: float
    high: float
    n: int


class Row(NamedTuple):
    """One measure over all ratings; None: of no casting with this rating is it known."""

    compared: Compared
    by_rating: dict[str, Middle | None]


def side_by_side(castings: Sequence[Casting]) -> list[Row]:
    """Return every measure that is known of any casting."""
    rows = [
        Row(each, {rating: _middle(_values(castings, rating, each.key)) for rating in RATED})
        for each in COMPARED
    ]
    return [row for row in rows if any(row.by_rating.values())]


def counts(castings: Iterable[Casting]) -> dict[str, int]:
    """Return how many castings have each rating."""
    found = Counter(casting.rating for casting in castings)
    return {rating: found[rating] for rating in RATED}


def reasons(castings: Iterable[Casting]) -> list[tuple[str, int]]:
    """Return the reasons that were given for usable and scrap castings, the most frequent first."""
    given = Counter(
        reason.casefold() for casting in castings if casting.rating != "good" for reason in casting.reasons
    )
    return sorted(given.items(), key=lambda each: (-each[1], each[0]))


def caution(counted: dict[str, int]) -> str:
    """Return in plain words how little this many castings can say."""
    rated = sum(counted.values())
    if rated == 0:
        return "No casting is rated yet. Rate them on their firings' pages, and they stand side by side here."
    seen = ", ".join(f"{count} {rating}" for rating, count in counted.items())
    there = [count for count in counted.values() if count]
    if len(there) < 2:
        return f"{rated} rated ({seen}): all alike, so there is nothing to compare with yet."
    few = "These are very few. " if min(there) < FEW else ""
    return (
        f"{rated} rated: {seen}. {few}A difference between the columns may be chance, or come from something "
        "that is not measured here. It is a place to look, and no proof."
    )


def _values(castings: Iterable[Casting], rating: str, key: str) -> list[float]:
    found = (casting.values.get(key) for casting in castings if casting.rating == rating)
    return [value for value in found if value is not None]


def _middle(values: Sequence[float]) -> Middle | None:
    return Middle(median(values), min(values), max(values), len(values)) if values else None
