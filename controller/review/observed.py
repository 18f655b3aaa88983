"""What people saw, put together: of what was said more than once, the newest counts. Pure.

tick      a line of a checkpoint's list: says, done
crack     cracks of one place: how_many (0: looked, none there), where, patched; photo: its number
patched   of a crack told before: crack (its number), patched
undone    of anything told before: observation (its number); it counts no more
drained   plastic that ran out at a checkpoint, weighed: kg
rating    how the casting turned out: rating, reasons, says
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple, get_args

from controller.record.rows import ObservationSeen

Where = Literal["rim", "cup", "side", "base", "sprue", "elsewhere"]
Rated = Literal["good", "usable", "scrap"]
WHERE: tuple[str, ...] = get_args(Where)
RATED: tuple[str, ...] = get_args(Rated)


@dataclass(frozen=True, slots=True)
class Crack:
    """Cracks of one place, as they are known now. `how_many` 0: somebody looked and found none."""

    id: int
    utc_s: float
    by: str
    stage: int | None
    how_many: int
    where: str
    patched: bool
    photo: int | None


class Ticked(NamedTuple):
    """The newest word on one line of a checkpoint's list."""

    done: bool
    utc_s: float
    by: str


class Drained(NamedTuple):
    """Plastic that was weighed at a checkpoint."""

    kg: float
    utc_s: float
    by: str


class Rating(NamedTuple):
    """How a casting turned out, and why, in a few words."""

    rating: str
    reasons: tuple[str, ...]
    says: str
    utc_s: float
    by: str


@dataclass(frozen=True, slots=True)
class Observed:
    """All that people saw in a firing. `ticked` and `drained` are by stage."""

    ticked: dict[int | None, dict[str, Ticked]]
    cracks: tuple[Crack, ...]
    drained: dict[int | None, Drained]
    rating: Rating | None

    @property
    def looked(self) -> bool:
        """Return whether anybody said anything of cracks."""
        return bool(self.cracks)

    @property
    def crack_count(self) -> int | None:
        """Return how many cracks were found; None: nobody said."""
        return sum(crack.how_many for crack in self.cracks) if self.looked else None

    @property
    def drained_kg(self) -> float | None:
        """Return what ran out at all stops together; None: nobody weighed it."""
        return sum(each.kg for each in self.drained.values()) if self.drained else None


def gather(seen: Iterable[ObservationSeen]) -> Observed:
    """Put a firing's observations together, oldest first. What cannot be understood is left out."""
    rows = list(seen)
    undone = {row.fields.get("observation") for row in rows if row.kind == "undone"}
    ticked: dict[int | None, dict[str, Ticked]] = {}
    cracks: dict[int, Crack] = {}
    drained: dict[int | None, Drained] = {}
    rating: Rating | None = None
    for row in rows:
        if row.id in undone:
            continue
        said, told = row.fields, (row.utc_s, row.by)
        match row.kind:
            case "tick":
                ticked.setdefault(row.stage, {})[str(said["says"])] = Ticked(bool(said["done"]), *told)
            case "crack":
                cracks[row.id] = _crack(row)
            case "patched" if said.get("crack") in cracks:
                number = said["crack"]
                cracks[number] = replace(cracks[number], patched=bool(said["patched"]))
            case "drained":
                drained[row.stage] = Drained(float(said["kg"]), *told)
            case "rating":
                rating = Rating(said["rating"], tuple(said.get("reasons", ())), said.get("says", ""), *told)
    return Observed(ticked, tuple(cracks.values()), drained, rating)


def _crack(row: ObservationSeen) -> Crack:
    said = row.fields
    return Crack(
        id=row.id,
        utc_s=row.utc_s,
        by=row.by,
        stage=row.stage,
        how_many=int(said["how_many"]),
        where=str(said.get("where", "elsewhere")),
        patched=bool(said.get("patched", False)),
        photo=said.get("photo"),
    )
