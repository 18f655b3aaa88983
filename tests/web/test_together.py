"""Many firings together, through the application: rated castings side by side, and how the kiln grows old."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI

from controller.record.observing import write_observation
from tests.web import invented_past
from tests.web.conftest import wait_for
from tests.web.test_past import call, get, listed
from web.app import build_app


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four firings, the second aborted; three rated, two with cracks told."""
    path = tmp_path_factory.mktemp("together") / "record.db"
    invented_past.write(path, 4)
    for firing, rating, cracks in ((1, "good", 0), (2, "scrap", 4), (4, "good", None)):
        if cracks is not None:
            write_observation(path, firing, "page", "crack", {"how_many": cracks, "where": "rim"}, 1.0, 2)
        fields = {"rating": rating, "reasons": ["crack"] if rating == "scrap" else []}
        write_observation(path, firing, "page", "rating", fields, 2.0)
    return path


@pytest.fixture
def app(record: Path) -> FastAPI:
    return build_app(record.parent / "nobody.sock", record)


def whole(app: FastAPI, path: str) -> Any:
    """What is told once nothing is worked out any more."""
    wait_for(lambda: get(app, path)["pending"] == 0)
    return get(app, path)


def test_rated_castings_stand_side_by_side_and_are_called_few(app: FastAPI) -> None:
    told = whole(app, "/api/common")
    assert told["counts"] == {"good": 2, "usable": 0, "scrap": 1}
    assert told["says"].startswith("3 rated: 2 good, 0 usable, 1 scrap. These are very few.")
    rows = {row["key"]: row["by"] for row in told["rows"]}
    assert rows["cracks"] == {
        "good": {"median": 0, "low": 0, "high": 0, "n": 1},
        "usable": None,
        "scrap": {"median": 4, "low": 4, "high": 4, "n": 1},
    }
    assert rows["peak_c"]["good"]["n"] == 2
    peaks_c = [each["summary"]["peak_c"] for each in listed(app) if each["rating"] == "good"]
    assert rows["peak_c"]["good"]["median"] == pytest.approx(sum(peaks_c) / 2)
    assert told["reasons"] == [["crack", 1]]


def test_cracks_stand_against_the_steepest_rise(app: FastAPI) -> None:
    cracks = whole(app, "/api/common")["cracks"]
    assert [(each["firing"], each["cracks"], each["rating"]) for each in cracks] == [
        (1, 0, "good"),
        (2, 4, "scrap"),
    ]
    assert cracks[0]["rise_c_per_h"] == pytest.approx(60.0, rel=0.15)


def test_the_kiln_tells_what_a_temperature_needed_and_its_relays_cycles(app: FastAPI) -> None:
    told = whole(app, "/api/kiln")
    assert (told["kiln"], told["firings"], told["at_c"]) == ("Shed kiln", 4, 815.0)
    assert [point["firing"] for point in told["points"]] == [4]  # the others were held elsewhere, or not
    (point,) = told["points"]
    assert point["duty"] == pytest.approx(1 / 3, abs=0.02)  # on at every third tick
    assert point["power_w"] == pytest.approx(point["duty"] * 6500.0)
    assert told["change"] is None
    assert told["switchings"] == 3 * 180 + 120
    assert told["relay_life"] is None


def test_the_list_wears_the_rating(app: FastAPI) -> None:
    found = {each["firing"]: (each["rating"], each["photos"], each["job"]) for each in listed(app)}
    assert found == {1: ("good", 0, ""), 2: ("scrap", 0, ""), 3: (None, 0, ""), 4: ("good", 0, "")}


def test_without_a_record_there_is_nothing_to_tell(tmp_path: Path) -> None:
    alone = build_app(tmp_path / "nobody.sock", tmp_path / "record.db")
    assert get(alone, "/api/common")["says"].startswith("No casting is rated yet")
    assert get(alone, "/api/kiln")["kiln"] == ""
    assert list(tmp_path.iterdir()) == []


def test_both_have_a_page(app: FastAPI) -> None:
    for path in ("/firings/common", "/kiln"):
        assert call(app, "GET", path).text.startswith("<!doctype html>")
