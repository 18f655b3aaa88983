"""Whatever a kiln does, however it flickers: nobody is flooded, and a person who is needed is always told."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from hypothesis import given, settings
from hypothesis import strategies as st

from controller.live import Alarm, Frame
from tests.web import invented
from tests.web.alerts.scenes import TWO, UTC_S, pour_in, with_changes
from web.alerts import kept
from web.alerts.decide import FREE, MOST_AN_HOUR, SPACING_S, Message, State, decide
from web.alerts.facts import Now, Seen
from web.alerts.settings import Quiet

ALWAYS = replace(
    TWO, melting_s=3000.0, quiet=Quiet(0, 6 * 60), can_wait=("pour", "finished"), alarm_after_s=0.0
)
LONGEST_S = max(SPACING_S)


def needed(index: int) -> Frame:
    stage = invented.checkpoint()["stage"]
    assert stage is not None
    return with_changes(invented.checkpoint(), stage={**stage, "index": index})


def alarmed(*ids: str, reaction: str = "cut", state: str = "unacknowledged") -> Frame:
    alarms: list[Alarm] = [
        {**invented.DOOR, "id": each, "reaction": reaction, "state": state}  # type: ignore[typeddict-item]
        for each in ids
    ]
    return invented.changed(alarms=alarms)


SCENES: tuple[Frame | None, ...] = (
    None, invented.idle(), invented.running(), needed(4), needed(6), needed(7), invented.held(),
    alarmed("a"), alarmed("b"), alarmed("a", "b"), alarmed("a", reaction="trip"),
    alarmed("b", reaction="trip"), alarmed("a", state="returned to normal"), invented.complete(),
    invented.tripped(), pour_in(600.0), pour_in(2400.0), pour_in(9000.0),
)  # fmt: skip


class Part(NamedTuple):
    """So many moments of one scene, so far apart; seen by a person at the first of them or not."""

    scene: Frame | None
    moments: int
    apart_s: float
    seen: bool


SCENE = st.sampled_from(SCENES)
APART_S = st.sampled_from((1.0, 7.0, 30.0, 100.0))
SEEN = st.sampled_from((False, False, False, True))
STEADY = st.lists(st.builds(Part, SCENE, st.integers(1, 40), APART_S, SEEN), max_size=30)


def flicker(one: Frame | None, other: Frame | None, times: int, moments: int, apart_s: float) -> list[Part]:
    """To and fro between two scenes."""
    return [Part(scene, moments, apart_s, False) for _ in range(times) for scene in (one, other)]


FLICKER = st.builds(flicker, SCENE, SCENE, st.integers(2, 60), st.integers(1, 4), APART_S)
# What a person has seen, and what goes on standing.
STANDS = st.builds(
    lambda scene, moments, apart_s: [Part(scene, moments, apart_s, False), Part(scene, 40, apart_s, True)],
    SCENE, st.integers(1, 40), APART_S,
)  # fmt: skip
PARTS = st.lists(st.one_of(STEADY, FLICKER, STANDS), max_size=3).map(
    lambda each: [part for some in each for part in some]
)


class Run:
    """What came of some parts: every moment's frame, keys that were seen, and messages."""

    def __init__(self, parts: list[Part], *, again: bool = False) -> None:
        self.moments: list[tuple[float, Frame | None, frozenset[str], tuple[Message, ...]]] = []
        state, now_s, silent_s = State(), 0.0, 0.0
        for part in parts:
            for moment in range(part.moments):
                now_s += part.apart_s
                silent_s = silent_s + part.apart_s if part.scene is None else 0.0
                keys = frozenset(matter.key for matter in state.matters)
                seen = keys if part.seen and moment == 0 else frozenset()
                now = Now(now_s, UTC_S + now_s, 0.0)
                if again:
                    state = kept.from_text(kept.to_text(state, now), now)
                state, messages = decide(ALWAYS, state, Seen(part.scene, silent_s, acknowledged=seen), now)
                self.moments.append((now_s, part.scene, seen, messages))

    def told(self, name: str) -> list[tuple[float, Message]]:
        return [(at_s, one) for at_s, _, _, messages in self.moments for one in messages if one.to == name]


@settings(deadline=None, max_examples=40)
@given(PARTS)
def test_nobody_gets_more_than_so_many_messages_in_any_hour(parts: list[Part]) -> None:
    run = Run(parts)
    for name in ("Ada", "Ben"):
        assert most_in_an_hour([at_s for at_s, _ in run.told(name)]) <= MOST_AN_HOUR
        for sort in FREE:
            assert most_in_an_hour([at_s for at_s, one in run.told(name) if one.sort == sort]) <= 6


def most_in_an_hour(times: list[float]) -> int:
    return max((sum(began_s <= at_s < began_s + 3600.0 for at_s in times) for began_s in times), default=0)


def test_a_stop_that_flickers_without_end_is_told_six_times_an_hour() -> None:
    """The check above can fail: this is what it would see without spacing."""
    times = [at_s for at_s, _ in Run(flicker(SCENES[3], SCENES[2], 1800, 1, 1.0)).told("Ada")]
    assert times == [1.0, 121.0, 421.0, 1021.0, 1921.0, 3421.0]


@settings(deadline=None, max_examples=40)
@given(PARTS, st.sampled_from((3, 4, 5)), st.sampled_from((10.0, 60.0)))
def test_a_person_who_is_needed_is_always_told(parts: list[Part], scene: int, apart_s: float) -> None:
    """Whatever came before: within the longest spacing, and at once when the last hour knew of none."""
    frame = SCENES[scene]
    assert frame is not None
    assert frame["stage"] is not None
    last = Part(frame, int(LONGEST_S / apart_s) + 1, apart_s, False)
    before = Run(parts)
    run = Run([*parts, last])
    began_s = (before.moments[-1][0] if before.moments else 0.0) + apart_s
    key = f"person/12/{frame['stage']['index']}"
    told = [at_s for at_s, message in run.told("Ada") if key in message.keys]
    already = bool(before.moments) and before.moments[-1][1] is not None and _stands(before, key)
    if not already:
        earlier = [at_s for at_s, one in run.told("Ada") if one.sort == "person" and at_s < began_s]
        first_s = next(at_s for at_s in told if at_s >= began_s)
        assert first_s - began_s <= (LONGEST_S if earlier and began_s - earlier[-1] < 3600.0 else 0.0)
    else:
        assert told or _was_seen(before, key)


def _stands(run: Run, key: str) -> bool:
    """Whether a person was needed for the same already, with no word of anything else since."""
    for _, frame, _, _ in reversed(run.moments):
        if frame is not None:
            return frame["person"] is not None and _key(frame) == key
    return False


def _was_seen(run: Run, key: str) -> bool:
    return any(key in seen for _, _, seen, _ in run.moments)


def _key(frame: Frame) -> str:
    assert frame["stage"] is not None
    return f"person/{frame['firing']}/{frame['stage']['index']}"


@settings(deadline=None, max_examples=40)
@given(PARTS)
def test_what_was_seen_is_told_no_more_while_it_stands(parts: list[Part]) -> None:
    seen: set[str] = set()
    for _, frame, acknowledged, messages in Run(parts).moments:
        seen |= acknowledged
        if frame is not None:  # what it does not show has gone, seen or not, and would be another event
            seen = {key for key in seen if _shows(frame, key)}
        assert not any(set(message.keys) <= seen for message in messages)


def _shows(frame: Frame, key: str) -> bool:
    sort, _, rest = key.partition("/")
    if sort == "person":
        return frame["person"] is not None and _key(frame) == key
    if sort in ("alarm", "trip"):
        return any(one["id"] == rest and one["state"] != "returned to normal" for one in frame["alarms"])
    return False


@settings(deadline=None, max_examples=20)
@given(PARTS)
def test_a_page_that_starts_anew_at_any_moment_tells_the_same(parts: list[Part]) -> None:
    assert Run(parts, again=True).moments == Run(parts).moments
