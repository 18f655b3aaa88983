"""The pattern against the shell: why shells crack on the way up, what hollow patterns change, how melt runs.

Theory of operation. The pattern grows a hundred times more than fused silica. Until it softens it pushes
the shell from within; how hard depends on how stiff it is. A hollow print gives way, and once it is
rubber it pushes no more. A solid one is shut in: rubber cannot be squeezed together either and grows even
faster, so it pushes until it can run out. Pattern and shell are taken as a ball in a ball (Lame's
solution for a thick-walled sphere, Timoshenko and Goodier, Theory of Elasticity).

What it leaves out: corners, where stress gathers; creep, which eases it; the bond between pattern and first
coat. It cracks a solid PLA pattern's shell near 50 C; people see it near 93 C (common practice, no source).
"""

from __future__ import annotations

from math import exp, sqrt
from typing import NamedTuple

from controller.physics.band import Band
from controller.physics.constants import ZERO_C_IN_K
from controller.physics.material import Material
from controller.physics.silica import EXPANSION_PER_K, POISSON

PATTERN_POISSON = 0.36
"""Poisson's ratio of stiff plastics; from memory."""

SHUT_IN_FILL = 0.95
"""From so much plastic in its volume on, rubber has no voids to move into; chosen."""

PLAY = Band(0.0005, 0.0015, 0.003, "growth of length taken up by layer lines and the first coat; chosen")

RUNS_ABOVE_K = 40.0
"""The table's viscosity is told so far above where a material begins to run."""

FLOW_J_PER_MOL = 80.0e3
"""Activation energy of a melt's viscosity, a middling plastic; from memory, weak."""

MELT_AT_REST_PA_S = 1e12
"""Viscosity of what does not run."""

GRAVITY_M_PER_S2 = 9.80665


class Print(NamedTuple):
    """A pattern as it was made. `fill`: plastic in the volume it encloses, skin apart, 0 to 1."""

    radius_m: float
    """Of the ball that stands for it: half of its thickest part."""
    fill: float
    skin_m: float


class Stiff(NamedTuple):
    """The shell around it, and the plastic's values, each one picked from its band."""

    shell_m: float
    shell_modulus_pa: float
    modulus_pa: float
    expansion_per_k: float
    rubber_per_k: float
    glass_c: float
    runs_c: float
    play: float


def growth(values: Stiff, c: float, from_c: float = 20.0) -> float:
    """Return how much a pattern free of stress would outgrow its shell at `c`, as a part of its length."""
    stiff_k = min(c, values.glass_c) - from_c
    rubber_k = max(0.0, c - values.glass_c)
    grown = values.expansion_per_k * stiff_k + values.rubber_per_k * rubber_k
    return max(0.0, grown - EXPANSION_PER_K.typical * (c - from_c) - values.play)


def print_pa(of: Print, values: Stiff, c: float) -> float:
    """Return the pressure with which a pattern resists for each part of its length it is held back."""
    solid = values.modulus_pa / (1.0 - 2.0 * PATTERN_POISSON)
    if of.fill >= SHUT_IN_FILL:
        return solid
    if c > values.glass_c:
        return 0.0  # a rubber with voids, some thousand times softer
    skin = 2.0 * values.modulus_pa * of.skin_m / ((1.0 - PATTERN_POISSON) * of.radius_m)
    return min(solid, solid * of.fill**2 + skin)  # cells: Gibson and Ashby's square law, from memory


def shell_give_per_pa(radius_m: float, shell_m: float, modulus_pa: float) -> float:
    """Return how much a shell around a ball widens, as a part of its radius, for each Pa (Lame)."""
    inner, outer = radius_m**3, (radius_m + shell_m) ** 3
    shape = ((1.0 - 2.0 * POISSON) * inner + (1.0 + POISSON) * outer / 2.0) / (outer - inner)
    return shape / modulus_pa


def hoop_per_pa(radius_m: float, shell_m: float) -> float:
    """Return the tension in a shell's inner face for each Pa that presses on it (Lame)."""
    inner, outer = radius_m**3, (radius_m + shell_m) ** 3
    return (2.0 * inner + outer) / (2.0 * (outer - inner))


def wall_stress_pa(of: Print, values: Stiff, c: float, from_c: float = 20.0) -> float:
    """Return the tension that a pattern at `c` puts on the shell's inner face; 0 once it runs out."""
    if c >= values.runs_c:
        return 0.0
    stiffness_pa = print_pa(of, values, c)
    if stiffness_pa <= 0.0:
        return 0.0
    give = 1.0 / stiffness_pa + shell_give_per_pa(of.radius_m, values.shell_m, values.shell_modulus_pa)
    return growth(values, c, from_c) / give * hoop_per_pa(of.radius_m, values.shell_m)


def cracks_at_c(of: Print, values: Stiff, strength_pa: float, from_c: float = 20.0) -> float | None:
    """Return where on the way up a shell of this strength cracks; None if the pattern gives way before.

    To 1 K. The whole shell is taken at one temperature: as when it is heated slowly.
    """
    last_c = min(values.runs_c, 600.0)
    steps = int(last_c - from_c)
    for kelvin in range(1, steps + 1):
        if wall_stress_pa(of, values, from_c + kelvin, from_c) >= strength_pa:
            return from_c + kelvin
    return None


def flash_c_per_h(material: Material, half_m: float, from_c: float = 20.0) -> float:
    """Return the rise from which the pattern's skin runs before its middle has grown.

    In a steady rise the middle lags by rate d^2 / (2 alpha) (Carslaw and Jaeger, Conduction of Heat in
    Solids, slab with a face that rises linearly); asked for is that it lags by the whole way to where
    the material runs. Infinite for a network. That wax shells are heated fast: common practice, no source.
    """
    way_k = material.runs_c.typical - from_c
    alpha_m2_per_s = material.w_per_m_k.typical / (material.kg_per_m3.typical * material.j_per_kg_k.typical)
    return 3600.0 * 2.0 * alpha_m2_per_s * way_k / half_m**2


def melt_pa_s(at_rest_pa_s: float, runs_c: float, c: float) -> float:
    """Return a melt's viscosity at `c`, from the table's value 40 K above where it begins to run."""
    if c < runs_c:
        return MELT_AT_REST_PA_S
    known_k = runs_c + RUNS_ABOVE_K + ZERO_C_IN_K
    return at_rest_pa_s * exp(FLOW_J_PER_MOL / 8.314462618 * (1.0 / (c + ZERO_C_IN_K) - 1.0 / known_k))


def thinning_per_m2_s(viscosity_pa_s: float, kg_per_m3: float, height_m: float) -> float:
    """Return how fast a draining film's thickness to the power of -2 grows, at the foot of a wall.

    A film on an upright wall is sqrt(mu z / (rho g t)) thick (Jeffreys, Proc Camb Phil Soc 26 (1930) 204):
    its inverse square grows evenly, so a viscosity that changes on the way can be summed up.
    """
    return kg_per_m3 * GRAVITY_M_PER_S2 / (viscosity_pa_s * height_m)


def film_kg_per_m2(thinning_per_m2: float, kg_per_m3: float) -> float:
    """Return what still clings to the wall: the film's mean is two thirds of that at the foot."""
    if thinning_per_m2 <= 0.0:
        return float("inf")
    return kg_per_m3 * 2.0 / 3.0 / sqrt(thinning_per_m2)
