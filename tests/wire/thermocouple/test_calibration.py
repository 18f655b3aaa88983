"""A sensor's own corrections: on the points, between them, outside them, and when they are due."""

from __future__ import annotations

import math
import tomllib
from datetime import date, timedelta

import pytest

from controller.errors import StokeholdError
from controller.wire.thermocouple import Calibration, CalibrationError, Corrected, Point, ThermocoupleError
from controller.wire.thermocouple.calibration_table import read_calibration

DUE = date(2027, 3, 2)
POINTS = (Point(200.0, 0.4), Point(600.0, -0.4), Point(800.0, -1.2))
CALIBRATION = Calibration(POINTS, DUE, "number 0417, the test house in Eastmoor")

TABLE = """
certificate = "number 0417, the test house in Eastmoor"
due = 2027-03-02
points = [
  { at = "200 C", correction = "0.4 K" },
  { at = "1112 F", correction = "-0.72 F" },
  { at = "1073.15 K", correction = "-1.2 C" },
]
"""


@pytest.mark.parametrize("point", POINTS)
def test_on_a_point_the_certificates_correction_is_added(point) -> None:
    found = CALIBRATION.corrected(point.indicated_c)
    assert found == Corrected(point.indicated_c + point.correction_k, point.correction_k, within=True)


@pytest.mark.parametrize(("t_c", "correction_k"), [(400.0, 0.0), (300.0, 0.2), (700.0, -0.8), (650.0, -0.6)])
def test_between_points_the_correction_follows_a_straight_line(t_c, correction_k) -> None:
    found = CALIBRATION.corrected(t_c)
    assert found.correction_k == pytest.approx(correction_k, abs=1e-12)
    assert found.t_c == pytest.approx(t_c + correction_k, abs=1e-12)
    assert found.within


@pytest.mark.parametrize(("t_c", "correction_k"), [(20.0, 0.4), (199.9, 0.4), (800.1, -1.2), (1100.0, -1.2)])
def test_outside_the_points_the_nearest_correction_is_kept_and_it_says_so(t_c, correction_k) -> None:
    assert CALIBRATION.corrected(t_c) == Corrected(t_c + correction_k, correction_k, within=False)


def test_one_point_is_a_certificate_too() -> None:
    single = Calibration((Point(800.0, -1.2),), DUE, "number 0418")
    assert [single.corrected(t_c).within for t_c in (799.0, 800.0, 801.0)] == [False, True, False]
    assert single.corrected(20.0).correction_k == -1.2


@pytest.mark.parametrize("t_c", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_not_corrected(t_c) -> None:
    with pytest.raises(ThermocoupleError, match="finite"):
        CALIBRATION.corrected(t_c)


def test_it_is_due_from_its_date_on() -> None:
    assert not CALIBRATION.due(DUE - timedelta(days=1))
    assert CALIBRATION.due(DUE)
    assert CALIBRATION.due(DUE + timedelta(days=400))


@pytest.mark.parametrize(
    ("points", "path", "expected"),
    [
        ((), ("points",), "at least one point"),
        ((Point(math.nan, 0.0),), ("points", 0, "at"), "a finite temperature"),
        ((Point(math.inf, 0.0),), ("points", 0, "at"), "a finite temperature"),
        ((Point(800.0, math.nan),), ("points", 0, "correction"), "at most 20 K"),
        ((Point(800.0, -20.5),), ("points", 0, "correction"), "at most 20 K"),
        (
            (Point(800.0, 0.0), Point(800.0, 0.0)),
            ("points", 1, "at"),
            "more than the point before it (800 C)",
        ),
        (
            (Point(800.0, 0.0), Point(700.0, 0.0)),
            ("points", 1, "at"),
            "more than the point before it (800 C)",
        ),
        ((Point(800.0, 9.0), Point(810.0, -9.0)), ("points", 1, "correction"), "a hotter indication stays"),
    ],
)
def test_points_that_cannot_be_are_refused(points, path, expected) -> None:
    with pytest.raises(CalibrationError) as refused:
        Calibration(points, DUE, "number 0417")
    assert [mistake.path for mistake in refused.value.mistakes] == [path]
    assert expected in refused.value.mistakes[0].expected


def test_a_correction_of_the_largest_size_is_still_a_correction() -> None:
    assert Calibration((Point(800.0, -20.0),), DUE, "number 0417").corrected(800.0).t_c == 780.0


def test_a_certificate_must_be_named() -> None:
    with pytest.raises(CalibrationError, match="certificate: found no text"):
        Calibration(POINTS, DUE, "  ")


def test_a_kilns_file_is_read_whatever_its_units() -> None:
    found = read_calibration(tomllib.loads(TABLE))
    assert (found.due_on, found.certificate) == (DUE, CALIBRATION.certificate)
    for point, expected in zip(found.points, POINTS, strict=True):
        assert point == pytest.approx(expected, abs=1e-9)


def test_all_mistakes_of_a_kilns_file_are_told_at_once() -> None:
    text = """
    certificat = "number 0417"
    due = "2027-03-02"
    points = [{ at = "200", correction = "0.4 K" }, { at = "600 C", correction = "-0.4 K", note = 1 }, 7]
    """
    with pytest.raises(CalibrationError) as refused:
        read_calibration(tomllib.loads(text))
    assert isinstance(refused.value, StokeholdError)
    assert [mistake.path for mistake in refused.value.mistakes] == [
        ("certificate",),
        ("due",),
        ("certificat",),
        ("points", 0, "at"),
        ("points", 1, "note"),
        ("points", 2, "at"),
        ("points", 2, "correction"),
    ]
    lines = str(refused.value).splitlines()
    assert lines[0] == "certificate: found no such key, expected text that names the certificate"
    assert lines[1] == 'due: found "2027-03-02", expected a date without quotation marks, such as 2027-03-02'
    assert lines[3].startswith('points.0.at: found "200", without a unit, expected a temperature')


@pytest.mark.parametrize(
    ("good", "wrong", "path"),
    [
        ('at = "200 C"', 'at = "200"', ("points", 0, "at")),
        ('correction = "0.4 K"', "correction = 0.4", ("points", 0, "correction")),
        ('at = "200 C"', 'at = "200 C", uncertainty = "1 K"', ("points", 0, "uncertainty")),
        ("due =", "note = 1\ndue =", ("note",)),
    ],
)
def test_one_mistake_alone_refuses_the_whole(good, wrong, path) -> None:
    with pytest.raises(CalibrationError) as refused:
        read_calibration(tomllib.loads(TABLE.replace(good, wrong)))
    assert [mistake.path for mistake in refused.value.mistakes] == [path]


@pytest.mark.parametrize("table", [7, None, "text", []])
def test_what_is_no_table_is_refused(table) -> None:
    with pytest.raises(CalibrationError, match=r"calibration: found .*, expected a table"):
        read_calibration(table)


def test_a_time_of_day_is_no_due_date() -> None:
    with pytest.raises(CalibrationError, match=r"due: found .*, expected a date"):
        read_calibration(tomllib.loads(TABLE.replace("2027-03-02", "2027-03-02T10:00:00")))


def test_points_that_fall_are_refused_in_a_kilns_file_too() -> None:
    with pytest.raises(CalibrationError) as refused:
        read_calibration(tomllib.loads(TABLE.replace("200 C", "900 C")))
    assert refused.value.mistakes[0].path == ("points", 1, "at")
