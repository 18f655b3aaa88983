"""Metals to pour: how heavy they are, when they are molten, how hot they are poured, how much is needed."""

from __future__ import annotations

from typing import NamedTuple

from controller.physics.band import Band, exactly

SPRUE_PART = Band(
    0.15, 0.35, 0.7, "metal in cup, sprue and runners over metal in the piece; common practice, no source"
)
LOSS_PART = Band(0.01, 0.03, 0.08, "metal lost as dross and in the crucible; common practice, no source")
MELT_S = Band(
    30 * 60.0, 60 * 60.0, 120 * 60.0, "from lighting the furnace to pour-ready; common practice, no source"
)
MOULD_C = Band(
    593.0, 700.0, 815.0, "preheat of shells for bronze, 593 to 815 C: a foundry's page", weak=False
)
"""A shell colder than the low end no longer takes the detail."""


class Metal(NamedTuple):
    """A casting metal."""

    name: str
    kg_per_m3: Band
    solidus_c: float
    liquidus_c: float
    pour_c: Band


METALS = {
    metal.name: metal
    for metal in (
        Metal(
            "silicon bronze",
            exactly(8360.0, "C87300: alloy sheet"),
            821.0,
            971.0,
            Band(982.0, 1093.0, 1149.0, "982 to 1149 C by size of piece: a foundry's page", weak=False),
        ),
        Metal(
            "tin bronze",
            exactly(8800.0, "C90300: alloy sheet"),
            854.0,
            1000.0,
            Band(1040.0, 1100.0, 1180.0, "from memory"),
        ),
        Metal(
            "aluminium",
            Band(2640.0, 2680.0, 2720.0, "silicon alloys; from memory"),
            555.0,
            615.0,
            Band(680.0, 720.0, 760.0, "from memory"),
        ),
        Metal(
            "brass",
            Band(8300.0, 8450.0, 8600.0, "from memory"),
            900.0,
            940.0,
            Band(1000.0, 1050.0, 1100.0, "from memory"),
        ),
    )
}
"""Metals by name, as a job sheet has them."""


def metal_kg(
    pattern_kg: float,
    fill: float,
    pattern_kg_per_m3: float,
    metal_kg_per_m3: float,
    sprue_part: float = 0.0,
    loss_part: float = 0.0,
) -> float:
    """Return the metal that fills what a pattern leaves, kg.

    `fill`: the part of the pattern's volume that is plastic, 0 to 1: a hollow print is weighed for its
    plastic, but the metal fills what it enclosed. `sprue_part`: metal beside the piece, over the piece;
    0 where the sprue was weighed with the pattern. `loss_part`: lost in melting, over all.
    """
    piece_kg = pattern_kg / fill * metal_kg_per_m3 / pattern_kg_per_m3
    return piece_kg * (1.0 + sprue_part) * (1.0 + loss_part)
