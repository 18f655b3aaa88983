"""The table of who may reach what."""

from __future__ import annotations

import pytest

from web.who import RANK, TABLE, may, needed


@pytest.mark.parametrize(
    ("method", "path", "role"),
    [
        ("GET", "/", "watcher"),
        ("HEAD", "/", "watcher"),
        ("GET", "/firings/3", "watcher"),
        ("GET", "/api/live", "watcher"),
        ("GET", "/api/never-heard-of", "watcher"),
        ("GET", "/pair", "anyone"),
        ("GET", "/pair/", "watcher"),
        ("GET", "/static/now/app.js", "anyone"),
        ("GET", "/static/vendor/a.js", "anyone"),
        ("GET", "/statics", "watcher"),
        ("POST", "/static/now/app.js", "operator"),
        ("POST", "/api/pair", "anyone"),
        ("GET", "/api/device", "anyone"),
        ("GET", "/api/health/well", "anyone"),
        ("GET", "/api/health", "watcher"),
        ("GET", "/api/alerts", "watcher"),
        ("POST", "/api/alerts/acknowledge", "operator"),
        ("GET", "/api/devices", "operator"),
        ("GET", "/devices", "operator"),
        ("POST", "/api/requests/abort", "watcher"),
        ("POST", "/api/requests/hold", "watcher"),
        ("POST", "/api/requests/hold/", "operator"),
        ("POST", "/api/requests/start", "operator"),
        ("POST", "/api/requests/x/hold", "operator"),
        ("POST", "/api/devices/3/revoke", "operator"),
        ("POST", "/api/requests/prefire", "watcher"),
        ("POST", "/api/forecast", "watcher"),
        ("POST", "/api/job", "watcher"),
        ("POST", "/api/schedules/draw", "watcher"),
        ("POST", "/api/schedules", "operator"),
        ("POST", "/api/schedules/draw/rename", "operator"),
        ("POST", "/api/schedules/otter/delete", "operator"),
        ("DELETE", "/api/never-heard-of", "operator"),
        ("OPTIONS", "/api/live", "operator"),
        ("GET", "no slash", "operator"),
        ("GET", "/api/devices\n", "watcher"),
    ],
)
def test_an_address_needs_a_role(method: str, path: str, role: str) -> None:
    assert needed(method, path) == role


def test_whoever_may_more_may_less() -> None:
    assert [may(role, "POST", "/api/requests/start") for role in RANK] == [False, False, True]
    assert [may(role, "POST", "/api/requests/abort") for role in RANK] == [False, True, True]
    assert [may(role, "POST", "/api/pair") for role in RANK] == [True, True, True]


def test_every_row_says_why_and_the_last_two_decide_whatever_is_left() -> None:
    assert all(rule.why for rule in TABLE)
    assert [(rule.method, rule.path, rule.role) for rule in TABLE[-2:]] == [
        ("GET", "/**", "watcher"),
        ("*", "/**", "operator"),
    ]
