"""The list before a start: what is asked for which schedule on which kiln, and what refuses a start."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest

from controller.prefire import Item, prefire_items, start_refusal, unmet
from controller.schedule.index import names, profile
from controller.schedule.model import Checkpoint, Cool, Hold, Ramp, Schedule, Then
from controller.schedule.reader import load_schedule
from tests.commissioning.hands import CONFIG

PLAIN = Schedule(
    "reheat", (Ramp("up", 700.0, 300.0), Hold("stay", 700.0, 3600.0, 15.0)), mould="silica shell"
)
BURNS = replace(PLAIN, stages=(Ramp("burn", 650.0, 300.0, extraction=True),))


def ids(schedule: Schedule, **changes: object) -> list[str]:
    return [item.id for item in prefire_items(schedule, replace(CONFIG, **changes))]  # type: ignore[arg-type]


def item(schedule: Schedule, which: str, **changes: object) -> Item:
    items = prefire_items(schedule, replace(CONFIG, **changes))  # type: ignore[arg-type]
    return next(one for one in items if one.id == which)


def test_a_burnout_asks_for_everything() -> None:
    assert ids(BURNS) == ["vent", "extraction", "surroundings", "shell", "load", "limit", "reachable"]


def test_without_anything_to_burn_no_extraction_and_no_tray_are_asked_for() -> None:
    assert "extraction" not in ids(PLAIN)
    assert "tray" not in item(PLAIN, "shell").says
    assert "tray beneath" in item(BURNS, "shell").says
    assert "drain" in item(BURNS, "shell").says


def test_the_first_drying_of_a_lining_has_no_shell_to_look_at() -> None:
    lining = load_schedule(profile("first-drying-of-a-lining"))
    assert {"shell", "load"}.isdisjoint(ids(lining))


def test_every_shipped_profile_gets_its_list_and_no_id_twice() -> None:
    for name in names():
        items = prefire_items(load_schedule(profile(name)), CONFIG)
        found = [one.id for one in items]
        assert len(found) == len(set(found)) >= 4
        assert all(one.says and one.why for one in items)


def test_a_kiln_without_a_load_thermocouple_or_an_extraction_contact_is_told_so() -> None:
    assert "load" not in ids(BURNS, readers={"air": CONFIG.readers["air"]})
    assert "no contact that proves it" in item(BURNS, "extraction", contacts={}).says
    assert "no contact" not in item(BURNS, "extraction").says


@pytest.mark.parametrize(
    ("stage", "says"),
    [
        (Ramp("up", 815.0, 300.0), "above 815 C"),
        (Hold("stay", 700.0, 60.0, 15.0), "above 700 C"),
        (Cool("down", 400.0, 60.0), "above 400 C"),
        (Checkpoint("look", "", "off", None, 60.0, Then("keep waiting", 150.0), 0.0), "above 150 C"),
    ],
)
def test_the_limit_is_set_between_the_schedule_and_the_kiln_s_ceiling(
    stage: Ramp | Hold | Cool | Checkpoint, says: str
) -> None:
    told = item(replace(PLAIN, stages=(stage,)), "limit").says
    assert says in told
    assert "at most at 900 C" in told


def test_what_is_not_ticked_is_unmet_in_its_order_and_an_unknown_id_ticks_nothing() -> None:
    items = prefire_items(BURNS, CONFIG)
    assert unmet(items, ()) == items
    assert unmet(items, [one.id for one in items]) == ()
    left = unmet(items, {"shell", "vent", "moon"})
    assert [one.id for one in left] == ["extraction", "surroundings", "load", "limit", "reachable"]


@pytest.mark.parametrize(
    ("reachable", "fine"), [("Ada, next door", True), ("", False), ("  ", False), ("?!", False)]
)
def test_a_start_needs_every_tick_and_somebody_to_reach(reachable: str, fine: bool) -> None:
    items = prefire_items(BURNS, CONFIG)
    every = [one.id for one in items]
    assert (start_refusal(items, every, reachable) == "") is fine
    refused = start_refusal(items, every[1:], "Ada")
    assert "The kiln's vent is open (vent)" in refused
    assert "\n" not in refused


@pytest.mark.parametrize(
    ("module", "never"),
    [
        (
            "controller.prefire",
            ("controller.wire", "controller.guard", "controller.config", "controller.tick"),
        ),
        ("controller.commissioning", ("controller.guard", "controller.tick", "controller.wire.kiln_wire")),
    ],
)
def test_what_the_service_and_the_page_ask_never_brings_the_heat_along(
    module: str, never: tuple[str, ...]
) -> None:
    code = f"import sys, {module}; print(*[m for m in sys.modules if m.startswith({never!r})])"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=30, check=True
    )
    assert done.stdout.strip() == ""
