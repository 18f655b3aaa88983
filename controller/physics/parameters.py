"""What a kiln and its load are made of: lumps that hold heat and paths that pass it, each with its unit.

The lumps are the elements, the chamber's air, the lining in three layers (hot, middle, cold), and the
load: a shell with an outer and an inner half, the inner half holding the water and the plastic.

The defaults are an invented front-loading kiln: 75 litres (0.42 m each way), 6.5 kW, 115 mm of
insulating brick, with one shell of 6 kg on a shelf of 4 kg. They come from its geometry with values from
memory: brick of 850 kg/m3, 1000 J/(kg K), 0.22 W/(m K); shell and shelf 1000 J/(kg K).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class KilnParameters:
    """A kiln and its load as lumps. Frozen: a changed kiln is another kiln (`dataclasses.replace`)."""

    rated_power_w: float = 6500.0
    """What the elements take when the heat is on, W."""

    elements_j_per_k: float = 1400.0
    """Heat capacity of the elements, J/K: 2 kg of resistance wire."""

    elements_air_w_per_k: float = 5.0
    """Convection from the elements to the air, W/K: 0.3 m2 of wire in grooves."""

    elements_lining_m2: float = 0.24
    """Radiation from the elements to the lining, m2: area with the view and both emissivities in it."""

    elements_load_m2: float = 0.01
    """Radiation from the elements straight to the load, m2, as above."""

    air_j_per_k: float = 60.0
    """Heat capacity of the chamber's air, J/K: 75 litres, taken as constant (it is small)."""

    lining_air_w_per_k: float = 12.0
    """Convection from the lining's hot face to the air, W/K: 1.06 m2."""

    lining_hot_j_per_k: float = 18.5e3
    """Heat capacity of the lining's hot layer, J/K: the first 20 mm of brick."""

    lining_middle_j_per_k: float = 51.5e3
    """Heat capacity of the lining's middle layer, J/K: the next 45 mm."""

    lining_cold_j_per_k: float = 76.0e3
    """Heat capacity of the lining's outer layer, J/K: the last 50 mm and the casing."""

    lining_hot_middle_w_per_k: float = 8.1
    """Conduction from the hot to the middle layer, centre to centre, W/K."""

    lining_middle_cold_w_per_k: float = 6.9
    """Conduction from the middle to the cold layer, centre to centre, W/K."""

    lining_room_w_per_k: float = 9.2
    """From the cold layer's centre through the casing to the room, W/K."""

    load_air_w_per_k: float = 3.0
    """Convection from the shell to the air, W/K: 0.3 m2."""

    lining_load_m2: float = 0.19
    """Radiation between the lining and the shell, m2: area with the view and both emissivities in it."""

    load_outer_j_per_k: float = 8.0e3
    """Heat capacity of the shell's outer half and of the shelf under it, J/K."""

    load_core_j_per_k: float = 3.0e3
    """Heat capacity of the shell's inner half, dry and empty, J/K."""

    load_w_per_k: float = 30.0
    """Conduction from the outer to the inner half of the shell, W/K: 0.3 m2 through 8 mm."""

    leak_kg_per_s: float = 0.0001
    """Air that passes through the chamber by itself, kg/s."""

    extraction_kg_per_s: float = 0.0003
    """Air that the extraction draws through the chamber beside the leak, kg/s."""

    drained_part: float = 0.7
    """Part of the molten plastic that runs out through the drain by itself, 0 to 1."""

    air_probe_s: float = 25.0
    """Lag of the air thermocouple in its sheath, s."""

    air_probe_sees_lining: float = 0.75
    """How far the air thermocouple is ruled by the lining that it sees, 0 (air) to 1 (lining)."""

    load_probe_s: float = 20.0
    """Lag of the thermocouple at the shell, s."""

    limit_probe_s: float = 35.0
    """Lag of the limit thermocouple, s."""

    limit_probe_sees_lining: float = 0.85
    """How far the limit thermocouple is ruled by the lining, 0 (air) to 1 (lining)."""
