"""Burning: the air it needs, the heat it gives, whether the vent is enough and whether the fire runs away.

Heat of burning by Huggett's rule: 13.1 MJ for each kg of oxygen, within 5 % for organic matter (Fire and
Materials 4 (1980) 61). Oxygen by counting atoms: C + O2, 4 H + O2, less what the material brings along.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.physics.finding import Finding

CARBON_KG_PER_MOL = 12.011e-3
HYDROGEN_KG_PER_MOL = 1.008e-3
OXYGEN_KG_PER_MOL = 15.999e-3
"""Standard atomic weights, IUPAC (abridged)."""

OXYGEN_IN_AIR = 0.2314
"""Part of dry air's mass that is oxygen."""

AIR_KG_PER_M3 = 1.2045
"""Dry air at 20 C and 101 325 Pa, ideal gas of 28.965 g/mol."""

HUGGETT_J_PER_KG_OXYGEN = 13.1e6
"""Net heat for each kg of oxygen used, +-5 %: Huggett, Fire and Materials 4 (1980), by way of NIST SP 958."""

CHAR_KG_OXYGEN_PER_KG = 2.0 * OXYGEN_KG_PER_MOL / CARBON_KG_PER_MOL
"""Oxygen that char takes, reckoned as carbon burning to carbon dioxide."""

VENT_MARGIN = 2.0
"""Air asked for over air needed: it never finds all of the vapour. Chosen; safety ventilation asks more."""

GAS_CONSTANT_AIR_J_PER_KG_K = 287.05


class Formula(NamedTuple):
    """Atoms in the repeating unit of an organic material."""

    carbon: float
    hydrogen: float
    oxygen: float = 0.0


class Fire(NamedTuple):
    """What burns in the chamber now. `smoke_kg_per_s`: vapour that finds no air: it leaves as smoke, or burns
    when the door is opened.
    """

    heat_w: float
    smoke_kg_per_s: float
    air_needed_kg_per_s: float


def oxygen_kg_per_kg(formula: Formula) -> float:
    """Return the oxygen that burns one kg of a material wholly, kg."""
    carbon, hydrogen, oxygen = formula
    mass = carbon * CARBON_KG_PER_MOL + hydrogen * HYDROGEN_KG_PER_MOL + oxygen * OXYGEN_KG_PER_MOL
    return 2.0 * OXYGEN_KG_PER_MOL * (carbon + hydrogen / 4.0 - oxygen / 2.0) / mass


def air_kg_per_kg(formula: Formula) -> float:
    """Return the air that burns one kg of a material wholly, kg."""
    return oxygen_kg_per_kg(formula) / OXYGEN_IN_AIR


def air_m3_per_kg(formula: Formula) -> float:
    """Return that air as it comes in, m3 at 20 C."""
    return air_kg_per_kg(formula) / AIR_KG_PER_M3


def burning_j_per_kg(formula: Formula) -> float:
    """Return the net heat of burning, J/kg, within 5 % (Huggett)."""
    return oxygen_kg_per_kg(formula) * HUGGETT_J_PER_KG_OXYGEN


def fire(vapour_kg_per_s: float, formula: Formula, vent_kg_per_s: float) -> Fire:
    """Return what so much vapour does in a chamber that so much air passes through."""
    needed = vapour_kg_per_s * air_kg_per_kg(formula)
    part = 1.0 if needed <= vent_kg_per_s else max(0.0, vent_kg_per_s) / needed
    return Fire(part * vapour_kg_per_s * burning_j_per_kg(formula), (1.0 - part) * vapour_kg_per_s, needed)


def vent_needed_kg_per_s(vapour_kg_per_s: float, formula: Formula) -> float:
    """Return the air that should pass through while so much vapour comes off, with the margin."""
    return VENT_MARGIN * vapour_kg_per_s * air_kg_per_kg(formula)


def fire_to_need(heat_w: float, needed_w: float) -> float:
    """Return the fire over what the kiln needs to follow its schedule: above 1 it outruns the elements.

    `needed_w`: what the kiln loses at this temperature and what its rise takes. Above 1 the heat is off
    and the temperature still rises faster than asked; only less vapour (a slower rise before) helps.
    """
    if needed_w <= 0.0:
        return float("inf") if heat_w > 0.0 else 0.0
    return heat_w / needed_w


def fire_findings(
    vapour_kg_per_s: float, formula: Formula, vent_kg_per_s: float, needed_w: float
) -> tuple[Finding, ...]:
    """Return, in words, whether the vent is enough for so much vapour, and whether its fire runs away.

    `needed_w`: as for `fire_to_need`.
    """
    burns = fire(vapour_kg_per_s, formula, vent_kg_per_s)
    air_kg_per_h, vent_kg_per_h = burns.air_needed_kg_per_s * 3600.0, vent_kg_per_s * 3600.0
    found = []
    if burns.smoke_kg_per_s > 0.0:
        found.append(
            Finding(
                "vent",
                "stop" if vent_kg_per_s <= 0.0 else "warn",
                f"The plastic's vapour needs {air_kg_per_h:.1f} kg of air an hour to burn, "
                f"and {vent_kg_per_h:.1f} kg pass: the rest leaves as smoke, or waits for the door.",
                "Heat more slowly through this range, drain more before it, or let more air pass.",
                air_kg_per_h,
                vent_kg_per_h,
                "kg/h",
            )
        )
    part = fire_to_need(burns.heat_w, needed_w)
    if part > 1.0:
        found.append(
            Finding(
                "fire",
                "warn",
                f"The burning plastic gives {burns.heat_w / 1e3:.1f} kW where {needed_w / 1e3:.1f} kW are "
                "needed: with the heat off the kiln still rises faster than the schedule.",
                "Heat more slowly through this range, or drain more before it.",
                burns.heat_w,
                needed_w,
                "W",
            )
        )
    return tuple(found)


def burnt_by_closed_air_kg(chamber_m3: float, c: float, formula: Formula) -> float:
    """Return how much of a material the air in a closed chamber at `c` can burn, kg."""
    air_kg = chamber_m3 * 101325.0 / (GAS_CONSTANT_AIR_J_PER_KG_K * (c + 273.15))
    return air_kg / air_kg_per_kg(formula)
