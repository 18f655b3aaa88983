"""How much heat: feedback with anti-windup, feed-forward, time-proportioning. Pure."""

from controller.control.controller import Control, Plan, control
from controller.control.feedback import Feedback, Tuning, feedback
from controller.control.proportioning import Relay, Switching, proportion

__all__ = [
    "Control",
    "Feedback",
    "Plan",
    "Relay",
    "Switching",
    "Tuning",
    "control",
    "feedback",
    "proportion",
]
