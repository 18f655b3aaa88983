"""What a gypsum-bonded mould is made of. All weak: makers of investments print their own values.

Taken as constant with temperature. Its water is free water and water of crystal (a fifth of set
plaster's mass: 2 H2O of CaSO4 2 H2O are 36.0 of 172.2 g/mol); both are treated as free here, although
the crystal's water goes at 100 to 180 C and takes a little more heat.
"""

from __future__ import annotations

from controller.physics.band import Band

W_PER_M_K = Band(0.25, 0.4, 0.6, "from memory")
J_PER_M3_K = Band(0.9e6, 1.1e6, 1.3e6, "1100 kg/m3, 1000 J/(kg K); from memory")
KG_PER_M3 = Band(950.0, 1100.0, 1250.0, "dry; from memory")
POROSITY = Band(0.4, 0.5, 0.6, "from memory")
PERMEABILITY_M2 = Band(1e-15, 1e-14, 1e-13, "from memory")
STRENGTH_PA = Band(0.5e6, 1.2e6, 3.0e6, "wet, modulus of rupture; from memory")
MODULUS_PA = Band(0.5e9, 2.0e9, 5.0e9, "elastic modulus, set and damp; from memory")
WATER_PART = Band(0.20, 0.35, 0.55, "free and bound water over the dry mass; from memory")
THICKNESS_M = Band(0.015, 0.03, 0.06, "plaster around the pattern; common practice, no source")
CRYSTAL_WATER_PART = 2.0 * 18.015 / 172.17
"""Water of crystal in set plaster, as a part of its mass: from the formula."""
