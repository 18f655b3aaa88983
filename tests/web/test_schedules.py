"""The addresses of schedules: the library, what is drawn while someone types, and what may be saved."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
from contextlib import closing
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from controller.catalogue import say
from controller.forecast.job_file import KEYS
from controller.record.journal import Journal
from controller.record.queries import Record
from controller.schedule.index import names, profile
from controller.schedule.keys import STAGE_KEYS
from tests.web import invented_past
from tests.web.test_app import OWN, call
from web.app import build_app
from web.schedules import library
from web.schedules.job import ASKED

WAX = profile("wax-silica-shell").read_text()
SHORT = 'title = "Own"\n[[stage]]\nkind = "ramp"\nname = "up"\nto = "90 C"\nrate = "60 C/h"  # slow\n'


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    return build_app(tmp_path / "nobody.sock", tmp_path / "record.db")


def post(app: FastAPI, path: str, body: Any) -> httpx.Response:
    return call(app, "POST", path, json=body, headers=OWN)


def save(app: FastAPI, name: str, text: str = SHORT, **more: Any) -> httpx.Response:
    return post(app, "/api/schedules", {"name": name, "text": text, **more})


def test_every_built_in_schedule_is_listed_with_its_line(app: FastAPI) -> None:
    got = call(app, "GET", "/api/schedules").json()
    assert [each["name"] for each in got["schedules"]] == names()
    assert {(each["own"], each["fault"]) for each in got["schedules"]} == {(False, "")}
    pla = next(each for each in got["schedules"] if each["name"] == "printed-pla-silica-shell")
    assert max(pla["plan"]["c"]) == pytest.approx(815.6, abs=0.1)
    assert pla["plan"]["t_s"][-1] == pytest.approx(pla["plan"]["total_s"], abs=0.1)
    assert [stage["needs_person"] for stage in pla["plan"]["stages"]].count(True) == 2
    told = {kind: [key["name"] for key in kind_keys] for kind, kind_keys in got["keys"]["stage"].items()}
    assert told == {kind: [key.name for key in kind_keys] for kind, kind_keys in STAGE_KEYS.items()}


def test_one_schedule_is_told_as_text_as_table_and_as_line(app: FastAPI) -> None:
    got = call(app, "GET", "/api/schedules/wax-silica-shell").json()
    assert (got["text"], got["ok"], got["own"], got["mistakes"]) == (WAX, True, False, [])
    assert got["sheet"]["stages"][0]["kind"] == "checkpoint"
    assert got["plan"]["title"] == got["sheet"]["top"]["title"]
    for name in ("nothing", "..", "%2e%2e%2fpyproject", "a.b"):
        assert call(app, "GET", f"/api/schedules/{name}").status_code == 404


def test_a_table_is_put_into_the_text_and_its_mistakes_lead_to_their_keys(app: FastAPI) -> None:
    stages = [{"fields": {"kind": "ramp", "name": "up", "to": "ninety", "rate": "60 C/h"}, "was": 0}]
    sheet = {"top": {"title": "Own", "colour": "red"}, "recovery": {}, "stages": stages}
    got = post(app, "/api/schedules/draw", {"text": SHORT, "sheet": sheet}).json()
    assert got["ok"] is False
    assert got["plan"] is None
    assert [one["path"] for one in got["mistakes"]] == [["colour"], ["stage", 0, "to"]]
    assert 'found "ninety", expected a temperature' in got["mistakes"][1]["says"]
    assert got["text"] == SHORT.replace('"Own"\n', '"Own"\ncolour = "red"\n').replace("90 C", "ninety")
    stages[0]["fields"] |= {"to": "200 F"}  # type: ignore[operator]
    sheet["top"] = {"title": "Own"}
    got = post(app, "/api/schedules/draw", {"text": SHORT, "sheet": sheet}).json()
    assert got["plan"]["c"] == [20.0, 93.3]
    assert got["text"] == SHORT.replace("90 C", "200 F")


def test_a_text_that_is_no_toml_is_told_with_its_line(app: FastAPI) -> None:
    got = post(app, "/api/schedules/draw", {"text": SHORT + "to = \n"}).json()
    assert got["sheet"] is None
    assert [one["line"] for one in got["mistakes"]] == [7]


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"text": "x" * 40_001}, 422),
        ({"text": "x" * 70_000}, 413),
        ({"text": SHORT, "sheet": {"top": {"title": 7}, "recovery": {}, "stages": []}}, 422),
        ({"text": SHORT, "sheet": {"top": {}, "recovery": {}, "stages": [{"fields": {}, "was": -1}]}}, 422),
        ({"text": 'stage = [{kind = "ramp"}]', "sheet": {"top": {}, "recovery": {}, "stages": []}}, 409),
    ],
)
def test_what_cannot_be_drawn_is_one_line(app: FastAPI, body: Any, status: int) -> None:
    answer = post(app, "/api/schedules/draw", body)
    assert answer.status_code == status
    assert answer.json()["ok"] is False
    assert "\n" not in answer.json()["says"]


def test_a_schedule_is_saved_with_its_comments_and_found_again(app: FastAPI, tmp_path: Path) -> None:
    assert save(app, "otter-2").json() == {"ok": True, "says": "saved as otter-2.toml", "name": "otter-2"}
    path = tmp_path / "profiles" / "otter-2.toml"
    assert path.read_text() == SHORT
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    listed = call(app, "GET", "/api/schedules").json()["schedules"][-1]
    assert (listed["name"], listed["own"], listed["title"]) == ("otter-2", True, "Own")
    got = call(app, "GET", "/api/schedules/otter-2").json()
    assert (got["text"], got["own"]) == (SHORT, True)
    assert os.listdir(path.parent) == ["otter-2.toml"]


def test_nothing_is_written_over_without_saying_so(app: FastAPI, tmp_path: Path) -> None:
    save(app, "otter")
    again = save(app, "otter", SHORT.replace("Own", "Other"))
    assert (again.status_code, again.json()["taken"]) == (409, True)
    path = tmp_path / "profiles" / "otter.toml"
    assert path.read_text() == SHORT
    assert save(app, "otter", SHORT.replace("Own", "Other"), over=True).status_code == 200
    assert 'title = "Other"' in path.read_text()
    assert os.listdir(path.parent) == ["otter.toml"]


@pytest.mark.parametrize(
    "name",
    [
        "", "..", "../otter", "/etc/otter", "a/b", "a\\b", "otter.toml", ".otter", "-otter", "otter-",
        "Otter", "öt", "a b", "a\n", "a\x00", "x" * 51, "con\u202e",
    ],
)  # fmt: skip
def test_a_name_that_is_no_plain_name_is_refused(app: FastAPI, tmp_path: Path, name: str) -> None:
    answer = save(app, name)
    assert answer.status_code == 422
    assert "\n" not in answer.json()["says"]
    assert list(tmp_path.rglob("*.toml")) == []


@pytest.mark.parametrize("over", [False, True])
def test_a_built_in_schedule_is_never_written_over(app: FastAPI, tmp_path: Path, over: bool) -> None:
    answer = save(app, "wax-silica-shell", over=over)
    assert answer.status_code == 422
    assert "built in" in answer.json()["says"]
    assert list(tmp_path.rglob("*.toml")) == []
    assert profile("wax-silica-shell").read_text() == WAX


def test_a_link_out_of_the_folder_is_replaced_and_not_followed(app: FastAPI, tmp_path: Path) -> None:
    outside = tmp_path / "outside.toml"
    outside.write_text("precious")
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "otter.toml").symlink_to(outside)
    assert save(app, "otter").status_code == 409
    assert save(app, "otter", over=True).status_code == 200
    assert outside.read_text() == "precious"


def test_a_schedule_with_mistakes_is_not_kept(app: FastAPI, tmp_path: Path) -> None:
    answer = save(app, "otter", SHORT.replace("90 C", "90"))
    assert answer.status_code == 422
    assert answer.json()["says"].startswith("otter.toml:5: stage 1")
    assert not (tmp_path / "profiles").exists()


def test_a_folder_that_is_full_or_not_to_be_written_says_so(
    app: FastAPI, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(app, "one")
    monkeypatch.setattr(library, "MOST_OWN", 1)
    assert "expected fewer" in save(app, "two").json()["says"]
    assert save(app, "one", over=True).status_code == 200
    monkeypatch.undo()
    (tmp_path / "profiles" / "one.toml").unlink()
    (tmp_path / "profiles").rmdir()
    (tmp_path / "profiles").write_text("a file")
    assert "cannot be written" in save(app, "two").json()["says"]


def deeds(record: Path) -> list[tuple[str, dict[str, str]]]:
    """What the record says was done with schedules."""
    with closing(sqlite3.connect(record)) as connection:
        rows = connection.execute(
            "SELECT kind, fields FROM event WHERE firing IS NULL ORDER BY id"
        ).fetchall()
    return [(kind, json.loads(fields)) for kind, fields in rows]


def test_a_schedule_is_renamed_and_deleted_and_the_record_says_by_whom(blank_home: Path) -> None:
    app, record = build_app(blank_home / "nobody.sock", blank_home / "record.db"), blank_home / "record.db"
    save(app, "otter")
    renamed = post(app, "/api/schedules/otter/rename", {"to": "badger"})
    assert renamed.json() == {"ok": True, "says": "otter is now badger", "name": "badger"}
    assert (blank_home / "profiles" / "badger.toml").read_text() == SHORT
    assert call(app, "GET", "/api/schedules/otter").status_code == 404
    deleted = post(app, "/api/schedules/badger/delete", {})
    assert deleted.json() == {"ok": True, "says": "badger is deleted"}
    assert os.listdir(blank_home / "profiles") == []
    assert deeds(record) == [
        ("schedule_saved", {"name": "otter", "by": "page"}),
        ("schedule_renamed", {"name": "otter", "to": "badger", "by": "page"}),
        ("schedule_deleted", {"name": "badger", "by": "page"}),
    ]
    told = [say(kind, fields) for kind, fields in deeds(record)]
    assert told[1:] == [
        "The schedule otter was renamed badger by page",
        "The schedule badger was deleted by page",
    ]


def test_what_cannot_be_renamed_or_deleted_stays_and_is_one_line(blank_home: Path) -> None:
    app = build_app(blank_home / "nobody.sock", blank_home / "record.db")
    save(app, "otter")
    save(app, "badger", SHORT.replace("Own", "Other"))
    rename, delete = "/api/schedules/{}/rename", "/api/schedules/{}/delete"
    for path, body, status, line in (
        (rename.format("otter"), {"to": "badger"}, 409, 'there is a schedule "badger" of your own already'),
        (rename.format("otter"), {"to": "../x"}, 422, 'name: found "../x", expected '),
        (rename.format("otter"), {"to": "wax-silica-shell"}, 422, 'name: found "wax-silica-shell", which is'),
        (rename.format("wax-silica-shell"), {"to": "x"}, 409, "wax-silica-shell came with the program, and"),
        (delete.format("wax-silica-shell"), {}, 409, "wax-silica-shell came with the program, and stays"),
        (rename.format("nothing"), {"to": "x"}, 404, 'schedule: found "nothing", expected one of: '),
        (delete.format("nothing"), {}, 404, 'schedule: found "nothing", expected one of: '),
    ):
        answer = post(app, path, body)
        assert (answer.status_code, answer.json()["says"][: len(line)]) == (status, line)
        assert "\n" not in answer.json()["says"]
    assert sorted(os.listdir(blank_home / "profiles")) == ["badger.toml", "otter.toml"]
    assert profile("wax-silica-shell").read_text() == WAX
    assert [kind for kind, _ in deeds(blank_home / "record.db")] == ["schedule_saved", "schedule_saved"]


def test_a_schedule_that_a_firing_goes_on_with_stays_until_it_has_ended(blank_home: Path) -> None:
    record = blank_home / "record.db"
    app = build_app(blank_home / "nobody.sock", record)
    save(app, "printed-pla")  # of the name that the invented firings were started from
    invented_past.write(record, 1, ticks=2, last_open=True, schedule=SHORT)
    for path, body in (("rename", {"to": "badger"}), ("delete", {})):
        answer = post(app, f"/api/schedules/printed-pla/{path}", body)
        assert answer.status_code == 409
        assert answer.json()["says"] == (
            "printed-pla is in use: firing 1 was started from it and has not ended"
        )
    with Journal(record, flush_every_s=0.01) as journal:
        journal.close_firing(1, "complete", 9e9, 9e9)
    assert post(app, "/api/schedules/printed-pla/delete", {}).status_code == 200
    assert Record(record).firing(1).start.schedule_text == SHORT


def test_what_cannot_be_noted_in_the_record_is_not_done(blank_home: Path) -> None:
    app = build_app(blank_home / "nobody.sock", blank_home / "record.db")
    save(app, "otter")
    (blank_home / "record.db").write_bytes(b"this is no database" * 100)
    for path, body in (("rename", {"to": "badger"}), ("delete", {})):
        answer = post(app, f"/api/schedules/otter/{path}", body)
        assert answer.status_code == 503
        assert "expected a record made by stokehold" in answer.json()["says"]
    assert save(app, "badger").status_code == 503
    assert os.listdir(blank_home / "profiles") == ["otter.toml"]


def test_a_schedule_of_ones_own_with_a_mistake_is_listed_with_it(app: FastAPI, tmp_path: Path) -> None:
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "wrong.toml").write_text(SHORT.replace("90 C", "90"))
    (tmp_path / "profiles" / "bytes.toml").write_bytes(b"\xff")
    wrong, latin = call(app, "GET", "/api/schedules").json()["schedules"][:-3:-1]
    assert wrong["plan"] is None
    assert wrong["fault"].startswith("wrong.toml:5: stage 1")
    assert latin["fault"].startswith("bytes.toml:1: ")
    assert call(app, "GET", "/api/schedules/bytes").status_code == 404


def test_the_job_sheet_has_every_field_of_the_job_file_and_says_what_is_taken_without_it(
    app: FastAPI,
) -> None:
    tables = call(app, "GET", "/api/job").json()["tables"]
    told = {table["name"]: [field["name"] for field in table["fields"]] for table in tables}
    assert told == {"": ["title"]} | {
        name: [key.name for key in table.values()] for name, table in KEYS.items()
    }
    assert set(ASKED) == {field for table in KEYS.values() for field in table}
    assert all(field["without"] for table in tables[1:] for field in table["fields"])


def test_a_job_sheets_mistakes_lead_to_their_fields(app: FastAPI) -> None:
    good = post(app, "/api/job", {"text": 'title = "x"\n[pattern]\nmass = "480 g"\n'}).json()
    assert good == {"ok": True, "mistakes": []}
    bad = post(app, "/api/job", {"text": '[pattern]\nmass = "480"\n[shell]\ncoats = 99\n'}).json()
    assert [one["path"] for one in bad["mistakes"]] == [["pattern", "mass"], ["shell", "coats"]]
    assert "a mass with its unit" in bad["mistakes"][0]["says"]
