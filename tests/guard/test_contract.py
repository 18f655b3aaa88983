"""The contract that every row of the guard keeps, played on every one of its scenes.

Quiet below its limit and acting at it, however closely the sizes crowd about it; within its stated time;
with its stated reaction; cleared as stated; told; and the same after a restart. A row without a scene fails.
"""

from __future__ import annotations

import pytest

from controller.alarms import OFF_DELAY_S, Alarms
from controller.guard import ROWS, Row
from tests.guard.bench import Bench
from tests.guard.scenes import SCENES, Scene

ROW = {row.id: row for row in ROWS}
ENDS_WITHIN_S = 300  # the slope of a surge takes minutes to be forgotten; all others are quicker
every_scene = pytest.mark.parametrize("scene", SCENES, ids=[f"{s.row_id}-{s.what}" for s in SCENES])


def begun(scene: Scene) -> Bench:
    """Return a bench at the end of the healthy time."""
    bench = Bench(limits=scene.limits)
    scene.begin(bench)
    assert bench.standing == {}
    assert bench.guard.latches == ()
    return bench


def acting(scene: Scene) -> Bench:
    """Return a bench at the tick at which the row first stands."""
    bench = begun(scene)
    for t in range(scene.at_s + 1):
        scene.tick(bench, float(t), scene.acting())
    assert scene.row_id in bench.standing
    return bench


def row_of(scene: Scene) -> Row:
    return ROW[scene.row_id]


def test_every_row_has_its_scenes() -> None:
    assert [row.id for row in ROWS if row.id not in {scene.row_id for scene in SCENES}] == []
    assert len(ROWS) >= 20
    assert len({(scene.row_id, scene.what) for scene in SCENES}) == len(SCENES)


@every_scene
def test_a_row_is_quiet_below_its_limit_and_acts_from_it_on(scene: Scene) -> None:
    sizes = scene.sizes()
    assert {scene.is_acting(x) for x in sizes} == {True, False}
    for x in sizes:
        bench, stood = begun(scene), False
        for t in range(scene.at_s + 31):
            scene.tick(bench, float(t), x)
            stood = stood or scene.row_id in bench.standing
            if stood:
                break
        assert stood == scene.is_acting(x), x


@every_scene
def test_a_row_acts_at_its_stated_time_and_not_before(scene: Scene) -> None:
    assert scene.at_s >= row_of(scene).after_s(scene.limits)
    bench = begun(scene)
    for t in range(scene.at_s + 1):
        scene.tick(bench, float(t), scene.acting())
        assert (scene.row_id in bench.standing) == (t == scene.at_s), t


@every_scene
def test_a_row_reacts_as_it_states(scene: Scene) -> None:
    bench, row = acting(scene), row_of(scene)
    verdict = bench.verdict
    alone = set(bench.standing) == {row.id}
    if alone:
        assert verdict.trip == (row.reaction == "trip")
        assert verdict.cut == (row.reaction in ("cut", "trip"))
        assert verdict.hold == (row.reaction == "hold")
    if row.reaction in ("cut", "trip"):
        assert not bench.relay.on or bench.relay.broken
        assert not bench.grant.heat
    if scene.heats and alone:
        refuses = row.reaction in ("cut", "trip") or row.id == "tick_late"
        assert bench.grant.heat != refuses
        assert (row.id in bench.grant.refused_by) == refuses
    if row.reaction == "trip" or row.opens_main:
        assert not bench.relay.main


@every_scene
def test_a_row_trips_when_it_lasts_as_long_as_it_states_or_never(scene: Scene) -> None:
    bench, row = acting(scene), row_of(scene)
    if row.reaction == "trip":
        assert row.id in {latch.row_id for latch in bench.guard.latches}
        return
    trips_s = scene.at_s - row.after_s(scene.limits) + row.trips_after_s(scene.limits)
    until_s = trips_s + 1 if row.latches else scene.at_s + 200
    for t in range(scene.at_s + 1, int(until_s)):
        scene.tick(bench, float(t), scene.acting())
        latched = row.id in {latch.row_id for latch in bench.guard.latches}
        assert latched == (t >= trips_s), t


@every_scene
def test_a_row_clears_as_it_states(scene: Scene) -> None:
    bench, row = acting(scene), row_of(scene)
    latched = bench.guard.latches != ()
    assert (row.id in {latch.row_id for latch in bench.guard.latches}) == (row.reaction == "trip")
    if latched:
        done, says = bench.guard.clear()
        assert not done
        assert says.startswith("still standing: ")
    for _ in range(ENDS_WITHIN_S):
        scene.recover(bench)
        if latched:
            assert not bench.grant.heat
            assert not bench.relay.main
    assert bench.standing == {}
    assert (bench.guard.latches != ()) == latched
    if latched:
        assert bench.guard.clear() == (True, "trips cleared")
    assert any(bench.tick(air_c=bench.air_c) for _ in range(10))


@every_scene
def test_a_row_is_told_when_it_comes_and_when_it_goes(scene: Scene) -> None:
    bench, row = acting(scene), row_of(scene)
    assert bench.standing[row.id].startswith(scene.says)
    alarms = Alarms()
    told = {
        fields["row"]: (kind, fields)
        for kind, fields in alarms.follow(bench.verdict, bench.guard.latches, 0.0, 1e9)
    }
    kind, fields = told[row.id]
    assert kind == {"trip": "trip", "warn": "alarm_warning"}.get(row.reaction, "alarm")
    assert scene.says in fields["found"]
    assert fields["says"] == row.says
    over = Bench().verdict
    gone = [*alarms.follow(over, (), 1.0, 1e9), *alarms.follow(over, (), 1.0 + OFF_DELAY_S, 1e9)]
    assert (row.id in {fields["row"] for _, fields in gone}) == (row.reaction != "warn")


@every_scene
def test_a_row_s_memory_survives_as_text(scene: Scene) -> None:
    for moment in {0, scene.at_s // 2, max(0, scene.at_s - 1)}:
        bench = begun(scene)
        for t in range(scene.at_s + 1):
            if t == moment:
                bench.carry_over()
            scene.tick(bench, float(t), scene.acting())
            assert (scene.row_id in bench.standing) == (t == scene.at_s), t


@every_scene
def test_after_a_restart_a_trip_still_stands_and_a_fault_is_found_again(scene: Scene) -> None:
    bench, row = acting(scene), row_of(scene)
    latches = bench.guard.latches
    bench.guard = bench.another()
    assert not bench.relay.on or bench.relay.broken
    assert bench.guard.latches == latches
    if scene.at_s == row.after_s(scene.limits) and not scene.past:
        stood = set[str]()
        for t in range(scene.at_s + 2):
            scene.tick(bench, float(scene.at_s + t), scene.acting())
            stood |= set(bench.standing)
        assert row.id in stood
    if latches:
        scene.recover(bench)
        assert not bench.grant.heat
        assert not bench.relay.main
