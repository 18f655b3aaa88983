"""What people saw, through the application: kept at once, read back by anyone, wrong calls one line."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from controller.record.observed import observations, photos, photos_size
from tests.web import invented_past
from tests.web.test_past import OWN, call, get
from tests.web.test_pictures import PLACE, photograph
from web import body
from web.app import build_app
from web.observations import routes

JPEG = {**OWN, "Content-Type": "image/jpeg"}
STOP = 2


@pytest.fixture
def record(tmp_path: Path) -> Path:
    invented_past.write(tmp_path / "record.db", 2, ticks=10, schedule=invented_past.WITH_A_STOP)
    return tmp_path / "record.db"


@pytest.fixture
def app(record: Path) -> FastAPI:
    return build_app(record.parent / "nobody.sock", record)


def say(app: FastAPI, kind: str, stage: int | None = STOP, firing: int = 1, **fields: Any) -> httpx.Response:
    at = {} if stage is None else {"stage": stage}
    body = {"kind": kind, **at, **fields}
    return call(app, "POST", f"/api/firings/{firing}/observations", json=body, headers=OWN)


def said(app: FastAPI, kind: str, stage: int | None = STOP, **fields: Any) -> int:
    answer = say(app, kind, stage, **fields)
    assert answer.status_code == 200, answer.text
    return int(answer.json()["id"])


def checklist(app: FastAPI) -> Any:
    return get(app, f"/api/firings/1/checklist?stage={STOP}")


def send(app: FastAPI, raw: bytes, of: str = "of=crack&stage=2", **headers: str) -> httpx.Response:
    return call(app, "POST", f"/api/firings/1/photos?{of}", content=raw, headers={**JPEG, **headers})


def test_a_fresh_list_has_the_schedules_lines_and_nothing_ticked(app: FastAPI) -> None:
    found = checklist(app)
    assert [(each["says"], each["done"]) for each in found["ticks"]] == [
        ("Tray taken out", False),
        ("Cracks patched", False),
        ("Door shut", False),
    ]
    assert (found["cracks"], found["drained"], found["drains"]) == ([], None, True)


def test_what_is_ticked_is_there_for_the_next_phone(app: FastAPI, record: Path) -> None:
    said(app, "tick", item=1, done=True)
    said(app, "tick", item=0, done=True)
    said(app, "tick", item=0, done=False)
    other_phone = build_app(record.parent / "nobody.sock", record)
    ticks = checklist(other_phone)["ticks"]
    assert [each["done"] for each in ticks] == [False, True, False]
    assert ticks[1]["by"] == "page"
    (first, *_) = observations(record, 1)
    assert (first.stage, first.fields) == (STOP, {"says": "Cracks patched", "done": True})


def test_cracks_plastic_and_a_slip_taken_back(app: FastAPI) -> None:
    rim = said(app, "crack", how_many=2, where="rim", patched=False)
    slip = said(app, "crack", how_many=9, where="base")
    said(app, "patched", crack=rim, patched=True)
    said(app, "undone", observation=slip)
    said(app, "drained", kg=0.31)
    found = checklist(app)
    assert [(each["how_many"], each["where"], each["patched"]) for each in found["cracks"]] == [
        (2, "rim", True)
    ]
    assert found["drained"]["kg"] == 0.31


def test_a_firing_tells_all_that_was_seen(app: FastAPI) -> None:
    said(app, "tick", item=2, done=True)
    said(app, "crack", how_many=3, where="cup")
    said(app, "drained", kg=0.2)
    said(app, "rating", None, rating="usable", reasons=["misrun", "cold shut"], says="thin edge")
    send(app, photograph(), "of=casting&caption=The+left+half")
    seen = get(app, "/api/firings/1")["seen"]
    assert (seen["crack_count"], seen["drained_kg"]) == (3, 0.2)
    assert (seen["rating"]["rating"], seen["rating"]["reasons"]) == ("usable", ["misrun", "cold shut"])
    assert [(stop["name"], len(stop["ticks"]), len(stop["cracks"])) for stop in seen["stops"]] == [
        ("look and drain", 1, 1)
    ]
    assert [(photo["of"], photo["caption"]) for photo in seen["photos"]] == [("casting", "The left half")]


@pytest.mark.parametrize(
    ("kind", "fields", "told"),
    [
        ("tick", {"item": 3, "done": True}, "expected a line of the list, below 3"),
        ("tick", {"item": -1, "done": True}, "greater than or equal to 0"),
        ("tick", {"item": 0}, "done: Field required"),
        ("crack", {"how_many": 2, "where": "moon"}, "'rim', 'cup'"),
        ("crack", {"how_many": 100}, "less than or equal to 99"),
        ("crack", {"how_many": 1, "more": 1}, "more: Extra"),
        ("drained", {"kg": 51}, "less than or equal to 50"),
        ("drained", {"kg": -0.1}, "greater than or equal to 0"),
        ("drained", {"kg": "310 g"}, "kg: "),
        ("rating", {"rating": "superb"}, "'good', 'usable' or 'scrap'"),
        ("moon", {}, "moon"),
    ],
)
def test_what_nobody_can_have_seen_is_one_line_and_not_kept(
    app: FastAPI, record: Path, kind: str, fields: dict[str, Any], told: str
) -> None:
    answer = say(app, kind, None if kind == "rating" else STOP, **fields)
    assert answer.status_code == 422, answer.text
    assert told in answer.json()["says"]
    assert "\n" not in answer.json()["says"]
    assert observations(record, 1) == []


def test_a_stage_that_is_no_checkpoint_has_no_list(app: FastAPI) -> None:
    for answer in (
        call(app, "GET", "/api/firings/1/checklist?stage=0"),
        call(app, "GET", "/api/firings/1/checklist?stage=99"),
        say(app, "tick", 0, item=0, done=True),
    ):
        assert answer.status_code == 404
        assert "is no checkpoint" in answer.json()["says"]


def test_no_such_firing_is_one_line(app: FastAPI) -> None:
    for answer in (
        say(app, "drained", kg=1.0, firing=9),
        call(app, "GET", "/api/firings/9/checklist?stage=2"),
        call(app, "POST", "/api/firings/9/photos?of=crack", content=b"x", headers=JPEG),
    ):
        assert (answer.status_code, answer.json()["says"]) == (404, "there is no firing 9")


def test_a_photograph_is_kept_as_our_own_and_served_as_nothing_else(app: FastAPI, record: Path) -> None:
    answer = send(app, photograph())
    assert answer.status_code == 200, answer.text
    number = answer.json()["id"]
    (kept,) = photos(record, 1)
    assert (kept.of, kept.stage, kept.width_px, kept.height_px) == ("crack", STOP, 800, 1600)
    whole, small = (call(app, "GET", f"/api/photos/{number}{end}.jpg") for end in ("", "/small"))
    for shown in (whole, small):
        assert shown.headers["Content-Type"] == "image/jpeg"
        assert shown.headers["X-Content-Type-Options"] == "nosniff"
        assert shown.content.startswith(b"\xff\xd8\xff")
        assert PLACE not in shown.content
    assert len(small.content) < len(whole.content)
    assert call(app, "GET", f"/api/photos/{number + 1}.jpg").status_code == 404
    assert call(app, "GET", f"/api/photos/{number + 1}/small.jpg").status_code == 404


def test_what_is_no_photograph_is_refused_in_one_line(app: FastAPI, record: Path) -> None:
    html = send(app, b"<html>", **{"Content-Type": "text/html"})
    disguised = send(app, b"<svg onload='x'/>")
    foreign = send(app, photograph(), Origin="http://evil.example")
    json_body = send(app, b"{}", **{"Content-Type": "application/json"})
    assert [each.status_code for each in (html, disguised, foreign, json_body)] == [415, 415, 403, 415]
    assert "image/jpeg or image/png or image/webp" in html.json()["says"]
    assert disguised.json()["says"] == "found no picture, expected a JPEG, PNG or WebP"
    assert photos_size(record, 1) == (0, 0)


def test_a_picture_body_goes_to_no_other_address(app: FastAPI) -> None:
    for path in ("/api/firings/1/notes", "/api/firings/1/photos/x", "/api/requests/abort"):
        answer = call(app, "POST", path, content=b"x" * 70_000, headers=JPEG)
        assert (answer.status_code, path) == (415, path)
    long = call(
        app,
        "POST",
        "/api/firings/1/notes",
        content=b"x" * 70_000,
        headers=OWN | {"Content-Type": "application/json"},
    )
    assert long.status_code == 413


def test_eight_mebibytes_are_the_most(app: FastAPI) -> None:
    limit = body.room("/api/firings/1/photos").limit_bytes
    assert limit == 8 * 2**20
    assert send(app, bytes(limit)).status_code == 415  # read whole, and no picture
    assert send(app, bytes(limit + 1)).status_code == 413


def test_a_firing_keeps_so_many_and_no_more(app: FastAPI, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(routes, "MOST_PHOTOS", 1)
    assert send(app, photograph()).status_code == 200
    refused = send(app, photograph())
    assert (refused.status_code, refused.json()["says"]) == (
        409,
        "firing 1 has 1 photographs, and more are not kept",
    )
