"""What is known of a kiln before it is run ahead: its model, and the ways in which it may be wrong.

A way is two kilns, at the 5 % and the 95 % of one independent doubt. Of a fitted kiln they are the principal
axes of its covariance; of a kiln that nothing was learnt of, stated wide factors about a typical kiln of
that power. Each way is run ahead by itself, and what comes of them is put together as the root of the sum
of the squares (`ensemble`): deterministic, nothing is drawn by lot.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, sqrt
from typing import NamedTuple, Protocol

import numpy as np

from controller.physics.grey import GreyKiln, typical

SIGMAS = 1.645
"""From the middle to the 5 % and the 95 % of a normal distribution."""

WAYS_OF_A_FIT = 8
"""Principal axes of a covariance that are run ahead, the widest first: the rest is next to nothing."""

WIDEST = 0.5
"""A direction that the record says nothing of is held to exp(+-0.5), as the fit weakly believes; chosen."""

FITTED_POWER = 0.03
"""The mains' voltage is steady to some 1.5 % from one night to the next; from memory, weak."""

DEFAULT_WAYS: tuple[tuple[tuple[str, ...], float], ...] = (
    (("power_w",), 1.12),
    (("face_w_per_k", "between_w_per_k", "room_w_per_k", "vent_w_per_k"), 1.6),
    (("inner_j_per_k", "outer_j_per_k"), 1.6),
    (("chamber_j_per_k", "elements_j_per_k"), 1.5),
    (("elements_m2", "elements_w_per_k", "sees_elements"), 1.5),
)
"""Fields that are wrong together, and by what factor either way. Chosen, wide: small kilns of one power
differ that much in brick and size; the elements lose power with age.
"""


class Fitted(Protocol):
    """What the forecast asks of a kiln that was fitted to a firing (`models.FittedKiln`)."""

    @property
    def kiln(self) -> GreyKiln:
        """Return the kiln's numbers."""

    @property
    def covariance(self) -> Sequence[Sequence[float]]:
        """Return the covariance of the logarithms of what was fitted."""

    @property
    def firing(self) -> int:
        """Return the firing it was fitted to."""


class KilnKnown(NamedTuple):
    """A kiln's model with its doubts. `ways`: pairs of kilns at the 5 % and 95 % of each doubt."""

    kiln: GreyKiln
    ways: tuple[tuple[GreyKiln, GreyKiln], ...]
    says: str
    load_known: bool
    """Whether the model's load is the one that was in the kiln when it was fitted."""
    load_dry_kg: float | None = None
    load_m2: float | None = None
    """The shell's dry mass and its wall's area at that firing, where it was weighed (`load.remembered`)."""
    water_known: bool = False
    """Whether that firing told how its water left, too (`load_fit`)."""
    dries: float = 1.0
    through: float = 1.0
    film: float = 1.0
    """How fast water leaves, how well heat goes through the wall, how much of the vapour's way lies in the
    air at the face: each over what is believed without a firing.
    """
    sees: float = 0.0
    """How far what the shell meets is above the chamber, as a part of what the elements are above it."""
    reads: float = 1.0
    """What the load thermocouple shows above the room, over what the shell's outer half is above it."""


def unknown_kiln(power_w: float) -> KilnKnown:
    """Return a kiln of which only the power is known."""
    kiln = typical(power_w)
    ways = tuple((_by(kiln, names, 1.0 / factor), _by(kiln, names, factor)) for names, factor in DEFAULT_WAYS)
    says = f"a typical kiln of {power_w / 1000:.1f} kW, with wide bands: nothing was learnt of this one yet"
    return KilnKnown(kiln, ways, says, load_known=False)


def fitted_kiln(fitted: Fitted, free: Sequence[str]) -> KilnKnown:
    """Return a kiln as it was fitted; `free` names the rows of its covariance."""
    kiln = fitted.kiln
    values, vectors = np.linalg.eigh(np.asarray(fitted.covariance))
    ways = [(_by(kiln, ("power_w",), 1.0 - FITTED_POWER), _by(kiln, ("power_w",), 1.0 + FITTED_POWER))]
    for place in range(len(values) - 1, max(-1, len(values) - 1 - WAYS_OF_A_FIT), -1):
        size = SIGMAS * min(WIDEST, sqrt(max(0.0, float(values[place]))))
        change = {name: size * float(part) for name, part in zip(free, vectors[:, place], strict=True)}
        ways.append((_along(kiln, change, -1.0), _along(kiln, change, 1.0)))
    return KilnKnown(kiln, tuple(ways), f"as fitted to firing {fitted.firing}", load_known=True)


def _by(kiln: GreyKiln, names: Sequence[str], factor: float) -> GreyKiln:
    return kiln._replace(**{name: getattr(kiln, name) * factor for name in names})


def _along(kiln: GreyKiln, change: dict[str, float], sign: float) -> GreyKiln:
    return kiln._replace(**{name: getattr(kiln, name) * exp(sign * part) for name, part in change.items()})
