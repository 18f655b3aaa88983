"""A kiln reduced to what its record can tell: six lumps, one lag of the thermocouple, one dead time.

Elements, chamber (the lining's hot face and the air), two deeper layers of lining, and the load; heat goes
from the elements by radiation and convection, through the lining to the room, and out with the air. The
air thermocouple follows the chamber and, by a small part, the elements that it sees.

`step` works on plain floats, and as well on numpy arrays of many kilns at once (that is how a fit gets its
derivatives). Every decay is exp(-x) in its implicit form 1/(1 + x + x^2/2): calm at any step.
"""

from __future__ import annotations

from math import inf
from typing import Any, NamedTuple

from controller.physics.constants import STEFAN_BOLTZMANN_W_PER_M2_K4, ZERO_C_IN_K


class GreyKiln(NamedTuple):
    """A kiln's numbers. Conductances in W/K, radiating areas with view and emissivity in them in m2."""

    power_w: float
    """At full heat."""
    elements_j_per_k: float
    elements_w_per_k: float
    """Convection from the elements to the chamber."""
    elements_m2: float
    """Radiation from the elements to the chamber."""
    chamber_j_per_k: float
    vent_w_per_k: float
    """From the chamber straight to the room: with the air that passes through."""
    face_w_per_k: float
    """From the chamber into the lining's inner layer."""
    inner_j_per_k: float
    between_w_per_k: float
    """From the lining's inner to its outer layer."""
    outer_j_per_k: float
    room_w_per_k: float
    """From the outer layer to the room."""
    load_j_per_k: float
    load_w_per_k: float
    load_m2: float
    """Radiation from the chamber to the load."""
    probe_s: float
    """Lag of the air thermocouple."""
    sees_elements: float
    """How far the air thermocouple is ruled by the elements, 0 to 1."""
    dead_s: float
    """From switching to the first effect."""
    room_c: float = 20.0


TYPICAL = GreyKiln(
    6500.0, 1500.0, 5.0, 0.24, 20e3, 0.5, 8.0, 50e3, 7.0, 75e3, 9.0, 11e3, 3.0, 0.18, 25.0, 0.07, 2.0
)
"""A small front-loading kiln: of `KilnParameters`' order of size. Where a fit starts, and a first firing."""

SAME_AT_ANY_POWER = ("probe_s", "sees_elements", "dead_s", "room_c")
PER_POWER = tuple(name for name in GreyKiln._fields if name not in SAME_AT_ANY_POWER)
"""What a bigger kiln has more of, in proportion to its power."""


def typical(power_w: float) -> GreyKiln:
    """Return the kiln to begin with where only its power (W) is known."""
    share = power_w / TYPICAL.power_w
    return TYPICAL._replace(**{name: getattr(TYPICAL, name) * share for name in PER_POWER})


class GreyState(NamedTuple):
    """Temperatures (C). `probe_c` is what the air thermocouple shows."""

    elements_c: Any
    chamber_c: Any
    inner_c: Any
    outer_c: Any
    load_c: Any
    probe_c: Any


def at_rest(c: float) -> GreyState:
    """Return a kiln that has long stood at `c` (C)."""
    return GreyState(c, c, c, c, c, c)


def radiation_w_per_k(m2: Any, hot_c: Any, cold_c: Any) -> Any:
    """Return the conductance (W/K) by radiation between two temperatures (C)."""
    hot_k, cold_k = hot_c + ZERO_C_IN_K, cold_c + ZERO_C_IN_K
    return STEFAN_BOLTZMANN_W_PER_M2_K4 * m2 * (hot_k * hot_k + cold_k * cold_k) * (hot_k + cold_k)


def _left(x: Any) -> Any:
    """What is left of a difference after `x` time constants."""
    return 1.0 / (1.0 + x + 0.5 * x * x)


def step(state: GreyState, kiln: GreyKiln, power_w: Any, dt_s: float, extra_w: Any = 0.0) -> GreyState:
    """Return the state `dt_s` later. `power_w`: mean power; `extra_w`: other heat into the chamber.

    Steps of up to 30 s keep a small kiln's curve within a tenth of a kelvin on a ramp.
    """
    elements, chamber, inner, outer, load, probe = state
    saw = chamber + kiln.sees_elements * (elements - chamber)
    to_chamber = kiln.elements_w_per_k + radiation_w_per_k(kiln.elements_m2, elements, chamber)
    to_load = kiln.load_w_per_k + radiation_w_per_k(kiln.load_m2, chamber, load)

    ends_c = chamber + power_w / to_chamber
    after = ends_c + (elements - ends_c) * _left(to_chamber * dt_s / kiln.elements_j_per_k)
    given_w = power_w - kiln.elements_j_per_k * (after - elements) / dt_s
    load_after = chamber + (load - chamber) * _left(to_load * dt_s / kiln.load_j_per_k)
    load_w = kiln.load_j_per_k * (load_after - load) / dt_s
    face_w = kiln.face_w_per_k * (chamber - inner)
    between_w = kiln.between_w_per_k * (inner - outer)
    room_w = kiln.room_w_per_k * (outer - kiln.room_c)
    vent_w = kiln.vent_w_per_k * (chamber - kiln.room_c)
    chamber = chamber + dt_s / kiln.chamber_j_per_k * (given_w + extra_w - load_w - face_w - vent_w)
    inner = inner + dt_s / kiln.inner_j_per_k * (face_w - between_w)
    outer = outer + dt_s / kiln.outer_j_per_k * (between_w - room_w)
    sees = chamber + kiln.sees_elements * (after - chamber)
    between = 0.5 * (saw + sees)
    probe = between + (probe - between) * _left(dt_s / kiln.probe_s)
    return GreyState(after, chamber, inner, outer, load_after, probe)


def through_lining_w_per_k(kiln: GreyKiln) -> float:
    """Return what a kelvin between chamber and room costs in the long run, W/K, air included."""
    lining = 1.0 / (1.0 / kiln.face_w_per_k + 1.0 / kiln.between_w_per_k + 1.0 / kiln.room_w_per_k)
    return lining + kiln.vent_w_per_k


def holding_power_w(kiln: GreyKiln, at_c: float) -> float:
    """Return the power (W) that holds a kiln at `at_c` in the long run; it may exceed the kiln's own."""
    return through_lining_w_per_k(kiln) * (at_c - kiln.room_c)


def highest_c(kiln: GreyKiln) -> float:
    """Return the temperature (C) at which full heat just holds the kiln; infinite where nothing is lost."""
    loses = through_lining_w_per_k(kiln)
    return kiln.room_c + kiln.power_w / loses if loses > 0.0 else inf


class Linear(NamedTuple):
    """A kiln near one temperature: `gain_k` (K at full duty), lags `tau_s` and `second_s`, dead time."""

    gain_k: float
    tau_s: float
    second_s: float
    dead_s: float


def linear(kiln: GreyKiln, at_c: float) -> Linear:
    """Return the kiln's quick behaviour near `at_c` (C), as feedback meets it within some minutes.

    The chamber and the elements are what is warmed at first; the load takes part by as much of it as
    follows within a few minutes (`QUICK_S`), the lining as a loss. The elements' lag is lessened by the
    quicker way by which the thermocouple sees them.
    """
    to_chamber = kiln.elements_w_per_k + radiation_w_per_k(kiln.elements_m2, at_c, at_c)
    to_load = kiln.load_w_per_k + radiation_w_per_k(kiln.load_m2, at_c, at_c)
    follows = QUICK_S / (QUICK_S + kiln.load_j_per_k / to_load)
    stored = kiln.chamber_j_per_k + kiln.elements_j_per_k + follows * kiln.load_j_per_k
    loses = kiln.face_w_per_k + kiln.vent_w_per_k
    elements_s = kiln.elements_j_per_k / to_chamber
    seen_s = kiln.sees_elements * kiln.chamber_j_per_k / to_chamber
    lags = sorted((kiln.probe_s, max(0.0, elements_s - seen_s)))
    # The half rule: the smaller lag goes half to the greater one, half to the dead time.
    return Linear(kiln.power_w / loses, stored / loses, lags[1] + 0.5 * lags[0], kiln.dead_s + 0.5 * lags[0])


QUICK_S = 200.0
"""Feedback on a kiln acts within about so long. Chosen."""
