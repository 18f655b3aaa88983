"""Who is told of what, now: `decide(settings, state, seen, now) -> (state, messages)`. Pure.

    facts ──► matters (since when, told to whom, acknowledged) ──► due? ──► not too soon? ──► message

Rules.
  - One event is one matter, and is told once to each recipient; what is urgent is told again, with pauses
    that double, until somebody acknowledges it or it has gone.
  - Whoever comes `after` is told of what is urgent only when it has gone unacknowledged for so long, or at
    once when nobody who comes earlier can be reached.
  - Messages of one sort to one recipient are spaced (SPACING_S), so that nothing flickers on anybody's
    phone; what falls due meanwhile goes into the next one. A person who is needed is thus told at once, and
    at the very worst within the longest spacing.
  - While there is no word from the controller, nothing is said of what stood before, and nothing forgotten.
  - What goes by itself after somebody was told, unacknowledged, is told as over, once.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import NamedTuple

from web.alerts import compose
from web.alerts.facts import Fact, Last, Now, Seen, Sort, facts, follow
from web.alerts.settings import URGENT, Kind, Recipient, Settings
from web.alerts.words import Words, over

HOUR_S = 3600.0
LONGEST_PAUSE_S = 3600.0
# The least time to the last message of the same sort to the same recipient, by how many there were within
# the last hour: at most six in an hour.
SPACING_S = (0.0, 120.0, 300.0, 600.0, 900.0, 1500.0)
# Of all the other sorts together, so many an hour. A person who is needed and a trip have spacing alone.
MOST_OTHERS_AN_HOUR = 8
# What bounds one recipient's messages in an hour: six of a person, six of trips, and the others.
MOST_AN_HOUR = 6 + 6 + MOST_OTHERS_AN_HOUR
SORTS: tuple[Sort, ...] = ("trip", "person", "lost", "alarm", "pour", "finished", "over")
FREE: tuple[Sort, ...] = ("trip", "person")
# Without a frame only these can be told: nobody knows whether the others still stand.
WITHOUT_FRAME: tuple[Sort, ...] = ("lost",)


class Told(NamedTuple):
    """That a recipient was told: how often, and when last."""

    to: str
    times: int
    last_s: float


class Sent(NamedTuple):
    """One message that went out."""

    to: str
    sort: Sort
    at_s: float


@dataclass(frozen=True, slots=True)
class Matter:
    """One event: what it is, since when, who was told. `told_only`: of its end, only who knows of it."""

    key: str
    kind: Kind
    sort: Sort
    words: Words
    since_utc_s: float
    noticed_s: float
    wait_s: float
    tell: bool = True
    acknowledged: bool = False
    told: tuple[Told, ...] = ()
    only: tuple[str, ...] | None = None

    @property
    def repeats(self) -> bool:
        """Whether it is told again until it is acknowledged."""
        return self.kind in URGENT and self.sort != "over"

    def told_to(self, name: str) -> Told | None:
        """Return when a recipient was told, or None."""
        return next((told for told in self.told if told.to == name), None)


@dataclass(frozen=True, slots=True)
class State:
    """All that is remembered from one second to the next."""

    matters: tuple[Matter, ...] = ()
    sent: tuple[Sent, ...] = ()
    last: Last = field(default_factory=Last)


class Message(NamedTuple):
    """One message to one recipient. `keys`: the matters that it tells."""

    to: str
    sort: Sort
    title: str
    body: str
    keys: tuple[str, ...]


def decide(settings: Settings, state: State, seen: Seen, now: Now) -> tuple[State, tuple[Message, ...]]:
    """Return the state after this moment, and what is to be sent."""
    last = follow(state.last, seen.frame, settings) if seen.frame is not None else state.last
    matters = _merge(state.matters, facts(last, seen, settings, now), seen, now)
    state = State(matters, _recent(state.sent, now), last)
    messages: list[Message] = []
    for recipient in settings.to:
        for sort in SORTS:
            state, more = _tell(settings, state, recipient, sort, seen, now)
            messages += more
    return replace(state, matters=_without_done(state.matters, settings)), tuple(messages)


def _recent(sent: tuple[Sent, ...], now: Now) -> tuple[Sent, ...]:
    return tuple(one for one in sent if 0.0 <= now.mono_s - one.at_s < HOUR_S)


def _merge(known: tuple[Matter, ...], found: tuple[Fact, ...], seen: Seen, now: Now) -> tuple[Matter, ...]:
    """Bring the matters up to date with what stands."""
    before = {matter.key: matter for matter in known}
    standing = {fact.key: _standing(before.get(fact.key), fact, now) for fact in found}
    stays = {key: matter for key, matter in before.items() if key not in standing and _stays(matter, seen)}
    gone = [matter for key, matter in before.items() if key not in standing and key not in stays]
    ended = {f"over/{matter.key}": _ended(matter, now) for matter in gone if _is_missed(matter, standing)}
    merged = {**stays, **ended, **standing}
    return tuple(
        replace(matter, acknowledged=True) if key in seen.acknowledged else matter
        for key, matter in merged.items()
    )


def _standing(known: Matter | None, fact: Fact, now: Now) -> Matter:
    if known is None:
        return Matter(
            fact.key, fact.kind, fact.sort, fact.words, fact.since_utc_s, now.mono_s, fact.wait_s,
            fact.told, fact.acknowledged,
        )  # fmt: skip
    acknowledged = known.acknowledged or fact.acknowledged
    return replace(known, words=fact.words, tell=fact.told, acknowledged=acknowledged)


def _stays(matter: Matter, seen: Seen) -> bool:
    """Return whether a matter of which this moment says nothing is kept."""
    return matter.sort == "over" or (seen.frame is None and matter.sort not in WITHOUT_FRAME)


def _is_missed(matter: Matter, standing: dict[str, Matter]) -> bool:
    """Return whether somebody waits to hear that a matter is over. Not what tripped or was shelved."""
    if matter.sort not in ("alarm", "lost") or not matter.told or matter.acknowledged:
        return False
    _, _, row = matter.key.partition("/")
    return not row or (f"trip/{row}" not in standing and f"shelved/{row}" not in standing)


def _ended(matter: Matter, now: Now) -> Matter:
    return Matter(
        f"over/{matter.key}", matter.kind, "over", over(matter.words.title), matter.since_utc_s, now.mono_s,
        0.0, only=tuple(told.to for told in matter.told),
    )  # fmt: skip


def _tell(
    settings: Settings, state: State, recipient: Recipient, sort: Sort, seen: Seen, now: Now
) -> tuple[State, list[Message]]:
    """Tell a recipient everything of one sort that is due, in one message, unless it is too soon."""
    due = [m for m in state.matters if m.sort == sort and _is_due(settings, m, recipient, seen, now)]
    if not due or not _may(state.sent, recipient.name, sort, now):
        return state, []
    title, body = compose.message(settings, state.last.kiln, due, recipient, seen.frame, now)
    keys = tuple(matter.key for matter in due)
    matters = tuple(_noted(m, recipient.name, now) if m.key in keys else m for m in state.matters)
    sent = (*state.sent, Sent(recipient.name, sort, now.mono_s))
    return replace(state, matters=matters, sent=sent), [Message(recipient.name, sort, title, body, keys)]


def _noted(matter: Matter, name: str, now: Now) -> Matter:
    known = matter.told_to(name)
    others = tuple(told for told in matter.told if told.to != name)
    return replace(matter, told=(*others, Told(name, known.times + 1 if known else 1, now.mono_s)))


def _is_due(settings: Settings, matter: Matter, recipient: Recipient, seen: Seen, now: Now) -> bool:
    if not matter.tell or matter.acknowledged or not _concerns(matter, recipient):
        return False
    if seen.frame is None and matter.sort not in WITHOUT_FRAME:
        return False
    told = matter.told_to(recipient.name)
    if told is not None:
        return matter.repeats and now.mono_s - told.last_s >= pause_s(settings, told.times)
    if _waits(settings, matter, now):
        return False
    return now.mono_s - matter.noticed_s >= matter.wait_s + after_s(settings, matter, recipient, seen)


def _concerns(matter: Matter, recipient: Recipient) -> bool:
    if matter.only is not None:
        return recipient.name in matter.only
    return matter.kind in recipient.kinds and (matter.repeats or recipient.after_s == 0.0)


def _waits(settings: Settings, matter: Matter, now: Now) -> bool:
    """Return whether a matter that can wait is to wait: in the quiet hours. What is urgent never can."""
    minute = (now.utc_s + now.offset_s) % 86400.0 / 60.0
    can_wait = matter.kind in settings.can_wait and matter.kind not in URGENT
    return can_wait and settings.quiet is not None and settings.quiet.holds_at(minute)


def pause_s(settings: Settings, times: int) -> float:
    """Return the pause after the n-th telling of one matter: each is twice the last, to an hour."""
    return min(LONGEST_PAUSE_S, settings.repeat_s * 2.0 ** min(times - 1, 10))


def after_s(settings: Settings, matter: Matter, recipient: Recipient, seen: Seen) -> float:
    """Return how long a recipient is spared: not at all when nobody who comes earlier can be reached."""
    earlier = [one for one in settings.to if one.after_s < recipient.after_s and matter.kind in one.kinds]
    reached = [one for one in earlier if one.name not in seen.failing]
    return recipient.after_s if reached or not earlier else 0.0


def _may(sent: tuple[Sent, ...], name: str, sort: Sort, now: Now) -> bool:
    """Return whether the last message of this sort to this recipient is long enough ago."""
    mine = [one.at_s for one in sent if one.to == name and one.sort == sort]
    if mine and now.mono_s - max(mine) < SPACING_S[min(len(mine), len(SPACING_S) - 1)]:
        return False
    others = [one for one in sent if one.to == name and one.sort not in FREE]
    return sort in FREE or len(others) < MOST_OTHERS_AN_HOUR


def _without_done(matters: tuple[Matter, ...], settings: Settings) -> tuple[Matter, ...]:
    """Forget the ends of matters that all who waited for them have heard of, or that nobody can be told."""
    names = {recipient.name for recipient in settings.to}
    return tuple(
        matter
        for matter in matters
        if matter.sort != "over"
        or any(name in names and not matter.told_to(name) for name in matter.only or ())
    )
