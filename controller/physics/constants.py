"""Constants of nature and of common substances, each with its source. Pure numbers, SI units."""

from __future__ import annotations

ZERO_C_IN_K = 273.15
"""0 C in kelvin, exact by definition."""

STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670374419e-8
"""Stefan-Boltzmann constant, CODATA 2018 (exact in the SI of 2019, rounded to ten digits)."""

GAS_CONSTANT_J_PER_MOL_K = 8.314462618
"""Molar gas constant, CODATA 2018 (exact in the SI of 2019, rounded to ten digits)."""

AIR_J_PER_KG_K = 1005.0
"""Specific heat of dry air at constant pressure near 20 C; from memory. It rises by a tenth to 800 C."""

WATER_J_PER_KG_K = 4186.0
"""Specific heat of liquid water near 20 C; from memory."""

WATER_LATENT_J_PER_KG = 2256.5e3
"""Latent heat of water at 100 C: IAPWS-IF97."""

PLASTIC_J_PER_KG_K = 1800.0
"""Specific heat of PLA: a maker's data sheet."""

PLASTIC_FUSION_J_PER_KG = 28.0e3
"""Heat of fusion of printed PLA: 93 J/g wholly crystalline (data sheet), of which a print has some 30 %."""

PLASTIC_ACTIVATION_J_PER_MOL = 181.0e3
"""Apparent activation energy of PLA's decomposition in nitrogen: J Therm Anal Calorim 97 (2009) 929."""

PLASTIC_DECAY_PER_S = 5.82e12
"""Frequency factor that goes with 181 kJ/mol, so that the peak at 10 K/min lies at 365 C; calculated."""

PLASTIC_BURNING_J_PER_KG = 17.45e6
"""Net heat of burning of PLA, C3H4O2: Huggett's 13.1 MJ per kg of oxygen, Fire and Materials 4 (1980)."""

BURNING_J_PER_KG_AIR = 3.031e6
"""Heat that the oxygen of one kg of air can give: 23.14 % of Huggett's 13.1 MJ per kg of oxygen."""
