"""Heat through a wall's thickness: implicit finite volumes, even cells, from the outer face inwards.

Outside, radiation and convection; inside, nothing (an empty cavity is taken as adiabatic: it sees only
itself) or a body, such as the plastic of the pattern, that is solved along with the wall. Conductivity
and heat capacity depend on temperature and are taken at the step's start; the radiation is linearised
about it. The theta method: of second order in time for short steps, backward Euler for long ones, and
calm at any; of second order in the cell's size. What comes in is what is stored and taken, to the bit.

Plain floats, because the wall is solved at every tick for several shells at once.
What it leaves out: curvature (a wall is flat), and edges.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from controller.physics.constants import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_C_IN_K
from controller.physics.curve import Curve, at

CELLS = 10
"""Cells in a wall: the plane-wall series is met within 0.5 % (tests/standards/test_conduction.py)."""

PINNED_W_PER_M2_K = 1e7
"""So good a contact that the face has the temperature of what touches it, within 0.01 K."""


class Wall(NamedTuple):
    """A flat wall and what it is made of."""

    thickness_m: float
    conductivity_w_per_m_k: Curve
    heat_j_per_m3_k: Curve


class Outside(NamedTuple):
    """What the outer face exchanges heat with."""

    air_c: float
    w_per_m2_k: float
    """Convection to the air."""
    surroundings_c: float = 20.0
    emissivity: float = 0.0
    """Of the face towards surroundings much larger than itself; 0: no radiation."""


class Body(NamedTuple):
    """A body of one temperature behind the wall, for each m2 of wall."""

    c: float
    j_per_m2_k: float
    w_per_m2_k: float


class Taken(NamedTuple):
    """Heat taken in one cell, as by boiling water: `w_per_m2` now, more with each kelvin the cell rises."""

    cell: int
    w_per_m2: float
    w_per_m2_k: float


class Heated(NamedTuple):
    """The wall after a step. `got_j_per_m2` came in through the outer face, `lost` went into `Taken`."""

    cells_c: tuple[float, ...]
    body_c: float
    face_c: float
    """The outer face."""
    got_j_per_m2: float
    taken_j_per_m2: float


NOTHING_TAKEN = Taken(0, 0.0, 0.0)
NO_BODY = Body(0.0, 0.0, 0.0)


def pinned(c: float) -> Outside:
    """Return an outside that keeps the outer face at `c`, as where the face itself is measured."""
    return Outside(c, PINNED_W_PER_M2_K)


def even_wall(c: float, cells: int = CELLS) -> tuple[float, ...]:
    """Return a wall's cells, all at one temperature."""
    return (c,) * cells


def outer_face_c(cells_c: tuple[float, ...], wall: Wall, outside: Outside) -> float:
    """Return the temperature of the outer face, which passes on what it gets."""
    half_cell_m = wall.thickness_m / len(cells_c) / 2.0
    inward = at(wall.conductivity_w_per_m_k, cells_c[0]) / half_cell_m
    return _face(cells_c[0], inward, outside)[0]


def inner_face_c(cells_c: tuple[float, ...]) -> float:
    """Return the temperature of an adiabatic inner face: the parabola through the last two cells."""
    return cells_c[-1] + (cells_c[-1] - cells_c[-2]) / 8.0


def mean_c(cells_c: tuple[float, ...]) -> float:
    """Return the mean temperature of the wall."""
    return sum(cells_c) / len(cells_c)


def heat_wall(
    cells_c: tuple[float, ...],
    wall: Wall,
    outside: Outside,
    dt_s: float,
    body: Body = NO_BODY,
    taken: Taken = NOTHING_TAKEN,
    added_j_per_m2_k: tuple[float, ...] = (),
) -> Heated:
    """Return the wall `dt_s` (above zero) later. `added_j_per_m2_k`: heat capacity on top, cell by cell."""
    size_m = wall.thickness_m / len(cells_c)
    conductivity = [at(wall.conductivity_w_per_m_k, c) for c in cells_c]
    stored = [at(wall.heat_j_per_m3_k, c) * size_m / dt_s for c in cells_c]
    if added_j_per_m2_k:
        stored = [own + more / dt_s for own, more in zip(stored, added_j_per_m2_k, strict=True)]
    paths = [2.0 * one * next_one / ((one + next_one) * size_m) for one, next_one in pairwise(conductivity)]
    temperatures = list(cells_c)
    if body.w_per_m2_k > 0.0 and body.j_per_m2_k > 0.0:
        temperatures.append(body.c)
        stored.append(body.j_per_m2_k / dt_s)
        paths.append(1.0 / (1.0 / body.w_per_m2_k + size_m / (2.0 * conductivity[-1])))
    inward = 2.0 * conductivity[0] / size_m
    face_c, face_slope = _face(cells_c[0], inward, outside)
    got_w_per_m2 = inward * (face_c - cells_c[0])

    flows, slopes = _flows(temperatures, paths)
    flows[0] += got_w_per_m2
    slopes[0] += face_slope
    flows[taken.cell] -= taken.w_per_m2
    slopes[taken.cell] += taken.w_per_m2_k
    weight = _end_weight(slopes, stored)
    rise = _solve(
        [heat + weight * slope for heat, slope in zip(stored, slopes, strict=True)],
        flows,
        [weight * path for path in paths],
    )
    cells = tuple([c + more_k for c, more_k in zip(cells_c, rise, strict=False)])
    return Heated(
        cells,
        temperatures[-1] + rise[-1] if len(rise) > len(cells) else cells[-1],
        cells[0] + (got_w_per_m2 - face_slope * rise[0]) / inward,
        dt_s * (got_w_per_m2 - weight * face_slope * rise[0]),
        dt_s * (taken.w_per_m2 + weight * taken.w_per_m2_k * rise[taken.cell]),
    )


def _end_weight(slopes: list[float], stored: list[float]) -> float:
    """Return how much the step's end counts against its start, 0.5 to 1.

    Half each is of second order in time, but a cell that settles within the step would then ring: 1 - 1 /
    (step / settling time) is the least weight without ringing (Hairer and Wanner, Solving Ordinary
    Differential Equations II, on the theta method; from memory).
    """
    quickest = max([slope / heat for slope, heat in zip(slopes, stored, strict=True)])
    return max(0.5, 1.0 - 1.0 / (2.0 * quickest)) if quickest > 0.0 else 0.5


def _face(first_c: float, inward: float, outside: Outside) -> tuple[float, float]:
    """Return the outer face's temperature and by how much its flow falls for each kelvin of the first cell.

    Newton's rule on: convection + radiation to the face = conduction into the first cell's middle.
    """
    air_c, convection, surroundings_c, emissivity = outside
    if emissivity == 0.0:
        both = convection + inward
        return (convection * air_c + inward * first_c) / both, convection * inward / both
    strength = STEFAN_BOLTZMANN_W_PER_M2_K4 * emissivity
    radiated = strength * (surroundings_c + ZERO_C_IN_K) ** 4
    face_c = max(first_c, -ZERO_C_IN_K)
    slope = convection
    for _ in range(4):  # the third change is below 1 mK, even from a red-hot first cell in cold air
        kelvin = face_c + ZERO_C_IN_K
        slope = convection + 4.0 * strength * kelvin**3
        excess = convection * (air_c - face_c) + radiated - strength * kelvin**4
        excess -= inward * (face_c - first_c)
        change = excess / (slope + inward)
        face_c += change
        if -1e-4 < change < 1e-4:
            break
    surroundings_k, kelvin = surroundings_c + ZERO_C_IN_K, face_c + ZERO_C_IN_K
    chord = convection + strength * (surroundings_k**2 + kelvin**2) * (surroundings_k + kelvin)
    slope = max(slope, chord)  # a tangent would lead beyond the surroundings where they are hotter
    return face_c, slope * inward / (slope + inward)


def _flows(temperatures: list[float], paths: list[float]) -> tuple[list[float], list[float]]:
    """Return what flows into each cell from its neighbours, and by how much less for each kelvin it rises."""
    flows = [0.0] * len(temperatures)
    slopes = flows.copy()
    for index, path in enumerate(paths):
        flow = path * (temperatures[index + 1] - temperatures[index])
        flows[index] += flow
        flows[index + 1] -= flow
        slopes[index] += path
        slopes[index + 1] += path
    return flows, slopes


def _solve(diagonal: list[float], right: list[float], paths: list[float]) -> list[float]:
    """Solve the symmetric tridiagonal system whose off-diagonals are minus `paths` (Thomas)."""
    for index, path in enumerate(paths):
        part = path / diagonal[index]
        diagonal[index + 1] -= part * path
        right[index + 1] += part * right[index]
    right[-1] /= diagonal[-1]
    for index in range(len(paths) - 1, -1, -1):
        right[index] = (right[index] + paths[index] * right[index + 1]) / diagonal[index]
    return right
