"""A whole shell as the heat finds it: wall, water, plastic, char, firing, for each m2, in one pure step.

    outside ──► wall, ten cells ──► plastic behind it
                  │ water's front       │ melts, runs out as a thinning film, decomposes, leaves char
                  └ heat work           └ what sits in pockets stays and decomposes

`shell_step` is what the live estimate and the forecast both run; it is fast, and it knows no kiln. It is
given what the outer face meets (`Outside`) and the oxygen that reaches the char, and gives no heat back:
what burns, burns in the chamber (`fire`).
"""

from __future__ import annotations

from typing import NamedTuple

from controller.physics import decay, pattern, sintering, water
from controller.physics.decay import Kinetics
from controller.physics.fire import CHAR_KG_OXYGEN_PER_KG
from controller.physics.steam import ATMOSPHERE_PA, latent_j_per_kg, saturation_pa
from controller.physics.wall import (
    CELLS,
    NO_BODY,
    Body,
    Heated,
    Outside,
    Wall,
    even_wall,
    heat_wall,
    inner_face_c,
)
from controller.physics.water import Pores

GONE_KG_PER_M2 = 1e-4
"""Less plastic than this, 0.1 g/m2, counts as none: a film of a ten-thousandth of a millimetre."""

SPECK_KG_PER_M2 = 1e-12
"""Less char than this counts as none; so small that what slowly gathers is not lost on the way."""

DECAYS_FROM_C = 150.0
"""No material of the table loses 1 % in a day below this."""

TOUCH_W_PER_M2_K = 150.0
"""Between the first coat and the plastic: a coat grows into its surface, but gaps open; chosen, weak."""


class Plastic(NamedTuple):
    """The pattern's material, each value picked from its band."""

    kg_per_m3: float
    w_per_m_k: float
    j_per_kg_k: float
    fusion_j_per_kg: float
    runs_c: float
    melts_over_k: float
    """The heat of fusion is taken over so many kelvin below `runs_c` and above."""
    melt_pa_s: float
    decays: Kinetics
    char_part: float
    char_burns: Kinetics
    ash_part: float = 0.0


class ShellMake(NamedTuple):
    """A shell and its pattern for each m2 of wall. It does not change in a firing."""

    wall: Wall
    pores: Pores
    full_kg_per_m2: float
    """Water that the wall holds when the front is at its face: at the start."""
    plastic_kg_per_m2: float
    pocket_part: float
    """Part of the plastic that has no way out and stays."""
    drain_m: float
    """Height from which the melt must run down."""
    plastic: Plastic
    sinter_j_per_mol: float


class ShellState(NamedTuple):
    """Everything that the next step needs, for each m2 of wall."""

    cells_c: tuple[float, ...]
    plastic_c: float
    water_kg_per_m2: float
    clinging_kg_per_m2: float
    """Plastic on the wall: all of it that can run, before it runs."""
    pocket_kg_per_m2: float
    thinning_per_m2: float
    """The draining film's thickness to the power of -2."""
    drained_kg_per_m2: float
    char_kg_per_m2: float
    vapour_kg_per_m2: float
    """Plastic that has gone as vapour since the start."""
    heat_work_s: float
    """Seconds at 815 C that would have done the same at the wall's inner face, the last to be fired."""
    face_c: float


def shell_at(c: float, make: ShellMake, cells: int = CELLS) -> ShellState:
    """Return a shell that has long stood at `c`, with all of its water and its pattern."""
    pocket = make.plastic_kg_per_m2 * make.pocket_part
    clinging = make.plastic_kg_per_m2 - pocket
    return ShellState(
        even_wall(c, cells), c, make.full_kg_per_m2, clinging, pocket, 0.0, 0.0, 0.0, 0.0, 0.0, c
    )


def core_c(state: ShellState) -> float:
    """Return the temperature of the wall's inner face."""
    return inner_face_c(state.cells_c)


def plastic_kg_per_m2(state: ShellState) -> float:
    """Return all plastic still in the shell."""
    return state.clinging_kg_per_m2 + state.pocket_kg_per_m2


def ash_kg_per_m2(state: ShellState, make: ShellMake) -> float:
    """Return what the plastic that has gone leaves for good; what drained took its own ash along."""
    return make.plastic.ash_part * (state.vapour_kg_per_m2 + state.char_kg_per_m2)


def steam_pa(state: ShellState, make: ShellMake) -> float:
    """Return by how much the steam at the water's front exceeds the atmosphere."""
    if state.water_kg_per_m2 <= 0.0:
        return 0.0
    cells = state.cells_c
    _, cell = water.front_place(0.0, state.water_kg_per_m2, make.full_kg_per_m2, len(cells))
    return max(0.0, saturation_pa(cells[cell]) - ATMOSPHERE_PA)


def shell_step(
    state: ShellState,
    make: ShellMake,
    outside: Outside,
    dt_s: float,
    oxygen_kg_per_m2_s: float = float("inf"),
) -> ShellState:
    """Return the shell `dt_s` (above zero) later. Any step is stable; 1 s is as exact as the grid."""
    warm, left_kg = _warm(state, make, outside, dt_s)
    inner_c = inner_face_c(warm.cells_c)
    state = ShellState(
        warm.cells_c,
        warm.body_c,
        left_kg,
        *state[3:9],
        state.heat_work_s + sintering.work_s(inner_c, dt_s, make.sinter_j_per_mol),
        warm.face_c,
    )
    if plastic_kg_per_m2(state) > 0.0:
        state = _melt_and_decay(state, make, dt_s)
    if state.char_kg_per_m2 > 0.0:
        state = _burn_char(state, make, inner_c, dt_s, oxygen_kg_per_m2_s)
    return state


def _warm(state: ShellState, make: ShellMake, outside: Outside, dt_s: float) -> tuple[Heated, float]:
    """Return the wall with the plastic behind it, and the water left."""
    thickness_m, full_kg, water_kg = make.wall.thickness_m, make.full_kg_per_m2, state.water_kg_per_m2
    cells = len(state.cells_c)
    if water_kg <= 0.0:
        after = heat_wall(state.cells_c, make.wall, outside, dt_s, plastic_body(state, make))
        return after, 0.0
    taken = water.taken_by_front(state.cells_c, thickness_m, water_kg, full_kg, make.pores, dt_s)
    added = water.water_j_per_m2_k(water_kg, full_kg, cells)
    after = heat_wall(state.cells_c, make.wall, outside, dt_s, plastic_body(state, make), taken, added)
    gone_kg = max(0.0, after.taken_j_per_m2) / latent_j_per_kg(state.cells_c[taken.cell])
    left_kg = water_kg - gone_kg
    if left_kg < 1e-6 * full_kg:  # the last of it, by rounding
        left_kg = 0.0
    return after, left_kg


def plastic_body(state: ShellState, make: ShellMake) -> Body:
    """Return the plastic as a body behind the wall; none when it is gone.

    Melting is heat capacity spread over the range in which it melts. Half-way through its own depth the
    heat goes by conduction: a slab's mean lags as if a third of its thickness were in the way.
    """
    left_kg = plastic_kg_per_m2(state)
    if left_kg <= GONE_KG_PER_M2:
        return NO_BODY
    plastic = make.plastic
    heat = plastic.j_per_kg_k
    if abs(state.plastic_c - plastic.runs_c) < plastic.melts_over_k / 2.0:
        heat += plastic.fusion_j_per_kg / plastic.melts_over_k
    depth_m = left_kg / plastic.kg_per_m3
    touch = 1.0 / (1.0 / TOUCH_W_PER_M2_K + depth_m / (3.0 * plastic.w_per_m_k))
    return Body(state.plastic_c, left_kg * heat, touch)


def _melt_and_decay(state: ShellState, make: ShellMake, dt_s: float) -> ShellState:
    plastic, c = make.plastic, state.plastic_c
    clinging, pocket, thinning = state.clinging_kg_per_m2, state.pocket_kg_per_m2, state.thinning_per_m2
    drained_kg = 0.0
    if c >= plastic.runs_c:
        viscosity = pattern.melt_pa_s(plastic.melt_pa_s, plastic.runs_c, c)
        thinning += dt_s * pattern.thinning_per_m2_s(viscosity, plastic.kg_per_m3, make.drain_m)
        drained_kg = max(0.0, clinging - pattern.film_kg_per_m2(thinning, plastic.kg_per_m3))
        clinging -= drained_kg
    vapour_kg = 0.0
    if c > DECAYS_FROM_C:
        left = decay.left_part(plastic.decays, c, dt_s)
        vapour_kg = (1.0 - left) * (clinging + pocket)
        clinging, pocket = left * clinging, left * pocket
        if clinging + pocket < GONE_KG_PER_M2:
            vapour_kg += clinging + pocket
            clinging = pocket = 0.0
    return state._replace(
        clinging_kg_per_m2=clinging,
        pocket_kg_per_m2=pocket,
        thinning_per_m2=thinning,
        drained_kg_per_m2=state.drained_kg_per_m2 + drained_kg,
        char_kg_per_m2=state.char_kg_per_m2 + plastic.char_part * vapour_kg,
        vapour_kg_per_m2=state.vapour_kg_per_m2 + (1.0 - plastic.char_part) * vapour_kg,
    )


def _burn_char(
    state: ShellState, make: ShellMake, c: float, dt_s: float, oxygen_kg_per_m2_s: float
) -> ShellState:
    if c < DECAYS_FROM_C:
        return state
    burnt_kg = decay.char_burnt(
        state.char_kg_per_m2,
        make.plastic.char_burns,
        c,
        dt_s,
        oxygen_kg_per_m2_s * dt_s,
        CHAR_KG_OXYGEN_PER_KG,
    )
    left_kg = state.char_kg_per_m2 - burnt_kg
    return state._replace(char_kg_per_m2=0.0 if left_kg < SPECK_KG_PER_M2 else left_kg)


def weighed(state: ShellState, make: ShellMake, drained_kg_per_m2: float) -> ShellState:
    """Return the shell once the drained plastic was weighed: what did not drain, and has not gone, is in it.

    Weighing says more than the film's law: what the film cannot hold sits in pockets.
    """
    gone = state.vapour_kg_per_m2 + state.char_kg_per_m2
    left = max(0.0, make.plastic_kg_per_m2 - drained_kg_per_m2 - gone)
    clinging = min(left, state.clinging_kg_per_m2)
    return state._replace(
        clinging_kg_per_m2=clinging,
        pocket_kg_per_m2=left - clinging,
        drained_kg_per_m2=drained_kg_per_m2,
    )
