"""What stands now and may have to be told: from the newest frame, or from its absence. Pure.

A fact has a key: the page makes the same keys from the same frames (static/calling/calling.js), and a fact
with the key of one that was there before is the same event. Times named `_s` are seconds of the wall; what a
frame says in the kiln's seconds is divided by its speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, NamedTuple

from controller.live import CUT_SHORT, Alarm, Frame
from web.alerts import words
from web.alerts.ready import Ready, counts
from web.alerts.settings import Kind, Settings
from web.alerts.words import Words

# How messages are spaced: each sort by itself. A trip is an alarm that nothing may delay.
Sort = Literal["trip", "person", "lost", "alarm", "pour", "finished", "over"]
ENDED = ("complete", "aborted", "stopped")
REACTIONS: dict[str, Sort] = {"hold": "alarm", "cut": "alarm", "trip": "trip"}
# A firing that was cut short may resume by itself as soon as the kiln has been read.
CUT_SHORT_AFTER_S = 30.0
# After it was told, 'pour soon' stands until the pour is this much further off than the lead time: an
# estimate that moves to and fro tells nothing twice.
POUR_SLACK_S = 1200.0
# An open door while a person is at a stop is that person at work.
PERSON_AT_WORK = frozenset({"door"})


class Now(NamedTuple):
    """The time. `offset_s`: the kiln's computer's local time less UTC."""

    mono_s: float
    utc_s: float
    offset_s: float = 0.0


class Seen(NamedTuple):
    """What there is to judge. `frame` None: no word from the controller for `silent_s`.

    `melting_s`: how long the job's metal takes, where its sheet says so. `failing`: recipients whom
    messages do not reach. `acknowledged`: keys of what a person on the page has seen. `ready`: when the
    shell will be ready, by the forecast.
    """

    frame: Frame | None
    silent_s: float = 0.0
    melting_s: float | None = None
    failing: frozenset[str] = frozenset()
    acknowledged: frozenset[str] = frozenset()
    ready: Ready | None = None


@dataclass(frozen=True, slots=True)
class Underway:
    """The firing that was last seen open, and the state in which it was last seen."""

    number: int
    title: str
    state: str


@dataclass(frozen=True, slots=True)
class Last:
    """What is remembered of the last frame. `matters`: whether silence after it has to be told."""

    kiln: str = ""
    words: str = ""
    matters: bool = False
    firing: Underway | None = None


class Fact(NamedTuple):
    """One thing that stands. `wait_s`: for how long it must have stood before it is told."""

    key: str
    kind: Kind
    sort: Sort
    words: Words
    since_utc_s: float
    wait_s: float = 0.0
    acknowledged: bool = False
    told: bool = True


def follow(last: Last, frame: Frame, settings: Settings) -> Last:
    """Remember a frame."""
    return Last(
        kiln=f"Simulation, {frame['kiln']}" if frame["simulated"] else frame["kiln"],
        words=words.last_seen(frame),
        matters=wanted(frame, settings) and (is_open(frame) or any(map(_unseen_trip, frame["alarms"]))),
        firing=_underway(last.firing, frame),
    )


def wanted(frame: Frame, settings: Settings) -> bool:
    """Return whether this kiln is to be told of at all: a simulated one only if asked."""
    return settings.simulated or not frame["simulated"]


def is_open(frame: Frame) -> bool:
    """Return whether a firing is under way."""
    return frame["state"] != "idle" and frame["state"] not in ENDED


def presses(alarm: Alarm) -> bool:
    """Return whether an alarm stands and holds the firing or the heat back."""
    return alarm["state"] not in ("returned to normal", "shelved") and alarm["reaction"] in REACTIONS


def _unseen_trip(alarm: Alarm) -> bool:
    return alarm["reaction"] == "trip" and alarm["state"] == "unacknowledged"


def _underway(known: Underway | None, frame: Frame) -> Underway | None:
    if frame["firing"] is not None and is_open(frame):
        return Underway(frame["firing"], frame["title"], frame["state"])
    if known is None or (frame["state"] == "idle" and known.state in ENDED):
        return None
    return Underway(known.number, known.title, frame["state"])


def facts(last: Last, seen: Seen, settings: Settings, now: Now) -> tuple[Fact, ...]:
    """Return what stands. `last` has followed the frame already. Without a frame: whether it is lost."""
    frame = seen.frame
    if frame is None:
        return _lost(last, seen, settings, now)
    if not wanted(frame, settings):
        return ()
    found = [*_alarms(frame, settings, now), *_person(frame, now), *_finished(last, frame, now)]
    return (*found, *_pour(frame, seen, settings, now))


def _lost(last: Last, seen: Seen, settings: Settings, now: Now) -> tuple[Fact, ...]:
    if not last.matters or seen.silent_s < settings.lost_after_s:
        return ()
    return (Fact("lost", "lost", "lost", words.lost(last.words), now.utc_s - seen.silent_s),)


def _alarms(frame: Frame, settings: Settings, now: Now) -> list[Fact]:
    found = [_alarm(each, frame, settings, now) for each in frame["alarms"] if presses(each)]
    return found + [_shelved(each, now) for each in frame["alarms"] if each["state"] == "shelved"]


def _shelved(alarm: Alarm, now: Now) -> Fact:
    """A person has put it aside for a while: it is not told, nor is it over. Afterwards it is told anew."""
    said = words.alarm("hold", alarm["says"], alarm["do"])
    return Fact(f"shelved/{alarm['id']}", "alarm", "alarm", said, now.utc_s, acknowledged=True, told=False)


def _alarm(alarm: Alarm, frame: Frame, settings: Settings, now: Now) -> Fact:
    sort = REACTIONS[alarm["reaction"]]
    at_work = frame["person"] is not None and alarm["id"] in PERSON_AT_WORK
    return Fact(
        f"{sort}/{alarm['id']}",
        "alarm",
        sort,
        words.alarm(alarm["reaction"], alarm["says"], alarm["do"]),
        _utc_s(alarm["since_utc"], now) if frame["speed"] == 1.0 else now.utc_s,
        wait_s=0.0 if sort == "trip" else settings.alarm_after_s,
        acknowledged=alarm["state"] == "acknowledged",
        told=sort == "trip" or (is_open(frame) and not at_work),
    )


def _utc_s(iso: str, now: Now) -> float:
    try:
        return min(now.utc_s, datetime.fromisoformat(iso).timestamp())
    except ValueError:
        return now.utc_s


def _person(frame: Frame, now: Now) -> list[Fact]:
    needed, stage = frame["person"], frame["stage"]
    if needed is not None:
        key = f"person/{frame['firing']}/{stage['index'] if stage else 0}"
        since_utc_s = now.utc_s - needed["waited_s"] / frame["speed"]
        return [Fact(key, "person", "person", words.person(frame), since_utc_s)]
    if frame["state"] == "held" and frame["waiting"] == CUT_SHORT:
        key = f"cut-short/{frame['firing']}"
        return [Fact(key, "person", "person", words.cut_short(frame), now.utc_s, wait_s=CUT_SHORT_AFTER_S)]
    return []


def _finished(last: Last, frame: Frame, now: Now) -> list[Fact]:
    """A firing that has ended, unless a trip ended it: that is told as the alarm that it is."""
    firing = last.firing
    tripped = any(presses(each) and each["reaction"] == "trip" for each in frame["alarms"])
    if firing is None or is_open(frame) or (firing.state == "aborted" and tripped):
        return []
    said = words.finished(firing.state, firing.number, firing.title)
    return [Fact(f"finished/{firing.number}", "finished", "finished", said, now.utc_s)]


def _pour(frame: Frame, seen: Seen, settings: Settings, now: Now) -> list[Fact]:
    """The pour, and the moment to light the furnace for it, once they are near."""
    pour = frame["pour"]
    if pour is None or not pour["in_s"]:
        return []
    in_s, says = _when(frame, pour["in_s"], seen.ready, now)
    melting_s = seen.melting_s or settings.melting_s
    said = words.pour_soon(in_s, says, _stop_before(frame, pour["in_s"]))
    found = [_coming("pour", frame, now, in_s - settings.pour_soon_s, said)]
    if melting_s is not None:
        lit = words.light_furnace(melting_s, in_s, says)
        found.append(_coming("furnace", frame, now, in_s - melting_s, lit))
    return [fact for fact in found if fact is not None]


def _when(frame: Frame, plan_s: float, ready: Ready | None, now: Now) -> tuple[float, str]:
    """Return in how many seconds the shell is ready, and that in words: by the forecast, else by the plan."""

    def clock(in_s: float) -> str:
        return words.clock(now.utc_s + in_s, now.offset_s)

    if ready is None or not counts(ready, frame):
        in_s = plan_s / frame["speed"]
        return in_s, words.by_plan(clock(in_s))
    low_s, in_s, high_s = (max(0.0, (s - frame["mono_s"]) / frame["speed"]) for s in ready[2:])
    return in_s, words.by_forecast(clock(in_s), clock(low_s), clock(high_s))


def _stop_before(frame: Frame, pour_in_s: float) -> str:
    """Return the name of a stop at which a person is needed before the pour; empty when there is none."""
    stop = frame["stop"]
    return stop["name"] if stop is not None and (stop["in_s"] or 0.0) < pour_in_s else ""


def _coming(name: str, frame: Frame, now: Now, too_early_s: float, said: Words) -> Fact | None:
    """Something that comes. While the schedule waits, nobody can say when: it is not told, nor forgotten."""
    if too_early_s > POUR_SLACK_S:
        return None
    moving = frame["state"] == "running" and frame["person"] is None
    told = moving and too_early_s <= 0.0
    return Fact(f"{name}/{frame['firing']}", "pour", "pour", said, now.utc_s, told=told)
