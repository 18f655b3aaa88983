"""Frames of an invented firing, one function a scene. Nothing in them was measured anywhere."""

from __future__ import annotations

from typing import Any

from controller.live import Alarm, Frame

SAYS = (
    "Heat is off. Look for cracks, brush slurry on them while the shell is hot, drain the plastic. "
    "Release when the door is shut again."
)
DOOR: Alarm = {
    "id": "door",
    "says": "The door is open (contact door off)",
    "do": "Shut the door. Heat comes back by itself.",
    "reaction": "cut",
    "state": "unacknowledged",
    "since_utc": "2031-03-04T02:11:20Z",
    "first_out": False,
    "can_shelve": True,
}
TRIP: Alarm = {
    "id": "ceiling",
    "says": "Hotter than the kiln's ceiling (limit 1153.2 C, ceiling 1150 C)",
    "do": "Open the main contactor by hand, find out why, then clear the trip at the kiln.",
    "reaction": "trip",
    "state": "unacknowledged",
    "since_utc": "2031-03-04T02:11:20Z",
    "first_out": True,
}


def idle() -> Frame:
    """Nothing is running; the kiln is nearly cold."""
    return {
        "n": 1,
        "mono_s": 1000.0,
        "utc": "2031-03-04T02:10:00Z",
        "speed": 1.0,
        "kiln": "Shed kiln",
        "simulated": False,
        "ceiling_c": 1150.0,
        "firing": None,
        "state": "idle",
        "title": "",
        "started_utc": None,
        "elapsed_s": 0.0,
        "stage": None,
        "next": None,
        "stop": None,
        "pour": None,
        "end": None,
        "setpoint_c": None,
        "load_setpoint_c": None,
        "air": {"c": 31.4, "fault": None, "age_s": 0.1},
        "load": {"c": 29.0, "fault": None, "age_s": 0.1},
        "limit": {"c": 30.2, "fault": None, "age_s": 0.1},
        "duty": 0.0,
        "heat_on": False,
        "lease_s": 0.0,
        "person": None,
        "waiting": None,
        "alarms": [],
        "plan": [],
        "can": ["start"],
        "late_ticks": 0,
        "tick_s": 1.0,
    }


def running() -> Frame:
    """The third stage of nine: burning out, two hours and a bit in."""
    return _with(
        idle(),
        firing=12,
        state="running",
        title="Printed PLA in nine-coat silica shell",
        started_utc="2031-03-03T21:00:00Z",
        elapsed_s=8160.0,
        stage={
            "index": 2,
            "count": 9,
            "name": "burn out",
            "kind": "ramp",
            "elapsed_s": 2400.0,
            "left_s": 4320.0,
            "target_c": 550.0,
        },
        next={"name": "soak", "kind": "hold", "in_s": 4320.0},
        stop={"name": "patch and drain", "kind": "checkpoint", "in_s": 11520.0},
        pour={"name": "keep for the pour", "kind": "hold", "in_s": 27600.0},
        end={"name": "end", "kind": "end", "in_s": 34800.0},
        setpoint_c=412.0,
        air={"c": 408.6, "fault": None, "age_s": 0.1},
        load={"c": 377.1, "fault": None, "age_s": 0.1},
        limit={"c": 411.0, "fault": None, "age_s": 0.1},
        duty=0.43,
        heat_on=True,
        lease_s=3.0,
        plan=PLAN,
        can=["hold", "stop", "abort"],
    )


def changed(**changes: Any) -> Frame:
    """The running scene with other values."""
    return _with(running(), **changes)


def checkpoint() -> Frame:
    """A person is needed."""
    return _with(
        running(),
        stage={
            "index": 4,
            "count": 9,
            "name": "patch and drain",
            "kind": "checkpoint",
            "elapsed_s": 762.0,
            "left_s": None,
            "target_c": None,
        },
        setpoint_c=None,
        air={"c": 151.0, "fault": None, "age_s": 0.1},
        load={"c": 149.2, "fault": None, "age_s": 0.1},
        limit={"c": 151.8, "fault": None, "age_s": 0.1},
        duty=0.0,
        heat_on=False,
        next={"name": "burn out", "kind": "ramp", "in_s": 1938.0},
        stop=None,
        pour={"name": "keep for the pour", "kind": "hold", "in_s": 19938.0},
        end={"name": "end", "kind": "end", "in_s": 27138.0},
        person={"says": SAYS, "waited_s": 762.0},
        can=["hold", "release", "stop", "abort"],
    )


def alarm() -> Frame:
    """The door stands open while running."""
    return _with(
        running(), alarms=[DOOR], heat_on=False, waiting="The schedule waits for the guard: see the alarms."
    )


def held() -> Frame:
    """A person has put the firing on hold."""
    return _with(running(), state="held", can=["restart", "stop", "abort"])


def tripped() -> Frame:
    """The guard has tripped, and the firing is aborted."""
    return _with(aborted(), alarms=[TRIP])


def aborted() -> Frame:
    """The firing was aborted; the record has closed it."""
    return _ended("aborted")


def complete() -> Frame:
    """The firing is complete."""
    return _ended("complete")


def pouring() -> Frame:
    """The shell is ready and hot; the widest numbers that the page must hold."""
    return _with(
        checkpoint(),
        stage={
            "index": 7,
            "count": 9,
            "name": "keep for the pour",
            "kind": "hold",
            "elapsed_s": 1260.0,
            "left_s": None,
            "target_c": 1093.0,
        },
        setpoint_c=1093.0,
        air={"c": 1092.7, "fault": None, "age_s": 0.1},
        load={"c": 1089.9, "fault": None, "age_s": 0.1},
        limit={"c": 1094.1, "fault": None, "age_s": 0.1},
        person={
            "says": "The shell is ready for the pour. Release this stage when it is out of the kiln.",
            "waited_s": 1260.0,
        },
        pour={"name": "keep for the pour", "kind": "hold", "in_s": 0.0},
        speed=144.0,
        simulated=True,
    )


def curve(until_s: float = 8160.0, firing: int = 12) -> dict[str, Any]:
    """A measured curve as the page's server gives it."""
    t_s = [float(t) for t in range(0, int(until_s), 60)]
    setpoint_c = [_planned(t) for t in t_s]
    return {
        "firing": firing,
        "mono_0_s": 100_000.0,
        "t_s": t_s,
        "setpoint_c": setpoint_c,
        "air_c": [c - 3.0 + (t % 7) * 0.4 for c, t in zip(setpoint_c, t_s, strict=True)],
        "load_c": [_planned(t - 360.0) for t in t_s],
        "says": "",
    }


PLAN = [
    (0.0, 412.0), (4320.0, 550.0), (11520.0, 550.0), (13320.0, 420.0), (22000.0, 815.0), (27600.0, 815.0),
    (34800.0, 815.0),
]  # fmt: skip


def _planned(t_s: float) -> float:
    """A ramp, a hold, a ramp."""
    return 25.0 + 125.0 * min(max(0.0, t_s), 3000.0) / 3000.0 + max(0.0, t_s - 5400.0) * 262.0 / 2760.0


def _ended(state: str) -> Frame:
    return _with(
        running(),
        firing=None,
        state=state,
        stage=None,
        next=None,
        stop=None,
        pour=None,
        end=None,
        setpoint_c=None,
        duty=0.0,
        heat_on=False,
        plan=[],
        can=["reset"],
    )


def _with(frame: Frame, **changes: Any) -> Frame:
    return Frame(**{**frame, **changes})  # type: ignore[typeddict-item]
