"""A ramp that full heat cannot follow: it lags, says so once a stage, and leaves nothing wound up."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.catalogue import say
from controller.control.behind import BEHIND_K, LASTS_S, ON_TIME, Behind, behind
from controller.frames import About, Extra, frame
from controller.schedule.reader import read_schedule
from controller.simulator.plant import Plant
from controller.tick import Ticked
from tests.in_process import DEMO_PLAN, in_process

BEYOND = """
title = "Beyond the kiln's power"
[[stage]]
kind = "ramp"
name = "too steep"
to = "400 C"
rate = "1500 C/h"
[[stage]]
kind = "hold"
name = "stay"
for = "40 min"
band = "200 K"
[[stage]]
kind = "ramp"
name = "too steep again"
to = "600 C"
rate = "1500 C/h"
"""
ABOUT = About("kiln", True, 900.0, 1.0, 1.0)
EXTRA = Extra(1, 0.0, 0.0, [], 0, 0.0)


def many(
    state: Behind, seconds: int, off_k: float, duty: float = 1.0, *, heat: bool = True
) -> tuple[Behind, int]:
    told = 0
    for _ in range(seconds):
        state, now = behind(state, 3, 500.0, 500.0 - off_k, duty, heat, 1.0)
        told += now
    return state, told


def test_it_is_told_once_when_it_has_lasted() -> None:
    state, told = many(ON_TIME, int(LASTS_S) - 1, BEHIND_K)
    assert (told, state.by_k) == (0, 0.0)
    state, told = many(state, 3600, 12.0)
    assert (told, state.by_k) == (1, 12.0)


def test_and_again_in_the_next_stage() -> None:
    state, _ = many(ON_TIME, 300, 12.0)
    state, told = behind(state, 4, 500.0, 480.0, 1.0, True, 1.0)
    assert told
    assert not behind(state, 4, 500.0, 480.0, 1.0, True, 1.0)[1]


@pytest.mark.parametrize(
    ("off_k", "duty", "heat"),
    [(BEHIND_K - 0.1, 1.0, True), (12.0, 0.9, True), (12.0, 1.0, False), (-9.0, 1.0, True)],
)
def test_nothing_is_told_of_a_kiln_that_follows_or_is_not_heated_fully(
    off_k: float, duty: float, heat: bool
) -> None:
    state, told = many(ON_TIME, 3600, off_k, duty, heat=heat)
    assert (told, state.by_k) == (0, 0.0)


def test_a_kiln_that_catches_up_is_no_longer_behind() -> None:
    state, _ = many(ON_TIME, 300, 12.0)
    state, _ = many(state, 1, 1.0)
    assert state.by_k == 0.0
    state, told = behind(state, 3, None, 400.0, 0.0, False, 1.0)
    assert (state.by_k, state.told, told) == (0.0, 3, False)


def test_a_ramp_beyond_the_power_lags_says_so_once_a_stage_and_is_not_overshot(tmp_path: Path) -> None:
    schedule = read_schedule(BEYOND, "beyond")
    kiln = in_process(Plant(water_kg=0.0, plastic_kg=0.0), DEMO_PLAN, tmp_path)
    told: list[str] = []
    seen: set[str] = set()
    hottest_c = 0.0

    def note(ticked: Ticked) -> None:
        nonlocal hottest_c
        for event in ticked.outputs.events:
            if event.kind == "falls_behind":
                told.append(str(event.fields["stage"]))
                assert say(event.kind, event.fields).startswith("Full heat, and the kiln falls behind: ")
        waiting = frame(ticked, ABOUT, EXTRA)["waiting"] if ticked.n % 30 == 0 else None
        if waiting:
            seen.add(waiting[:40])
        if ticked.firing.stage == 1:
            hottest_c = max(hottest_c, ticked.polled.readings["air"].value_c or 0.0)

    kiln.fire(schedule, note)
    assert len(told) == len(set(told)), told
    assert "too steep again" in told
    assert any(waiting.startswith("Full heat, and the kiln falls behind: ") for waiting in seen), seen
    assert 390.0 < hottest_c < 405.0
