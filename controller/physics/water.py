"""Water in a porous wall: a front that recedes from the outer face, the heat it takes, the pressure it makes.

Theory of operation. The pattern shuts the inner face, so vapour leaves by the outer one, through the dry
part of the wall. Below the boil it diffuses (Stefan's law: the drift of the vapour itself counts); above
it, the vapour pressure at the front exceeds the atmosphere and drives a flow (Darcy's law for a gas).
Both flows grow as 1 / (distance to the face), and so does the heat that reaches the front: hence the
front's temperature and pressure depend on the face's temperature, and not on how deep the front is.

What it leaves out: capillary flow to the face (drying starts faster than here), and water in closed
pockets, which has nowhere to go: its pressure is the full saturation pressure (`pocket_limit_c`).
"""

from __future__ import annotations

from math import log
from typing import NamedTuple

from controller.physics.constants import WATER_J_PER_KG_K, ZERO_C_IN_K
from controller.physics.steam import (
    ATMOSPHERE_PA,
    HOTTEST_C,
    STEAM_J_PER_KG_K,
    latent_j_per_kg,
    saturation_c,
    saturation_pa,
    steam_pa_s,
    vapour_m2_per_s,
)
from controller.physics.wall import NOTHING_TAKEN, Taken

ROOM_VAPOUR_PA = 1400.0
"""Vapour in the room's air: 60 % relative humidity at 20 C (2339 Pa saturated, IAPWS-IF97)."""

FULLEST_PART = 0.95
"""Diffusion is reckoned at no more than this part of the atmosphere: above it Darcy's flow takes over."""

STILL_AIR_M = 5e-3
"""Still air at the face through which vapour diffuses: 0.03 W/(m K) over 6 W/(m2 K); from memory."""

SAFETY = 2.0
"""A wall is asked to bear no more than its strength over this; chosen."""

GENTLE_C = 95.0
"""Below the boil by 5 K: no steam in the wall. Shells crack near 93 C: common practice, no source."""

BOILING_C = 100.0
"""At one atmosphere."""

_PARTS = 20  # of an integral over temperature: within 1 % of 200 parts
_SMALL_K = 0.5  # for the slope of the flow against temperature


class Pores(NamedTuple):
    """The ways by which vapour leaves a wall."""

    permeability_m2: float
    porosity: float


def flow_kg_per_m_s(front_c: float, pores: Pores, room_pa: float = ROOM_VAPOUR_PA) -> float:
    """Return the vapour's flow (kg/m2 s) times its way (m) from a front at `front_c`; never negative."""
    kelvin = front_c + ZERO_C_IN_K
    front_pa = saturation_pa(front_c)
    drift = log((ATMOSPHERE_PA - room_pa) / (ATMOSPHERE_PA - min(front_pa, FULLEST_PART * ATMOSPHERE_PA)))
    diffusivity = vapour_m2_per_s(front_c) * _open(pores)
    flow = diffusivity * ATMOSPHERE_PA / (STEAM_J_PER_KG_K * kelvin) * drift
    if front_pa > ATMOSPHERE_PA:
        flow += pores.permeability_m2 * _drive_kg_per_m3_s(front_c, front_pa)
    return max(0.0, flow)


def _open(pores: Pores) -> float:
    """Diffusion through pores, as a part of that in free air: Bruggeman's porosity to 1.5; from memory."""
    part: float = pores.porosity**1.5
    return part


def _drive_kg_per_m3_s(front_c: float, front_pa: float) -> float:
    """Return Darcy's flow of an ideal gas for a permeability of one: (p1^2 - p0^2) / (2 mu R T)."""
    kelvin = front_c + ZERO_C_IN_K
    return (front_pa**2 - ATMOSPHERE_PA**2) / (2.0 * steam_pa_s(front_c) * STEAM_J_PER_KG_K * kelvin)


def front_c(face_c: float, w_per_m_k: float, pores: Pores, room_pa: float = ROOM_VAPOUR_PA) -> float:
    """Return the front's temperature: what heat reaches it through the dry wall, its vapour carries off."""
    low, high = 0.0, min(face_c, HOTTEST_C)
    for _ in range(50):  # 350 K halved 50 times is nothing
        middle = (low + high) / 2.0
        spent = latent_j_per_kg(middle) * flow_kg_per_m_s(middle, pores, room_pa)
        if spent < w_per_m_k * (face_c - middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def overpressure_pa(face_c: float, w_per_m_k: float, pores: Pores) -> float:
    """Return by how much the steam at the front exceeds the atmosphere; 0 below the boil."""
    return max(0.0, saturation_pa(front_c(face_c, w_per_m_k, pores)) - ATMOSPHERE_PA)


def drying_s(
    face_c: float,
    thickness_m: float,
    water_kg_per_m2: float,
    w_per_m_k: float,
    pores: Pores,
    room_pa: float = ROOM_VAPOUR_PA,
) -> float:
    """Return how long a wall whose outer face is kept at `face_c` takes to dry; infinite if it never does.

    With the flow falling as 1/x, x dx/dt is constant: t = w (L / 2 + film) / (flow times way).
    """
    flow = flow_kg_per_m_s(front_c(face_c, w_per_m_k, pores, room_pa), pores, room_pa)
    if flow <= 0.0:
        return float("inf")
    return water_kg_per_m2 * (thickness_m / 2.0 + film_m(pores)) / flow


def film_m(pores: Pores) -> float:
    """Return the air film at the face, as the thickness of dry wall that hinders vapour as much."""
    return STILL_AIR_M * _open(pores)


def safe_overpressure_pa(strength_pa: float) -> float:
    """Return the steam pressure a wall is asked to bear, from its strength against being burst apart."""
    return strength_pa / SAFETY


def pocket_limit_c(strength_pa: float) -> float:
    """Return the temperature at which water in a closed pocket presses as hard as a wall should bear."""
    return saturation_c(ATMOSPHERE_PA + safe_overpressure_pa(strength_pa))


def face_limit_c(strength_pa: float, w_per_m_k: float, pores: Pores) -> float:
    """Return the hottest that the outer face may be while the wall is wet, by the steam at the front."""
    limit_c = pocket_limit_c(strength_pa)
    return limit_c + latent_j_per_kg(limit_c) * flow_kg_per_m_s(limit_c, pores) / w_per_m_k


def fastest_c_per_h(
    strength_pa: float,
    thickness_m: float,
    water_kg_per_m2: float,
    w_per_m_k: float,
    j_per_m3_k: float,
    pores: Pores,
) -> float:
    """Return the fastest rise of the outer face, from 100 C on, at which the wall is dry before its limit.

    What flows in a rise at rate r is (integral of flow times way over the face's temperature) / r, and must
    be all water, w (L / 2 + film). Divided by 1 + Ste / 3 for the heat that the dry part keeps (Ste = heat
    kept / latent heat; first-order perturbation of Stefan's problem, from memory). A wall without water
    has no limit: infinite.
    """
    limit_c = face_limit_c(strength_pa, w_per_m_k, pores)
    if water_kg_per_m2 <= 0.0:
        return float("inf")
    if limit_c <= BOILING_C:
        return 0.0
    size_k = (limit_c - BOILING_C) / _PARTS
    middles = (BOILING_C + (part + 0.5) * size_k for part in range(_PARTS))
    flown = sum(flow_kg_per_m_s(front_c(c, w_per_m_k, pores), pores) for c in middles) * size_k
    stefan = j_per_m3_k * (limit_c - BOILING_C) * thickness_m
    stefan /= latent_j_per_kg(pocket_limit_c(strength_pa)) * water_kg_per_m2
    rate_c_per_s = flown / (water_kg_per_m2 * (thickness_m / 2.0 + film_m(pores)))
    return 3600.0 * rate_c_per_s / (1.0 + stefan / 3.0)


def taken_by_front(
    cells_c: tuple[float, ...],
    thickness_m: float,
    water_kg_per_m2: float,
    full_kg_per_m2: float,
    pores: Pores,
    dt_s: float,
) -> Taken:
    """Return the heat that evaporation takes from the cell in which the front is.

    `full_kg_per_m2`: what the wall held when the front was at the face. No more than all water goes.
    """
    if water_kg_per_m2 <= 0.0:
        return NOTHING_TAKEN
    way_m, cell = front_place(thickness_m, water_kg_per_m2, full_kg_per_m2, len(cells_c))
    way_m += film_m(pores)
    c = cells_c[cell]
    latent = latent_j_per_kg(c)
    now = flow_kg_per_m_s(c, pores) / way_m
    if now * dt_s >= water_kg_per_m2:
        return Taken(cell, water_kg_per_m2 * latent / dt_s, 0.0)
    slope = (flow_kg_per_m_s(c + _SMALL_K, pores) / way_m - now) / _SMALL_K
    return Taken(cell, now * latent, max(0.0, slope) * latent)


def front_place(
    thickness_m: float, water_kg_per_m2: float, full_kg_per_m2: float, cells: int
) -> tuple[float, int]:
    """Return how deep the front is (m from the outer face), and the cell it is in."""
    part = min(1.0, max(0.0, 1.0 - water_kg_per_m2 / full_kg_per_m2))
    return part * thickness_m, min(cells - 1, int(part * cells))


def water_j_per_m2_k(water_kg_per_m2: float, full_kg_per_m2: float, cells: int) -> tuple[float, ...]:
    """Return the heat capacity of the water in each cell: full behind the front, none before it."""
    part = min(1.0, max(0.0, 1.0 - water_kg_per_m2 / full_kg_per_m2)) * cells
    first = min(cells - 1, int(part))
    each = full_kg_per_m2 / cells * WATER_J_PER_KG_K
    return (0.0,) * first + (each * (first + 1 - part),) + (each,) * (cells - 1 - first)
