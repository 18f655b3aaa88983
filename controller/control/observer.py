"""What a thermocouple stands for: an observer that knows the kiln, and which heat it was really given.

It carries elements, chamber and thermocouple along by the known kiln, and is put right by what was measured.
What the kiln does beside all that is known (water that boils off, plastic that burns, a door, losses that are
not quite so) is one more state, an unknown heat: it is found as an integral would find it, but from the heat
that was really given, so nothing winds up at full heat, at none, or while the guard refuses it.

The gains put all three poles at one place, `OBSERVES_S`. For thermocouple, chamber and unknown heat behind
each other,

    p' = (c - p) / tau + k1 e,    c' = P h / C - a c + k2 e,    h' = k3 e,    e = measured - p

the characteristic polynomial is (s + 1/OBSERVES_S)^3 with the k1, k2, k3 in `_gains`. (An extended state
observer in the bandwidth form: Z. Gao, 'Scaling and bandwidth-parameterization based controller tuning',
American Control Conference 2003; from memory.)

A contactor's switching swings the kiln by more than the noise does. What it swings by is known as well
(`Swing`), and is taken out of what feedback sees: else feedback answers to its own relay, every other pulse
is long and every other short, and the kiln swings twice as far.
"""

from __future__ import annotations

from typing import NamedTuple

from controller.control.ahead import Ahead, KnownKiln, radiates_w_per_k

OBSERVES_S = 30.0
"""Quicker, and it takes noise for heat; slower, and it comes late. Chosen on the bench's development kilns,
where 25 to 35 s differ little."""

ASTRAY_K, MOST_UNKNOWN = 30.0, 1.0
"""An observer that is so far off its thermocouple, or has to think of more heat than all that its elements
give, has lost the kiln (the model is another's, or a door was opened) and begins anew: else it may swing ever
wider, and end where there are no numbers. Chosen: a kiln that it knows keeps within 2 K, and a quarter."""

SHORTEST_TICK_S = 0.1
"""What is brought forward (an abort) may come at once after a tick: no lag is counted in shorter ones."""

SWING_CYCLES = 2.0
"""For so many cycles what switching did is remembered. Longer, and the mean of what is owed (it is not quite
nought) would be held to be a swing. Chosen likewise."""


class Swing(NamedTuple):
    """By how much elements, chamber and thermocouple (K) are off from where even heat would have them."""

    elements_k: float = 0.0
    chamber_k: float = 0.0
    probe_k: float = 0.0


NO_SWING = Swing()


class Observed(NamedTuple):
    """The kiln as it must be (C). `unknown`: heat that is not accounted for, as a part of full power.

    `given`, `uneven_s`: the heat of the last ticks, newest first, and by how many seconds it was more than
    asked for: as many as are within the dead time. `owed_s`: what was owed when the last was given.
    """

    elements_c: float
    chamber_c: float
    probe_c: float
    unknown: float = 0.0
    swing: Swing = NO_SWING
    given: tuple[float, ...] = ()
    uneven_s: tuple[float, ...] = ()
    owed_s: float = 0.0

    @property
    def air_c(self) -> float:
        """What the thermocouple would show without noise, and without the relay's switching."""
        return self.probe_c - self.swing.probe_k

    def rise_k_per_s(self, kiln: KnownKiln, dt_s: float) -> float:
        """How fast that rises."""
        elements_c, chamber_c = self.elements_c - self.swing.elements_k, self.chamber_c - self.swing.chamber_k
        sees_c = chamber_c + kiln.sees_elements * (elements_c - chamber_c)
        return (sees_c - self.air_c) / (kiln.probe_s + dt_s)


def first_seen(air_c: float, owed_s: float) -> Observed:
    """Return what is to be thought of a kiln of which only the air is known: it has long stood there."""
    return Observed(air_c, air_c, air_c, owed_s=owed_s)


def observe(
    state: Observed,
    kiln: KnownKiln,
    behind: Ahead,
    cycle_s: float,
    air_c: float | None,
    heated: bool,
    owed_s: float,
    dt_s: float,
) -> Observed:
    """Take a tick's reading (C) into account; None: there was no good one, and the kiln's numbers alone rule.

    `behind`: the lining's deeper layers and the load. `heated`: whether heat was given in the `dt_s` before.
    `owed_s`: what the relay now owes.
    """
    elements_c, chamber_c, probe_c, unknown, swing, given, uneven_s, owed_before_s = state
    late = int(kiln.dead_s / max(dt_s, SHORTEST_TICK_S) + 0.5)
    given = (1.0 if heated else 0.0, *given[:late])
    uneven_s = (owed_before_s - owed_s, *uneven_s[:late])
    to_chamber = kiln.elements_w_per_k + radiates_w_per_k(kiln.elements_m2, elements_c, chamber_c)
    to_load = kiln.load_w_per_k + radiates_w_per_k(kiln.load_m2, chamber_c, behind.load_c)
    leaks = kiln.face_w_per_k + kiln.vent_w_per_k + to_load
    lost_w = (
        kiln.face_w_per_k * (chamber_c - behind.inner_c)
        + kiln.vent_w_per_k * (chamber_c - kiln.room_c)
        + to_load * (chamber_c - behind.load_c)
    )
    swing = _swung(swing, kiln, to_chamber, leaks, kiln.power_w * uneven_s[-1], cycle_s, dt_s)
    sees_c = chamber_c + kiln.sees_elements * (elements_c - chamber_c)
    over_k, gives_j = _elements(
        kiln, to_chamber, elements_c - chamber_c, kiln.power_w * given[-1] * dt_s, dt_s
    )
    elements_c = chamber_c + over_k
    chamber_c += (gives_j + dt_s * (kiln.power_w * unknown - lost_w)) / kiln.chamber_j_per_k
    probe_c += (sees_c - probe_c) * dt_s / (kiln.probe_s + dt_s)
    if air_c is not None:
        off_k = (air_c - probe_c) * dt_s
        k1, k2, k3 = _gains(kiln, leaks / kiln.chamber_j_per_k)
        elements_c, chamber_c = elements_c + k2 * off_k, chamber_c + k2 * off_k
        probe_c, unknown = probe_c + k1 * off_k, unknown + k3 * off_k
        if not (abs(air_c - probe_c) < ASTRAY_K and abs(unknown) < MOST_UNKNOWN):  # NaN is neither
            return first_seen(air_c, owed_s)
    return Observed(elements_c, chamber_c, probe_c, unknown, swing, given, uneven_s, owed_s)


def _elements(
    kiln: KnownKiln, to_chamber: float, over_k: float, given_j: float, dt_s: float
) -> tuple[float, float]:
    """By how much elements are hotter than the chamber a tick on (K), and what it got from them (J).

    Calm at any length of a tick: hot elements of little wire have a lag of a few seconds.
    """
    x = to_chamber * dt_s / kiln.elements_j_per_k
    after_k = (over_k + given_j / kiln.elements_j_per_k) / (1.0 + x)
    return after_k, given_j - kiln.elements_j_per_k * (after_k - over_k)


def _gains(kiln: KnownKiln, leak_per_s: float) -> tuple[float, float, float]:
    """The corrections for each second and kelvin: of thermocouple and chamber (1/s), of the heat (1/(K s)).

    Elements follow the chamber, so they count to what an unknown heat has to warm.
    """
    pole, tau_s = 1.0 / OBSERVES_S, kiln.probe_s
    stores_k_per_s = kiln.power_w / (kiln.chamber_j_per_k + kiln.elements_j_per_k)
    return (
        max(0.0, 3.0 * pole - 1.0 / tau_s - leak_per_s),
        tau_s * (3.0 * pole * pole - leak_per_s * (3.0 * pole - leak_per_s)),
        pole**3 * tau_s / stores_k_per_s,
    )


def _swung(
    swing: Swing,
    kiln: KnownKiln,
    to_chamber: float,
    leaks: float,
    uneven_j: float,
    cycle_s: float,
    dt_s: float,
) -> Swing:
    """What the relay's unevenness, `uneven_j` in this tick, does to the kiln on top of all before."""
    elements_k, chamber_k, probe_k = swing
    sees_k = chamber_k + kiln.sees_elements * (elements_k - chamber_k)
    over_k, gives_j = _elements(kiln, to_chamber, elements_k - chamber_k, uneven_j, dt_s)
    left = max(0.0, 1.0 - dt_s / (SWING_CYCLES * cycle_s))
    return Swing(
        left * (chamber_k + over_k),
        left * (chamber_k + (gives_j - dt_s * leaks * chamber_k) / kiln.chamber_j_per_k),
        left * (probe_k + (sees_k - probe_k) * dt_s / (kiln.probe_s + dt_s)),
    )
