"""How much heat: feed-forward, feedback with anti-windup, time-proportioning. Pure."""

from controller.control.ahead import GRID_K, KnownKiln
from controller.control.controller import Control, Plan, anew, control
from controller.control.feedback import Feedback, Tuning, feedback
from controller.control.proportioning import Relay, Switching, proportion
from controller.control.tuning import Lags, half_rule, parallel, simc, tuning

__all__ = [
    "GRID_K",
    "Control",
    "Feedback",
    "KnownKiln",
    "Lags",
    "Plan",
    "Relay",
    "Switching",
    "Tuning",
    "anew",
    "control",
    "feedback",
    "half_rule",
    "parallel",
    "proportion",
    "simc",
    "tuning",
]
