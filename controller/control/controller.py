"""How much heat: feed-forward, feedback and time-proportioning together, one pure step a tick."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from controller.control.feedback import Feedback, Tuning, feedback
from controller.control.proportioning import Relay, Switching, proportion


@dataclass(frozen=True, slots=True)
class Plan:
    """What control knows of one kiln.

    `power_w`: at full heat. `heat_capacity_j_per_k`: what has to be warmed on a ramp (0: not known).
    `loss_w_per_k`: what a kelvin above the room costs (0: not known; the integral finds it).
    """

    tuning: Tuning
    switching: Switching
    power_w: float
    heat_capacity_j_per_k: float = 0.0
    loss_w_per_k: float = 0.0
    room_c: float = 20.0


class Control(NamedTuple):
    """What control carries from tick to tick. `duty` is the last one."""

    feedback: Feedback = Feedback()
    relay: Relay = Relay()
    duty: float = 0.0


def control(
    state: Control,
    plan: Plan,
    setpoint_c: float | None,
    slope_c_per_h: float,
    air_c: float | None,
    was_granted: bool,
    dt_s: float,
) -> tuple[Control, bool]:
    """Return the next state and whether heat is proposed for the coming tick.

    `setpoint_c` or `air_c` None: no heat, and the integral waits as it is. `was_granted`: whether the
    last tick's heat was granted.
    """
    if setpoint_c is None or air_c is None:
        relay, _ = proportion(state.relay, plan.switching, 0.0, was_granted, dt_s)
        return Control(Feedback(state.feedback.integral), relay._replace(on=False), 0.0), False
    ahead_w = plan.heat_capacity_j_per_k * slope_c_per_h / 3600.0 + plan.loss_w_per_k * (
        setpoint_c - plan.room_c
    )
    carried = state.feedback
    if state.relay.on and not was_granted:
        # Heat is being refused: what the integral learns from that would be wrong.
        duty_state, duty = feedback(carried, plan.tuning, setpoint_c, air_c, ahead_w / plan.power_w, dt_s)
        duty_state = duty_state._replace(integral=min(carried.integral, duty_state.integral))
    else:
        duty_state, duty = feedback(carried, plan.tuning, setpoint_c, air_c, ahead_w / plan.power_w, dt_s)
    relay, wanted = proportion(state.relay, plan.switching, duty, was_granted, dt_s)
    return Control(duty_state, relay, duty), wanted
