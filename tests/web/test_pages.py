"""The pages as they are sent: what each has in common with the others, and what a browser keeps."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest
from fastapi import FastAPI

from tests.web.test_app import call
from web.app import STATIC, build_app
from web.pages import FOLDER, PART, PageName, page

NAMES = get_args(PageName)


@pytest.fixture
def app(tmp_path: Path) -> FastAPI:
    return build_app(tmp_path / "nobody.sock", tmp_path / "record.db")


def test_every_part_is_of_some_page_and_every_page_is_one() -> None:
    wanted = {name for path in FOLDER.glob("*.html") for name in PART.findall(path.read_text())}
    assert wanted == {path.stem for path in (FOLDER / "parts").glob("*.html")}
    assert {path.stem for path in FOLDER.glob("*.html")} == set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_a_page_is_whole(name: PageName) -> None:
    """Abort is on every page, to the letter the same; no name stands twice, nothing is left to be put in."""
    html = page(name)
    assert "part:" not in html
    assert (FOLDER / "parts" / "bottom.html").read_text() in html
    assert (html.count('id="abort"'), html.count('class="strip"'), html.count("<noscript>")) == (1, 1, 1)
    ids = re.findall(r' id="([^"]+)"', html)
    assert sorted(ids) == sorted(set(ids))
    assert html.startswith('<!doctype html>\n<html lang="en" ')


@pytest.mark.parametrize("name", NAMES)
def test_a_page_holds_no_inline_script_or_style_and_asks_no_other_server(name: PageName) -> None:
    html = page(name)
    assert " style=" not in html
    assert "<style" not in html
    assert re.findall("<script.*", html) == re.findall('<script type="module" src="/static/.*', html)
    assert html.count("<script") == 1
    assert not re.search(r" on\w+=", html)
    assert re.findall(r"https?:", html) == []
    for address in re.findall(r'(?:src|href)="(/static/[^"]+)"', html):
        assert address.startswith("/static/vendor/") or (STATIC / address.removeprefix("/static/")).is_file()


@pytest.mark.parametrize("path", ["/firings/1", "/kiln", "/start", "/schedules/x", "/pair", "/devices"])
def test_a_page_that_the_browser_has_is_not_sent_again(app: FastAPI, path: str) -> None:
    first = call(app, "GET", path)
    assert (first.status_code, first.headers["cache-control"]) == (200, "no-cache")
    again = call(app, "GET", path, headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert "default-src 'self'" in again.headers["content-security-policy"]
    assert call(app, "GET", path, headers={"If-None-Match": '"another"'}).text == first.text
