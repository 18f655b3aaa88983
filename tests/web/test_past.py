"""Past firings as the server gives them: list, firing, curve, files, notes; and what a wrong call gets."""

from __future__ import annotations

import asyncio
import csv
import json
import time
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from fastapi import FastAPI

from controller.record.jobs import write_job
from controller.record.journal import Journal
from controller.record.observing import write_observation
from controller.record.queries import Record
from tests.web import invented, invented_past
from tests.web.conftest import wait_for
from tests.web.fake_controller import FakeController
from web.app import build_app
from web.pages import page
from web.past.compared import A_FEW, FEWEST_POINTS, LONGEST
from web.past.reports import ticks_as_text
from web.past.summaries import FILE_NAME, summary
from web.past.ticks import between, read_curve, since_first_s

OWN = {"Origin": "http://localhost"}


def call(app: FastAPI, method: str, path: str, **more: Any) -> httpx.Response:
    async def story() -> httpx.Response:
        transport = httpx.ASGITransport(app=app)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            return await client.request(method, path, **more)

    return asyncio.run(story())


def get(app: FastAPI, path: str) -> Any:
    answer = call(app, "GET", path)
    assert answer.status_code == 200, answer.text
    return answer.json()


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three firings: complete, aborted, and one that goes on."""
    path = tmp_path_factory.mktemp("past") / "record.db"
    invented_past.write(path, 3, last_open=True, title=lambda number: f"Firing number {number}")
    return path


@pytest.fixture
def app(record: Path) -> FastAPI:
    return build_app(record.parent / "nobody.sock", record)


def listed(app: FastAPI) -> list[Any]:
    """The list, once its small curves are there."""
    wait_for(lambda: all(each["summary"] for each in get(app, "/api/firings")["firings"]))
    found: list[Any] = get(app, "/api/firings")["firings"]
    return found


def test_the_list_is_newest_first_with_its_small_curves(app: FastAPI) -> None:
    newest, aborted, oldest = listed(app)
    assert [newest["firing"], aborted["firing"], oldest["firing"]] == [3, 2, 1]
    assert [newest["result"], aborted["result"], oldest["result"]] == [None, "aborted", "complete"]
    assert (oldest["title"], oldest["notes"], aborted["notes"]) == ("Firing number 1", 1, 0)
    assert oldest["summary"]["duration_s"] == 539 * 60
    assert oldest["summary"]["peak_c"] == pytest.approx(785.0, abs=2.0)
    assert 50 < len(oldest["summary"]["t_s"]) <= 82


def test_a_small_curve_keeps_a_single_ticks_spike(record: Path) -> None:
    curve = read_curve(record, 1)
    assert round(float(curve.air_c[invented_past.SPIKE_N])) in summary(curve, Record(record).firing(1))["c"]


def test_summaries_are_kept_beside_the_record_and_a_broken_file_is_made_anew(
    app: FastAPI, record: Path
) -> None:
    told = listed(app)
    kept = record.parent / FILE_NAME
    wait_for(kept.exists)
    assert len(json.loads(kept.read_text())["firings"]) == 2  # the one that goes on is not kept
    again = build_app(record.parent / "nobody.sock", record)
    assert [bool(each["summary"]) for each in get(again, "/api/firings")["firings"]] == [False, True, True]
    short, no_measures = json.loads(kept.read_text()), json.loads(kept.read_text())
    for each in no_measures["firings"].values():
        del each["facts"]["measures"]["lag_k"]
    for each in short["firings"].values():
        each["c"].pop()
    for broken in (
        json.dumps(short),
        json.dumps(no_measures),
        "{",
        '{"version": 1, "firings": {"1/0/0": {"t_s": []}}}',
        "[]",
    ):
        kept.write_text(broken)
        assert listed(build_app(record.parent / "nobody.sock", record)) == told


def test_the_list_comes_page_by_page(app: FastAPI) -> None:
    assert [each["firing"] for each in get(app, "/api/firings?before=3")["firings"]] == [2, 1]
    assert get(app, "/api/firings?before=1") == {"firings": [], "more": False, "says": "", "running": None}


def test_without_a_record_the_list_says_so(tmp_path: Path) -> None:
    alone = build_app(tmp_path / "nobody.sock", tmp_path / "record.db")
    assert get(alone, "/api/firings")["says"] == "There is no record yet: nothing was fired here."
    assert call(alone, "GET", "/api/firings/1").status_code == 404
    assert list(tmp_path.iterdir()) == []


def test_a_record_that_is_none_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "record.db").write_bytes(b"this is no database" * 100)
    broken = build_app(tmp_path / "nobody.sock", tmp_path / "record.db")
    for path in ("/api/firings", "/api/firings/1", "/api/firings/1/curve", "/api/compare?firings=1,2"):
        answer = call(broken, "GET", path)
        assert answer.status_code == 503, path
        assert "expected a record made by stokehold" in answer.json()["says"]


def test_a_firing_is_told_whole(app: FastAPI) -> None:
    told = get(app, "/api/firings/1")
    assert (told["title"], told["result"], told["running"], told["ticks"]) == (
        "Firing number 1",
        "complete",
        False,
        540,
    )
    assert told["measures"]["peak_air_c"] == pytest.approx(785.0, abs=2.0)
    assert told["measures"]["energy_kwh"] == pytest.approx(6.5 * told["measures"]["heat_h"])
    assert [stage["name"] for stage in told["stages"]] == ["dry", "dry through", "burn out", "fire"]
    assert told["plan"]["c"][-1] == 815.0
    assert told["events"][1]["says"] == "A person is needed, dry through: Look for cracks."
    assert told["events"][1]["t_s"] == 8100.0
    assert told["notes"][0]["text"].startswith("Two hairline cracks")
    assert told["pour_s"] == 24000.0


def test_a_firing_carries_its_newest_job_sheet(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    invented_past.write(path, 1)
    app = build_app(tmp_path / "nobody.sock", path)
    assert get(app, "/api/firings/1")["job"] is None
    for title in ("Otter", "Otter, drained"):
        write_job(path, 1, "page", f'title = "{title}"\n', 7.0)
    job = get(app, "/api/firings/1")["job"]
    assert job == {"utc_s": 7.0, "by": "page", "text": 'title = "Otter, drained"\n', "says": "Otter, drained"}


def test_what_comes_again_and_again_is_told_once(tmp_path: Path) -> None:
    record = tmp_path / "record.db"
    invented_past.write(record, 1, ticks=5)
    with Journal(record, flush_every_s=0.01) as journal:
        for n in range(5):
            journal.event(
                1, "alarm_warning", {"row": "late", "says": "Late", "found": f"{n} s"}, "warning", n, n
            )
    events = get(build_app(tmp_path / "nobody.sock", record), "/api/firings/1")["events"]
    late = [each for each in events if each["says"].startswith("Late")]
    assert [(each["says"], each["times"], each["last_s"] - each["t_s"]) for each in late] == [
        ("Late (0 s)", 5, 4.0)
    ]


def test_the_quick_reading_is_the_records_own(record: Path) -> None:
    quick, own = read_curve(record, 2), Record(record).ticks(2)
    for name in ("n", "t_s", "utc_s", "setpoint_c", "air_c", "load_c", "limit_c", "duty", "heat_on", "stage"):
        np.testing.assert_array_equal(getattr(quick, name), getattr(own, name), err_msg=name)


def test_time_goes_on_where_the_computer_was_started_anew() -> None:
    mono_s, utc_s = np.array([100.0, 101.0, 5.0, 6.0]), np.array([1000.0, 1001.0, 1061.0, 1062.0])
    assert since_first_s(mono_s, utc_s).tolist() == [0.0, 1.0, 61.0, 62.0]


def test_a_stretch_has_a_neighbour_on_each_side(record: Path) -> None:
    curve = read_curve(record, 1)
    assert between(curve, 600.0, 720.0).t_s.tolist() == [540.0, 600.0, 660.0, 720.0, 780.0]
    assert between(curve, 0.0, 60.0).t_s.tolist() == [0.0, 60.0, 120.0]
    assert len(between(curve, 1e8, 2e8)) == 1


def test_a_curve_is_thinned_without_losing_a_peak(app: FastAPI, tmp_path: Path) -> None:
    invented_past.write(tmp_path / "record.db", 1, ticks=5000)
    curve = get(build_app(tmp_path / "nobody.sock", tmp_path / "record.db"), "/api/firings/1/curve")
    assert 150 < len(curve["t_s"]) < 900
    assert curve["whole"] is False
    spike_s = invented_past.SPIKE_N * 60.0
    at = curve["t_s"].index(spike_s)
    assert curve["air_c"][at] > curve["air_c"][at - 1] + 25
    assert None in curve["load_c"]  # a gap stays a gap


def test_a_closer_look_has_every_tick(app: FastAPI) -> None:
    near = get(app, "/api/firings/1/curve?from=19000&to=21000")
    assert near["whole"] is True
    assert near["t_s"] == [18960.0 + 60.0 * i for i in range(36)]


def test_firings_are_compared_with_what_they_can_be_aligned_on(app: FastAPI) -> None:
    got = get(app, "/api/compare?firings=1,2,1")
    assert [each["firing"] for each in got["firings"]] == [1, 2]
    assert got["stages"] == ["dry", "dry through", "burn out"]  # firing 2 was aborted before "fire"
    assert got["firings"][0]["pour_s"] == 24000.0
    assert got["firings"][1]["pour_s"] is None
    assert got["firings"][0]["begins_s"]["burn out"] == 8100.0


def test_a_stretch_of_numbers_means_the_firings_that_there_are_of_it(app: FastAPI) -> None:
    got = get(app, "/api/compare?firings=3,1-999999999,2")
    assert [each["firing"] for each in got["firings"]] == [3, 1, 2]
    assert (got["pending"], got["a_few"]) == (0, True)
    answer = call(app, "GET", "/api/compare?firings=1,50-60")
    assert (answer.status_code, answer.json()["says"]) == (404, "there is no firing 50 to 60")


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> FastAPI:
    """Sixteen short firings, all of them summed up."""
    path = tmp_path_factory.mktemp("many") / "record.db"
    invented_past.write(path, 16, ticks=100)
    app = build_app(path.parent / "nobody.sock", path)
    wait_for(lambda: get(app, "/api/compare?firings=1-16")["pending"] == 0, within_s=30.0)
    return app


@pytest.mark.parametrize("together", [16 * 60, 16 * FEWEST_POINTS, 10])
def test_many_firings_have_together_as_many_points_as_a_few_and_their_ticks_are_not_read(
    many: FastAPI, monkeypatch: pytest.MonkeyPatch, together: int
) -> None:
    def none(record: Path, number: int) -> Any:
        raise AssertionError("ticks were read")

    monkeypatch.setattr("web.past.firing.read_curve", none)
    monkeypatch.setattr("web.past.compared.POINTS_TOGETHER", together)
    got = get(many, "/api/compare?firings=1-16")
    assert (len(got["firings"]), got["pending"], got["a_few"]) == (16, 0, False)
    points = [len(each["curve"]["t_s"]) for each in got["firings"]]
    assert max(points) <= max(FEWEST_POINTS, together // 16)
    assert min(points) > 0.7 * FEWEST_POINTS
    assert got["stages"] == ["dry", "dry through"]


def test_what_is_kept_of_a_firing_is_what_its_ticks_say(many: FastAPI) -> None:
    summed_up = get(many, f"/api/compare?firings=1-{A_FEW + 1}")["firings"]
    few = get(many, "/api/compare?firings=1,2")["firings"]
    for kept, read in zip(summed_up, few, strict=False):
        assert {k: v for k, v in kept.items() if k != "curve"} == {
            k: v for k, v in read.items() if k != "curve"
        }
        assert max(kept["curve"]["air_c"]) == pytest.approx(max(read["curve"]["air_c"]), abs=0.5)
        assert kept["curve"]["t_s"][-1] == read["curve"]["t_s"][-1]


def test_many_firings_that_are_not_summed_up_yet_are_told_as_pending(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    invented_past.write(path, A_FEW + 1, ticks=5)
    app = build_app(tmp_path / "nobody.sock", path)
    got = get(app, f"/api/compare?firings=1-{A_FEW + 1}")
    assert (got["pending"], got["firings"]) == (A_FEW + 1, [])
    wait_for(lambda: get(app, f"/api/compare?firings=1-{A_FEW + 1}")["pending"] == 0)


@pytest.mark.parametrize(
    "path",
    [
        "/api/firings/99",
        "/api/firings/99/curve",
        "/api/firings/99/report.pdf",
        "/api/firings/99/ticks.csv",
        "/api/compare?firings=1,99",
    ],
)
def test_no_such_firing_is_one_line(app: FastAPI, path: str) -> None:
    answer = call(app, "GET", path)
    assert answer.status_code == 404
    assert answer.json() == {"ok": False, "says": "there is no firing 99"}


@pytest.mark.parametrize(
    "path",
    [
        "/firings/x",
        "/firings/0",
        "/firings/-1",
        "/api/firings/1e3",
        "/api/firings/99999999999999999999",
        "/api/firings/..%2f..%2frecord.db",
        "/api/firings/1/report.db",
        "/api/firings/1/report.pdf%2f..%2f..%2frecord.db",
        "/api/firings/1/../../../record.db",
        "/api/firings/1/summaries.json",
        "/static/../record.db",
    ],
)
def test_what_is_no_address_is_nothing_in_one_line(app: FastAPI, path: str) -> None:
    answer = call(app, "GET", path)
    assert answer.status_code == 404
    assert answer.json()["says"].startswith("there is nothing at /")
    assert "\n" not in answer.json()["says"]


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("/api/firings?before=x", "query.before: "),
        ("/api/firings?before=-1", "query.before: "),
        ("/api/firings/1/curve?from=nan", "query.from: "),
        ("/api/firings/1/curve?to=-5", "query.to: "),
        ("/api/firings/1/curve?from=inf", "query.from: "),
        ("/api/compare?firings=1;2", "query.firings: "),
        ("/api/compare?firings=", "query.firings: "),
        ("/api/compare", "query.firings: "),
        ("/api/compare?firings=1-2-3", "query.firings: "),
        ("/api/compare?firings=1," + "2," * LONGEST + "3", "query.firings: "),
    ],
)
def test_a_bad_number_is_told_in_one_line(app: FastAPI, path: str, says: str) -> None:
    answer = call(app, "GET", path)
    assert answer.status_code == 422
    assert answer.json()["says"].startswith(says)


def test_every_tick_is_to_be_had_as_text(app: FastAPI) -> None:
    answer = call(app, "GET", "/api/firings/2/ticks.csv")
    assert answer.headers["content-disposition"] == 'attachment; filename="firing-2.csv"'
    rows = list(csv.reader(answer.text.splitlines()))
    assert len(rows) == 1 + 360
    assert rows[0][7] == "air (C)"


def test_a_text_that_breaks_off_does_not_look_whole(record: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(past: object, number: int, out: Any) -> int:
        out.write("tick\r\n")
        raise OSError("the card is gone")

    monkeypatch.setattr("controller.record.export.export", broken)
    with pytest.raises(OSError, match="the card is gone"):
        list(ticks_as_text(record, 1))


def test_a_report_is_drawn_once_and_again_after_a_note_or_a_rating(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = tmp_path / "record.db"
    invented_past.write(record, 1, ticks=200)
    app, drawn = build_app(tmp_path / "nobody.sock", record), []

    def draw(past: Record, number: int, folder: Path) -> Any:
        drawn.append(number)
        folder.mkdir(parents=True)
        (folder / "report-1.pdf").write_bytes(b"%PDF-1.4 drawn")
        (folder / "report-1.png").write_bytes(b"\x89PNG drawn")
        return type("Written", (), {"pdf": folder / "report-1.pdf", "png": folder / "report-1.png"})

    monkeypatch.setattr("controller.review.report.write_report", draw)
    for kind, begins in (("pdf", b"%PDF"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
        answer = call(app, "GET", f"/api/firings/1/report.{kind}")
        assert answer.content.startswith(begins)
        assert answer.headers["content-disposition"] == f'attachment; filename="firing-1.{kind}"'
    assert drawn == [1]
    note(app, 1, "one more")
    call(app, "GET", "/api/firings/1/report.pdf")
    assert drawn == [1, 1]
    write_observation(record, 1, "page", "rating", {"rating": "good"}, 1.0)
    call(app, "GET", "/api/firings/1/report.pdf")
    assert drawn == [1, 1, 1]
    assert len(list((tmp_path / "reports").iterdir())) == 1


def test_the_real_report_comes_as_a_file(tmp_path: Path) -> None:
    record = tmp_path / "record.db"
    invented_past.write(record, 1, ticks=100)
    answer = call(build_app(tmp_path / "nobody.sock", record), "GET", "/api/firings/1/report.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF-1")


def note(app: FastAPI, number: int, text: Any, **more: Any) -> httpx.Response:
    return call(app, "POST", f"/api/firings/{number}/notes", json={"text": text, **more}, headers=OWN)


def test_a_note_of_a_past_firing_goes_into_the_record(tmp_path: Path) -> None:
    record = tmp_path / "record.db"
    invented_past.write(record, 2, ticks=5)
    app = build_app(tmp_path / "nobody.sock", record)
    assert note(app, 2, f"  {invented_past.NASTY} ").json() == {"ok": True, "says": "noted"}
    [kept] = Record(record).notes(2)
    assert (kept.by, kept.text) == ("page", invented_past.NASTY)
    assert kept.utc_s == pytest.approx(time.time(), abs=30)
    assert get(app, "/api/firings/2")["notes"][0]["text"] == invented_past.NASTY


def test_a_note_of_the_running_firing_goes_through_the_controller(
    controller: FakeController, tmp_path: Path
) -> None:
    record = tmp_path / "record.db"
    invented_past.write(record, 2, ticks=5, last_open=True)
    app = build_app(controller.path, record)
    app.state.hub.frame = invented.changed(firing=2)
    assert note(app, 2, "smells of plastic").status_code == 200
    assert controller.asked == [{"request": "note", "by": "page", "text": "smells of plastic"}]
    assert Record(record).notes(2) == []
    assert note(app, 1, "an older one").status_code == 200
    assert [each.text for each in Record(record).notes(1)][-1] == "an older one"
    controller.die()
    assert note(app, 2, "nobody took it").status_code == 200
    assert [each.text for each in Record(record).notes(2)] == ["nobody took it"]


@pytest.mark.parametrize(
    ("number", "text", "status"),
    [(1, "", 422), (1, "  ", 422), (1, "x" * 4001, 422), (1, 7, 422), (9, "x", 404)],
)
def test_what_is_no_note_is_refused(app: FastAPI, number: int, text: Any, status: int) -> None:
    answer = note(app, number, text)
    assert answer.status_code == status
    assert "\n" not in answer.json()["says"]


def test_a_note_from_another_sites_page_is_refused(app: FastAPI, record: Path) -> None:
    before = len(Record(record).notes(1))
    for headers in ({}, {"Origin": "http://evil.example"}, {**OWN, "Sec-Fetch-Site": "cross-site"}):
        answer = call(app, "POST", "/api/firings/1/notes", json={"text": "x"}, headers=headers)
        assert answer.status_code == 403
    assert len(Record(record).notes(1)) == before


def test_the_pages_of_the_past_are_served(app: FastAPI) -> None:
    for path in ("/firings", "/firings/1", "/firings?compare=1,2"):
        answer = call(app, "GET", path)
        assert answer.status_code == 200
        assert answer.text == page("firings")
        assert "default-src 'self'" in answer.headers["content-security-policy"]
