"""Unit conversions against published values.

Sources: NIST Special Publication 811 (2008), appendix B.8: t/C = (t/F - 32)/1.8, T/K = t/C + 273.15, a
difference of 1 F is 1/1.8 K; an hour is 3600 s, a day 86400 s. The fixed points (ice 32 F = 0 C =
273.15 K, steam 212 F = 100 C, absolute zero -459.67 F = 0 K) are those of the scales' definitions.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from controller.schedule.units import (
    UnitError,
    difference_k,
    duration_s,
    duration_text,
    flow_m3_per_h,
    from_fahrenheit,
    one_line,
    rate_c_per_h,
    rate_text,
    shown,
    temperature_c,
    temperature_text,
    to_fahrenheit,
    to_kelvin,
)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("32 F", 0.0),
        ("0 C", 0.0),
        ("273.15 K", 0.0),
        ("212 F", 100.0),
        ("373.15 K", 100.0),
        ("-40 F", -40.0),
        ("-459.67 F", -273.15),
        ("0 K", -273.15),
        ("815 C", 815.0),
        ("815C", 815.0),
        (" 815 °C ", 815.0),
        ("1.5e3 F", 815.5555555555555),
        ("+20.5 C", 20.5),
    ],
)
def test_a_temperature_is_read_by_the_definitions_of_its_scale(text: str, celsius: float) -> None:
    assert temperature_c(text) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "kelvin"), [("10 K", 10.0), ("10 C", 10.0), ("18 F", 10.0), ("1 F", 1 / 1.8), ("-9 F", -5.0)]
)
def test_a_difference_has_no_zero_point(text: str, kelvin: float) -> None:
    assert difference_k(text) == pytest.approx(kelvin, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("45 min", 2700.0),
        ("2 h", 7200.0),
        ("30 s", 30.0),
        ("1 h 30 min", 5400.0),
        ("1 h  30 min 5 s", 5405.0),
        ("200 ms", 0.2),
        ("1.5 h", 5400.0),
        ("1 d 2 h", 93600.0),
        ("0 s", 0.0),
    ],
)
def test_a_duration_is_the_sum_of_its_parts(text: str, seconds: float) -> None:
    assert duration_s(text) == pytest.approx(seconds, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("60 C/h", 60.0),
        ("108 F/h", 60.0),
        ("1 K/min", 60.0),
        ("1.8 F/min", 60.0),
        ("0.5 K/s", 1800.0),
        ("60 C / h", 60),
    ],
)
def test_a_rate_is_degrees_of_its_scale_over_its_time(text: str, rate: float) -> None:
    assert rate_c_per_h(text) == pytest.approx(rate, abs=1e-9)


def test_full_is_no_number() -> None:
    assert rate_c_per_h("full") is None


@pytest.mark.parametrize(
    ("text", "m3_per_h"),
    # NIST SP 811, appendix B.8: a cubic foot per minute is 4.719474e-4 m3/s.
    [("20 m3/h", 20.0), ("100 cfm", 4.719474e-2 * 3600.0), ("8 l/s", 28.8), ("0.5 m3/min", 30.0)],
)
def test_a_flow_of_air_is_in_m3_an_hour(text: str, m3_per_h: float) -> None:
    assert flow_m3_per_h(text) == pytest.approx(m3_per_h, rel=1e-6)


@pytest.mark.parametrize("text", ["-1 m3/h", "20 kg/h", "20 m3/h now", "many", "1e999 m3/h"])
def test_what_is_no_flow_of_air_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        flow_m3_per_h(text)


@pytest.mark.parametrize(
    ("read", "value"),
    [
        (temperature_c, "815"),
        (temperature_c, 815),
        (temperature_c, 815.5),
        (difference_k, "10"),
        (difference_k, 10),
        (duration_s, "45"),
        (duration_s, 45),
        (rate_c_per_h, "60"),
        (rate_c_per_h, 60),
        (flow_m3_per_h, "20"),
        (flow_m3_per_h, 20),
    ],
)
def test_a_number_without_a_unit_is_told_so(read, value) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(UnitError) as raised:
        read(value)
    assert "without a unit" in raised.value.found
    assert str(value) in raised.value.found
    assert "with its unit" in raised.value.expected


@pytest.mark.parametrize(
    ("read", "value", "expected"),
    [
        (temperature_c, "815 c", "a temperature with its unit"),
        (temperature_c, "815 k", "a temperature with its unit"),
        (temperature_c, "1,500 F", "a temperature with its unit"),
        (temperature_c, "815 C please", "a temperature with its unit"),
        (temperature_c, "C", "a temperature with its unit"),
        (temperature_c, "", "a temperature with its unit"),
        (temperature_c, "nan C", "a temperature with its unit"),
        (temperature_c, "٣٠ C", "a temperature with its unit"),
        (temperature_c, True, "a temperature with its unit"),
        (temperature_c, ["815 C"], "a temperature with its unit"),
        (temperature_c, "-274 C", "absolute zero"),
        (temperature_c, "-460 F", "absolute zero"),
        (temperature_c, "-1 K", "absolute zero"),
        (difference_k, "10", "a temperature difference"),
        (duration_s, "2 hours", "a duration with its unit"),
        (duration_s, "30 min 1 h", "a duration with its unit"),
        (duration_s, "1 h 1 h", "a duration with its unit"),
        (duration_s, "1 h and 5 min", "a duration with its unit"),
        (duration_s, "1h30min", "a duration with its unit"),
        (duration_s, "", "a duration with its unit"),
        (duration_s, "-1 h", "not negative"),
        (duration_s, "1 h -5 min", "not negative"),
        (rate_c_per_h, "60 C", "a rate with its unit"),
        (rate_c_per_h, "60 C/d", "a rate with its unit"),
        (rate_c_per_h, "FULL", "a rate with its unit"),
    ],
)
def test_what_is_not_a_value_with_a_unit_is_refused(read, value, expected: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(UnitError) as raised:
        read(value)
    assert raised.value.found == shown(value) or raised.value.found == f"{shown(value)}, without a unit"
    assert expected in raised.value.expected
    assert raised.value.found in str(raised.value)


@pytest.mark.parametrize(
    ("read", "value"),
    [
        (temperature_c, "1e999 C"),
        (difference_k, "-1e999 F"),
        (duration_s, "1e999 h"),
        (rate_c_per_h, "1e308 K/s"),
    ],
)
def test_what_is_not_finite_is_refused(read, value) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(UnitError, match="not finite"):
        read(value)


temperatures_c = st.floats(-273.15, 3000.0, allow_nan=False)


@given(temperatures_c)
def test_fahrenheit_and_back_is_the_same_temperature(celsius: float) -> None:
    assert from_fahrenheit(to_fahrenheit(celsius)) == pytest.approx(celsius, abs=1e-9)
    assert to_fahrenheit(celsius) == pytest.approx(9 / 5 * celsius + 32, abs=1e-9)
    assert to_kelvin(celsius) == pytest.approx(celsius + 273.15, abs=1e-9)


@given(temperatures_c, st.sampled_from("CFK"))
def test_a_temperature_that_is_written_is_read_back(celsius: float, unit: str) -> None:
    assert temperature_c(temperature_text(celsius, unit, digits=9)) == pytest.approx(celsius, abs=1e-8)


@given(st.integers(0, 400 * 3600))
def test_a_duration_that_is_written_is_read_back_to_the_minute(seconds: int) -> None:
    coarse = 0.5 if seconds < 60 else 30.0
    assert duration_s(duration_text(seconds)) == pytest.approx(seconds, abs=coarse)


@given(st.floats(0.1, 3000.0), st.sampled_from("CFK"))
def test_a_rate_that_is_written_is_read_back(rate: float, unit: str) -> None:
    assert rate_c_per_h(rate_text(rate, unit)) == pytest.approx(rate, abs=0.5 if rate >= 5 else 0.06)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (59.4, "59 s"),
        (59.6, "1 min"),
        (3570, "1 h"),
        (3900, "1 h 05 min"),
        (7200, "2 h"),
        (255600, "71 h"),
    ],
)
def test_a_duration_is_written_as_people_say_it(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_a_temperature_is_never_minus_zero() -> None:
    assert temperature_text(-0.3) == "0 C"
    assert temperature_text(0.0, "F") == "32 F"
    assert rate_text(None) == "full"
    assert rate_text(60.0, "F") == "108 F/h"
    assert rate_text(4.5) == "4.5 C/h"


def test_a_value_is_shown_on_one_line_and_cut_short() -> None:
    assert shown("a\nb\x1b[2J") == '"a b\ufffd[2J"'
    assert shown(True) == "true"
    assert len(one_line("x" * 1000)) == 60
