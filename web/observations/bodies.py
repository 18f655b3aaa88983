"""What a page may say that a person saw: one model a kind. What passes ends in the record as it is."""

from __future__ import annotations

from typing import Annotated, Literal

from annotated_types import Len
from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from controller.review.observed import Rated, Where

Stage = Annotated[int, Field(ge=0, le=999)]
Number = Annotated[int, Field(ge=1, le=10**9)]
# A reason is a word or three: "crack", "misrun", "cold shut".
Reason = Annotated[str, StringConstraints(min_length=1, max_length=40, strip_whitespace=True)]


class Said(BaseModel):
    """What every kind has in common: nothing but what is named, and no number that is none."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, strict=True)


class Tick(Said):
    """A line of the list of a checkpoint, ticked or not. `item`: its place in the list, from 0."""

    kind: Literal["tick"]
    stage: Stage
    item: Annotated[int, Field(ge=0, le=99)]
    done: bool


class CrackFound(Said):
    """Cracks of one place. `how_many` 0: looked, and found none."""

    kind: Literal["crack"]
    stage: Stage
    how_many: Annotated[int, Field(ge=0, le=99)]
    where: Where = "elsewhere"
    patched: bool = False
    photo: Number | None = None


class Patched(Said):
    """Cracks that were told before are patched now, or are not after all."""

    kind: Literal["patched"]
    stage: Stage
    crack: Number
    patched: bool


class Undone(Said):
    """Something that was told before was a mistake."""

    kind: Literal["undone"]
    stage: Stage
    observation: Number


class PlasticDrained(Said):
    """Plastic that ran out or was poured out, weighed. More than 50 kg is a slip of the unit."""

    kind: Literal["drained"]
    stage: Stage
    kg: Annotated[float, Field(ge=0, le=50, strict=False)]


class CastingRated(Said):
    """How the casting turned out."""

    kind: Literal["rating"]
    rating: Rated
    reasons: Annotated[list[Reason], Len(max_length=12)] = []
    says: Annotated[str, StringConstraints(max_length=500, strip_whitespace=True)] = ""


Body = Annotated[
    Tick | CrackFound | Patched | Undone | PlasticDrained | CastingRated, Field(discriminator="kind")
]
