"""Thermocouples against published values and a library of another hand.

Sources: emf of the ITS-90 reference functions, NIST Monograph 175 (1993), which IEC 60584-1 shares: values
computed with the package thermocouple-its90, and rows of the NIST tables as printed, to 0.001 mV (type T:
NIST Standard Reference Database 60, type_t.tab; type K: a copy of ASTM E230's table 9). Tolerances: see
beside each check.
"""

from __future__ import annotations

import numpy as np
import pytest
import thermocouple_its90 as other_hand

from controller.wire.thermocouple import (
    LETTERS,
    band,
    emf_mv,
    inverse_c,
    inverse_valid_mv,
    measured_mv,
    sensitivity_mv_per_k,
    temperature_c,
    tolerance_k,
    valid_c,
)

# (valid range in C, {t in C: emf in mV, the cold junction at 0 C})
# fmt: off
PUBLISHED = {
    "K": ((-270.0, 1372.0), {
        -200: -5.891404, 25: 1.000242, 100: 4.096230, 300: 12.208566, 573: 23.756581,
        750: 31.213454, 815: 33.889285, 1000: 41.275606, 1372: 54.886364,
    }),
    "N": ((-270.0, 1300.0), {
        25: 0.658646, 100: 2.774124, 300: 9.341152, 573: 19.563088, 815: 29.043280,
        1000: 36.255538, 1200: 43.846360, 1300: 47.512772,
    }),
    "S": ((-50.0, 1768.1), {
        -50: -0.235555, 25: 0.142598, 100: 0.645913, 600: 5.238690, 815: 7.508415,
        1064.18: 10.334204, 1500: 15.581669, 1700: 17.947302,
    }),
    "R": ((-50.0, 1768.1), {
        -50: -0.226465, 25: 0.140579, 100: 0.647396, 600: 5.583451, 1064.18: 11.363745,
        1500: 17.450653, 1700: 20.221696,
    }),
    "B": ((0.0, 1820.0), {
        250: 0.291280, 600: 1.791868, 800: 3.153610, 1000: 4.834339, 1200: 6.786427,
        1500: 10.099061, 1800: 13.591303,
    }),
    "E": ((-270.0, 1000.0), {
        -200: -8.824581, 100: 6.318930, 300: 21.036238, 600: 45.093357, 1000: 76.372826,
    }),
    "J": ((-210.0, 1200.0), {
        -200: -7.890483, 100: 5.268916, 300: 16.327206, 500: 27.392631, 760: 42.918641,
        1000: 57.953410, 1200: 69.553180,
    }),
    "T": ((-270.0, 400.0), {
        -200: -5.602961, 25: 0.991977, 100: 4.278519, 200: 9.288102, 400: 20.871970,
    }),
}
# fmt: on

# Rows as printed: the emf at the row's temperature, and at each degree below it.
PRINTED = [
    ("T", -260, [-6.232, -6.236, -6.239, -6.242, -6.245, -6.248, -6.251, -6.253, -6.255, -6.256, -6.258]),
    ("T", -200, [-5.603, -5.619, -5.634, -5.650, -5.665, -5.680, -5.695, -5.710, -5.724, -5.739, -5.753]),
    ("T", -40, [-1.475, -1.510, -1.545, -1.579, -1.614, -1.648, -1.683, -1.717, -1.751, -1.785, -1.819]),
    ("K", -250, [-6.404, -6.408, -6.413, -6.417, -6.421, -6.425, -6.429, -6.432, -6.435, -6.438, -6.441]),
    ("K", -200, [-5.891, -5.907, -5.922, -5.936, -5.951, -5.965, -5.980, -5.994, -6.007, -6.021, -6.035]),
    ("K", -140, [-4.669, -4.694, -4.719, -4.744, -4.768, -4.793, -4.817, -4.841, -4.865, -4.889, -4.913]),
]


@pytest.mark.parametrize("letter", LETTERS)
def test_emf_is_the_published(letter) -> None:
    valid, values = PUBLISHED[letter]
    assert valid_c(letter) == valid
    for t_c, mv in values.items():
        assert emf_mv(letter, t_c) == pytest.approx(mv, abs=0.6e-6)  # six decimals are given


@pytest.mark.parametrize(("letter", "row_c", "printed_mv"), PRINTED)
def test_emf_is_the_printed_table_of_nist(letter, row_c, printed_mv) -> None:
    ours = [round(emf_mv(letter, row_c - degrees), 3) for degrees in range(len(printed_mv))]
    assert ours == printed_mv


@pytest.mark.parametrize("letter", LETTERS)
def test_emf_and_sensitivity_are_those_of_another_hand_everywhere(letter) -> None:
    other = other_hand.get(letter)
    for t_c in np.linspace(*valid_c(letter), 4001).tolist():
        assert emf_mv(letter, t_c) == pytest.approx(other.emf(t_c), rel=0, abs=1e-11)
        assert sensitivity_mv_per_k(letter, t_c) == pytest.approx(other.seebeck(t_c), rel=0, abs=1e-10)


@pytest.mark.parametrize("letter", LETTERS)
def test_temperature_is_that_of_another_hand_everywhere(letter) -> None:
    other = other_hand.get(letter)
    lowest_mv, highest_mv = other.invertible_emf_range
    ours_mv = inverse_valid_mv(letter)
    lowest_mv, highest_mv = max(lowest_mv, ours_mv[0]), min(highest_mv, ours_mv[1])
    assert highest_mv - lowest_mv > 0.99 * (ours_mv[1] - ours_mv[0])
    for mv in np.linspace(lowest_mv, highest_mv, 1003).tolist()[1:-1]:
        assert inverse_c(letter, mv) == pytest.approx(other.temperature(mv), abs=1e-5)


@pytest.mark.parametrize("letter", LETTERS)
def test_compensation_is_that_of_another_hand(letter) -> None:
    other = other_hand.get(letter)
    for cold_c in (0.0, 5.0, 25.0, 60.0):
        mv = other.emf(390.0, reference=cold_c)
        assert measured_mv(letter, 390.0, cold_c) == pytest.approx(mv, abs=1e-10)
        assert temperature_c(letter, mv, cold_c) == pytest.approx(390.0, abs=1e-5)


# The mistakes that people make, computed with the package thermocouple-its90.


def test_adding_the_cold_junction_in_degrees_is_wrong_by_more_than_half_a_kelvin() -> None:
    mv = measured_mv("K", 815.0, 25.0)
    assert mv == pytest.approx(32.889043, abs=0.6e-6)
    assert temperature_c("K", mv, 25.0) == pytest.approx(815.0, abs=0.0005)
    assert inverse_c("K", mv) + 25.0 == pytest.approx(815.588, abs=0.0006)


@pytest.mark.parametrize(("true_letter", "indicated_c"), [("N", 697.96), ("S", 184.2)])
def test_another_type_read_as_k_reads_far_too_cold(true_letter, indicated_c) -> None:
    decimals = 0.006 if true_letter == "N" else 0.06
    assert inverse_c("K", emf_mv(true_letter, 815.0)) == pytest.approx(indicated_c, abs=decimals)


@pytest.mark.parametrize(
    ("true_c", "indicated_c", "decimals"), [(50, -0.6, 0.06), (100, -55.8, 0.06), (200, -218, 0.6)]
)
def test_reversed_leads_read_colder_the_hotter_it_is(true_c, indicated_c, decimals) -> None:
    reversed_mv = -measured_mv("K", true_c, 25.0)
    assert temperature_c("K", reversed_mv, 25.0) == pytest.approx(indicated_c, abs=decimals)


@pytest.mark.parametrize(
    ("letter", "tolerance_class", "t_c", "expected_k"),
    [
        # IEC 60584, two secondary pages agree
        ("K", 1, 815, 3.26),
        ("K", 2, 815, 6.11),
        ("N", 1, 815, 3.26),
        ("N", 2, 815, 6.11),
        ("S", 1, 815, 1.0),
        ("S", 2, 815, 2.04),
        ("R", 1, 1100, 1.0),
        ("R", 2, 600, 1.5),
        ("R", 2, 1000, 2.5),
        ("K", 1, 375, 1.5),
        ("K", 1, -40, 1.5),
        ("K", 2, 333, 2.5),
        ("N", 1, 20, 1.5),
        ("N", 2, 20, 2.5),
        # one secondary page: 1 + 0.003 (t - 1100)
        ("S", 1, 1600, 2.5),
        ("R", 1, 1200, 1.3),
        # from memory, agreeing with one secondary page
        ("K", 3, -200, 3.0),
        ("K", 3, -167, 2.505),
        ("K", 3, 40, 2.5),
        ("N", 3, -200, 3.0),
        ("E", 3, -200, 3.0),
        ("E", 1, 20, 1.5),
        ("E", 2, 20, 2.5),
        ("J", 1, 20, 1.5),
        ("J", 2, 20, 2.5),
        ("T", 1, 125, 0.5),
        ("T", 1, 350, 1.4),
        ("T", 2, 133, 1.0),
        ("T", 2, 350, 2.625),
        ("T", 3, -67, 1.005),
        ("T", 3, 20, 1.0),
        ("E", 3, 20, 2.5),
        ("T", 3, -200, 3.0),
        ("E", 1, 800, 3.2),
        ("E", 2, 900, 6.75),
        ("J", 1, 750, 3.0),
        ("J", 2, 750, 5.625),
        ("B", 2, 600, 1.5),
        ("B", 2, 1700, 4.25),
        ("B", 3, 600, 4.0),
        ("B", 3, 800, 4.0),
        ("B", 3, 1700, 8.5),
    ],
)
def test_tolerance_is_that_of_iec_60584(letter, tolerance_class, t_c, expected_k) -> None:
    assert tolerance_k(letter, tolerance_class, t_c) == pytest.approx(expected_k, abs=0.0051)


# Where a class promises anything, C. K, N, R, S: two secondary pages on IEC 60584; the others from memory,
# agreeing with one.
@pytest.mark.parametrize(
    ("letters", "tolerance_class", "lowest_c", "highest_c"),
    [
        ("KN", 1, -40, 1000),
        ("KN", 2, -40, 1200),
        ("RS", 1, 0, 1600),
        ("RS", 2, 0, 1600),
        ("B", 2, 600, 1700),
        ("B", 3, 600, 1700),
        ("E", 1, -40, 800),
        ("E", 2, -40, 900),
        ("J", 1, -40, 750),
        ("J", 2, -40, 750),
        ("T", 1, -40, 350),
        ("T", 2, -40, 350),
        ("KNET", 3, -200, 40),
    ],
)
def test_a_tolerance_ends_where_that_of_iec_60584_ends(letters, tolerance_class, lowest_c, highest_c) -> None:
    for letter in letters:
        for end_c, beyond_c in ((lowest_c, lowest_c - 1), (highest_c, highest_c + 1)):
            assert band(letter, tolerance_class, end_c) is not None
            assert band(letter, tolerance_class, beyond_c) is None
