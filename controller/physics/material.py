"""Pattern materials: what each is made of, when it softens, runs and goes, and what it leaves.

One table. Values marked weak are from memory; a maker's data sheet, or a weighed test piece, is better.
PLA is the only one for which papers were read. A castable resin stands for a family: it is a network
that never runs, and its formula is that of PMMA, for want of a better.
"""

from __future__ import annotations

from dataclasses import dataclass

from controller.physics.band import Band, about, exactly
from controller.physics.fire import Formula

MEMORY = "from memory"
SHEET = "makers' data sheets"


@dataclass(frozen=True, slots=True)
class Material:
    """A pattern's material. Bands run from low to high in value, not from good to bad."""

    name: str
    formula: Formula
    kg_per_m3: Band
    glass_c: Band
    """Below it stiff, above it rubber."""
    runs_c: Band
    """Runs from here on; a network that never runs has infinity."""
    fusion_j_per_kg: Band
    j_per_kg_k: Band
    w_per_m_k: Band
    expansion_per_k: Band
    """Of length, stiff."""
    rubber_per_k: Band
    """Of length, above `glass_c`."""
    modulus_pa: Band
    """Stiff."""
    melt_pa_s: Band
    """Viscosity 40 K above `runs_c`, at rest."""
    decay_j_per_mol: Band
    peak_c: Band
    """Where its loss peaks at 10 K/min."""
    char_part: Band
    """Left as char where no air comes, as a part of what decomposed."""
    ash_part: Band
    """Left for good."""

    @property
    def runs(self) -> bool:
        """Tell whether it ever runs out."""
        return self.runs_c.typical < float("inf")


NEVER = exactly(float("inf"), "a network does not run")
NO_FUSION = exactly(0.0, "not crystalline")

PLA = Material(
    name="PLA",
    formula=Formula(3, 4, 2),
    kg_per_m3=Band(1240.0, 1240.0, 1300.0, SHEET, weak=False),
    glass_c=Band(45.0, 60.0, 65.0, SHEET + ", 63 measured", weak=False),
    runs_c=Band(130.0, 155.0, 180.0, SHEET + " 150 to 160, 130 to 180 seen", weak=False),
    fusion_j_per_kg=Band(0.0, 28.0e3, 46.0e3, "93 J/g fully crystalline; a print is 0 to 50 %"),
    j_per_kg_k=exactly(1800.0, SHEET),
    w_per_m_k=exactly(0.13, SHEET),
    expansion_per_k=about(68e-6, 0.15, MEMORY),
    rubber_per_k=about(200e-6, 0.3, MEMORY),
    modulus_pa=about(3.0e9, 0.2, MEMORY),
    melt_pa_s=Band(300.0, 1000.0, 4000.0, MEMORY),
    decay_j_per_mol=Band(
        96.0e3,
        181.0e3,
        184.0e3,
        "181: J Therm Anal Calorim 97 (2009) 929; 96: Polymers 15 (2023) 4324",
        weak=False,
    ),
    peak_c=Band(350.0, 365.0, 378.0, "365 at 10 K/min: chosen after Polymers 15 (2023) 4324"),
    char_part=Band(0.002, 0.01, 0.03, MEMORY),
    ash_part=Band(0.0003, 0.002, 0.005, "below 0.5 % unfilled; pigments and fillers more; " + MEMORY),
)

WAX = Material(
    name="wax",
    formula=Formula(25, 52),
    kg_per_m3=about(930.0, 0.04, MEMORY),
    glass_c=about(45.0, 0.15, MEMORY + ": it softens rather"),
    runs_c=Band(55.0, 65.0, 75.0, MEMORY),
    fusion_j_per_kg=Band(120.0e3, 180.0e3, 220.0e3, MEMORY),
    j_per_kg_k=about(2500.0, 0.15, MEMORY),
    w_per_m_k=about(0.25, 0.2, MEMORY),
    expansion_per_k=Band(150e-6, 300e-6, 500e-6, MEMORY),
    rubber_per_k=Band(300e-6, 600e-6, 900e-6, MEMORY),
    modulus_pa=Band(0.05e9, 0.2e9, 0.6e9, MEMORY),
    melt_pa_s=Band(0.005, 0.02, 0.5, MEMORY),
    decay_j_per_mol=Band(65.0e3, 85.0e3, 110.0e3, MEMORY + ": it evaporates"),
    peak_c=Band(290.0, 330.0, 390.0, MEMORY),
    char_part=Band(0.0, 0.002, 0.01, MEMORY),
    ash_part=Band(0.0001, 0.0003, 0.001, MEMORY),
)

HIPS = Material(
    name="HIPS",
    formula=Formula(8, 8),
    kg_per_m3=about(1050.0, 0.02, MEMORY),
    glass_c=about(95.0, 0.08, MEMORY),
    runs_c=Band(170.0, 190.0, 230.0, MEMORY),
    fusion_j_per_kg=NO_FUSION,
    j_per_kg_k=about(1800.0, 0.1, MEMORY),
    w_per_m_k=about(0.15, 0.2, MEMORY),
    expansion_per_k=about(85e-6, 0.15, MEMORY),
    rubber_per_k=about(190e-6, 0.3, MEMORY),
    modulus_pa=about(1.9e9, 0.2, MEMORY),
    melt_pa_s=Band(1000.0, 5000.0, 20000.0, MEMORY),
    decay_j_per_mol=Band(175.0e3, 200.0e3, 230.0e3, MEMORY),
    peak_c=Band(405.0, 425.0, 440.0, "goes at 380 to 450; " + MEMORY),
    char_part=Band(0.001, 0.01, 0.03, MEMORY),
    ash_part=Band(0.0005, 0.002, 0.01, MEMORY),
)

PMMA = Material(
    name="PMMA",
    formula=Formula(5, 8, 2),
    kg_per_m3=about(1180.0, 0.02, MEMORY),
    glass_c=about(105.0, 0.06, MEMORY),
    runs_c=Band(180.0, 200.0, 230.0, MEMORY),
    fusion_j_per_kg=NO_FUSION,
    j_per_kg_k=about(1800.0, 0.15, MEMORY),
    w_per_m_k=about(0.19, 0.1, MEMORY),
    expansion_per_k=about(70e-6, 0.1, MEMORY),
    rubber_per_k=about(190e-6, 0.3, MEMORY),
    modulus_pa=about(3.0e9, 0.15, MEMORY),
    melt_pa_s=Band(3000.0, 20000.0, 200000.0, MEMORY),
    decay_j_per_mol=Band(140.0e3, 180.0e3, 220.0e3, MEMORY),
    peak_c=Band(345.0, 370.0, 390.0, "goes at 300 to 400; " + MEMORY),
    char_part=Band(0.0, 0.002, 0.01, MEMORY),
    ash_part=Band(0.0001, 0.0005, 0.002, MEMORY),
)

PVB = Material(
    name="PVB",
    formula=Formula(8, 14, 2),
    kg_per_m3=about(1080.0, 0.03, MEMORY),
    glass_c=about(65.0, 0.12, MEMORY),
    runs_c=Band(140.0, 165.0, 200.0, MEMORY),
    fusion_j_per_kg=NO_FUSION,
    j_per_kg_k=about(1900.0, 0.15, MEMORY),
    w_per_m_k=about(0.2, 0.2, MEMORY),
    expansion_per_k=about(85e-6, 0.25, MEMORY),
    rubber_per_k=about(200e-6, 0.3, MEMORY),
    modulus_pa=about(2.0e9, 0.25, MEMORY),
    melt_pa_s=Band(500.0, 3000.0, 20000.0, MEMORY),
    decay_j_per_mol=Band(110.0e3, 150.0e3, 200.0e3, MEMORY),
    peak_c=Band(340.0, 370.0, 400.0, MEMORY),
    char_part=Band(0.005, 0.02, 0.05, MEMORY),
    ash_part=Band(0.0003, 0.001, 0.005, MEMORY),
)

RESIN = Material(
    name="castable resin",
    formula=Formula(5, 8, 2),
    kg_per_m3=about(1150.0, 0.05, MEMORY),
    glass_c=about(80.0, 0.3, MEMORY),
    runs_c=NEVER,
    fusion_j_per_kg=NO_FUSION,
    j_per_kg_k=about(1700.0, 0.15, MEMORY),
    w_per_m_k=about(0.2, 0.2, MEMORY),
    expansion_per_k=about(100e-6, 0.3, MEMORY),
    rubber_per_k=about(170e-6, 0.3, MEMORY),
    modulus_pa=about(1.8e9, 0.4, MEMORY),
    melt_pa_s=NEVER,
    decay_j_per_mol=Band(140.0e3, 180.0e3, 230.0e3, MEMORY),
    peak_c=Band(390.0, 420.0, 460.0, "goes at 350 to 500; " + MEMORY),
    char_part=Band(0.01, 0.03, 0.10, MEMORY),
    ash_part=Band(0.0002, 0.001, 0.005, MEMORY),
)

MATERIALS = {material.name: material for material in (PLA, WAX, HIPS, PMMA, PVB, RESIN)}
"""Every material by its name, as a job sheet has it."""
