"""The interlocks: one table, the only source of what the guard watches.

The operator's page, the documentation and the list of tests are made from it. What each row looks for is
in `find.py`. Reactions, from mild to hard: `warn` tells; `hold` makes the schedule's clock stand; `cut`
grants no lease while it lasts, then heat returns by itself; `trip` latches: no lease, main contactor
opened, until a person clears it at the kiln. A milder row may become a trip when it lasts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from controller.guard import find
from controller.guard.look import Look
from controller.guard.sight import Limits

Reaction = Literal["warn", "hold", "cut", "trip"]


@dataclass(frozen=True, slots=True)
class Row:
    """One interlock.

    `limits`: the names in `Limits` of the numbers that it judges by. `after`, `trips_after`: the names of
    how long the finding must last before the reaction, and before it becomes a trip ("" for at once, and
    for never). `opens_main`: the main contactor is open while it stands, though it may not trip; a trip opens
    it always. `says` and `do` are for the person. `why` gives the reason for the numbers.
    """

    id: str
    watches: str
    test: Callable[[Look], str | None]
    reaction: Reaction
    says: str
    do: str
    why: str
    limits: tuple[str, ...] = ()
    after: str = ""
    trips_after: str = ""
    opens_main: bool = False

    @property
    def latches(self) -> bool:
        """Whether it can trip, and so stay until a person clears it at the kiln."""
        return self.reaction == "trip" or bool(self.trips_after)

    @property
    def clears(self) -> str:
        """How it ends, in words."""
        if not self.latches:
            return "by itself, when it is over"
        at_the_kiln = "by a person at the kiln, when it is over"
        return at_the_kiln if self.reaction == "trip" else f"by itself, when it is over; a trip {at_the_kiln}"

    def after_s(self, limits: Limits) -> float:
        """Return how long the finding must last before the reaction, s."""
        return float(getattr(limits, self.after)) if self.after else 0.0

    def trips_after_s(self, limits: Limits) -> float:
        """Return how long the finding must last before it is a trip, s; infinite for never."""
        if self.reaction == "trip":
            return self.after_s(limits)
        return float(getattr(limits, self.trips_after)) if self.trips_after else float("inf")


ROWS: tuple[Row, ...] = (
    Row(
        "ceiling",
        "any thermocouple at or above the kiln's ceiling, or the stage's",
        find.too_hot,
        "cut",
        "Too hot",
        "Keep away from the door. Let the kiln cool. Find out why before anything is heated again.",
        "the kiln's file states it: no heat at once; 2 s so that one disturbed reading ends no firing",
        limits=("ceiling_c",),
        trips_after="ceiling_after_s",
    ),
    Row(
        "sensor_bad",
        "a thermocouple open, shorted, silent or out of its type's range",
        find.bad_sensor,
        "cut",
        "A thermocouple gives no good reading",
        "Look at its connection. Heat returns by itself with the reading; if not, this becomes a trip.",
        "no heat without a measurement (IEC 60730-1 annex H thinks so too); 120 s to push a plug back in "
        "(common practice, no source)",
        trips_after="sensor_trip_s",
    ),
    Row(
        "reading_stale",
        "a reading that is not renewed",
        find.stale,
        "cut",
        "A reading is too old to trust",
        "Look at the reader and its wire.",
        "10 s: an electric kiln at full heat moves 1 to 5 K in that time (common practice, no source)",
        limits=("stale_s",),
        trips_after="sensor_trip_s",
    ),
    Row(
        "reading_frozen",
        "a reading that stands still to the bit while another moves, or in unbroken heat",
        find.frozen,
        "trip",
        "A thermocouple's reading is frozen",
        "Look at the reader: it answers, and always the same.",
        "5 min; 15 K: a live reading moves in that time. Of a reader that may be coarse (all readings "
        "multiples of 0.25 K) only air and limit count as the other: in a good hold both stand while a "
        "load soaks (common practice, no source)",
        limits=("frozen_s", "frozen_other_k"),
    ),
    Row(
        "readings_still",
        "all readings that stand still to the bit, with heat",
        find.all_still,
        "cut",
        "No thermocouple's reading moves",
        "Look at the reader: it may only be repeating itself. If it is well, heat returns as the kiln cools.",
        "5 min; without heat a kiln moves any live reading within minutes: 10 min to trip "
        "(common practice, no source)",
        limits=("frozen_s",),
        trips_after="still_trip_s",
        opens_main=True,
    ),
    Row(
        "reading_falls",
        "air that falls in unbroken heat (thermocouple reversed)",
        find.falls,
        "trip",
        "A thermocouple falls while the kiln is heated",
        "Its two leads are probably exchanged. Have it connected the right way round.",
        "10 K: reversed type K leads at a true 50 C read -0.6 C (ITS-90); no healthy reading falls so far",
        limits=("falls_k",),
    ),
    Row(
        "sensors_differ",
        "air and limit that disagree, or a load hotter than both in heat; the hottest counts",
        find.differ,
        "hold",
        "Thermocouples disagree",
        "See whether each is where it belongs, and of the type that the reader is set to.",
        "40 K: beyond class 2 tolerance at 815 C (6.1 K each, IEC 60584-1), place in the chamber and lag",
        limits=("differ_k",),
        after="differ_after_s",
    ),
    Row(
        "heat_without_lease",
        "the heater reads back on and holds no lease (relay welded)",
        find.heat_unasked,
        "trip",
        "The heater is on without permission",
        "Switch the kiln off at the wall. The relay has probably welded shut: have it replaced.",
        "5 s: longer than a relay takes to drop and its contact to be read (common practice, no source)",
        after="read_back_s",
    ),
    Row(
        "rises_unheated",
        "air, or a limit hotter than it, that rises with no heat granted (relay welded, read-back blind)",
        find.rises_unheated,
        "trip",
        "The kiln gets hotter with the heat off",
        "Switch the kiln off at the wall. The relay has probably welded shut: have it replaced.",
        "after 3 min off the elements no longer glow; 12 K is beyond noise and settling "
        "(common practice, no source)",
        limits=("unheated_settle_s", "unheated_rise_k"),
    ),
    Row(
        "no_rise",
        "full heat and no rise (element, breaker, door, thermocouple out of the kiln)",
        find.no_rise,
        "hold",
        "Full heat, and the kiln does not get hotter",
        "Look at the breaker, the door, the elements, and whether the thermocouple is in the kiln.",
        "10 min and 3 K: slower than any kiln that can still finish a firing (common practice, no source)",
        limits=("no_rise_after_s", "no_rise_k"),
        trips_after="no_rise_trip_s",
    ),
    Row(
        "surge",
        "a rise faster than the heat granted can explain (plastic burning)",
        find.surge,
        "cut",
        "Something burns in the kiln",
        "Keep the door shut and the extraction on. Heat returns by itself when it is over.",
        "30 K/min at full heat is beyond a small kiln's power; 5 K/min more for noise, 20 s to be sure, "
        "10 min after a door for the air to settle (common practice, no source)",
        limits=("fastest_rise_k_per_min", "surge_k_per_min", "surge_settle_s"),
        after="surge_after_s",
    ),
    Row(
        "heater_differs",
        "the heater or main contactor does not read back what it was told",
        find.not_followed,
        "trip",
        "The heater does not do what it is told",
        "Look at the relay, the main contactor and their wiring.",
        "5 s: longer than a contactor takes to move and its contact to be read (common practice, no source)",
        after="read_back_s",
    ),
    Row(
        "heater_silent",
        "the heater takes no command or gives no read-back",
        find.not_answering,
        "cut",
        "The heater does not answer",
        "Look at the relay board's supply and wire. Its own time-out has dropped the heat.",
        "120 s as for a thermocouple: time to put a plug back in (common practice, no source)",
        trips_after="sensor_trip_s",
    ),
    Row(
        "heater_refuses",
        "the heater takes no order to heat, whatever else it takes",
        find.refusing,
        "trip",
        "The heater refuses to heat",
        "Read what the relay board itself says: it may be protecting the kiln. Then clear the trip.",
        "120 s as for a thermocouple: a board that was restarted has been told again by then "
        "(common practice, no source)",
        limits=("sensor_trip_s",),
    ),
    Row(
        "contact_unknown",
        "a contact (door, emergency stop, key, extraction) that cannot be read",
        find.contact_unknown,
        "cut",
        "A contact cannot be read",
        "Look at the contacts' board, its supply and its wire.",
        "unknown is not safe, yet one missed answer must not end a night's firing: 120 s as for a sensor "
        "(common practice, no source)",
        trips_after="sensor_trip_s",
    ),
    Row(
        "door_open",
        "the door is open",
        find.door_open,
        "cut",
        "The door is open",
        "Close it. Heat returns by itself.",
        "live elements behind an open door can kill: no delay (common practice, no source)",
    ),
    Row(
        "emergency_stop",
        "the emergency stop is pressed, or the key removed",
        find.stopped_by_hand,
        "trip",
        "Emergency stop, or key removed",
        "Make the place safe, unlatch the button, then clear the trip at the kiln.",
        "no delay; a restart is a deliberate act (IEC 60519-1)",
    ),
    Row(
        "no_extraction",
        "extraction is not proven in a stage that needs it",
        find.no_extraction,
        "cut",
        "The extraction is not proven",
        "Start the fan, or free its flow switch. Do not breathe the fumes. Heat returns by itself.",
        "10 s for a flow switch to settle; fumes of burning plastic and wax contain carbon monoxide "
        "(common practice, no source)",
        after="extraction_after_s",
    ),
    Row(
        "firing_too_long",
        "a firing that lasts longer than its limit",
        find.too_long,
        "trip",
        "The firing has lasted too long",
        "See what it waits for; the record says so. Start again if all is well.",
        "the kiln's file states the limit: no firing should be forgotten",
        limits=("longest_firing_s",),
    ),
    Row(
        "enclosure_warm",
        "the electronics' enclosure is warm (cold junction)",
        find.enclosure_warm,
        "warn",
        "The electronics are getting hot",
        "Give them air, or move them away from the kiln.",
        "55 C: industrial parts bear 70 C, and readings drift before that (common practice, no source)",
        limits=("enclosure_warm_c",),
    ),
    Row(
        "enclosure_hot",
        "the electronics' enclosure is too hot",
        find.enclosure_hot,
        "trip",
        "The electronics are too hot",
        "Let them cool, and mount them elsewhere. Their readings cannot be trusted.",
        "70 C: where commercial and most industrial parts end (common practice, no source)",
        limits=("enclosure_hot_c",),
        after="ceiling_after_s",
    ),
    Row(
        "tick_late",
        "a tick that comes late",
        find.late,
        "warn",
        "The controller was late",
        "Nothing, if it is rare. If it comes often, the computer is overloaded or failing.",
        "late by half a tick: a late tick grants nothing, and the lease runs out by itself "
        "(common practice, no source)",
    ),
    Row(
        "clock_stepped",
        "the date and time jump against the monotonic clock",
        find.clock_stepped,
        "cut",
        "The computer's clock was set",
        "Nothing: durations run by another clock. Times in the record may overlap.",
        "5 s is more than a clock that is only being kept right moves between two ticks "
        "(common practice, no source)",
        limits=("clock_step_s",),
    ),
    Row(
        "record_trouble",
        "the record cannot be written",
        find.unrecorded,
        "warn",
        "The record cannot be written",
        "Make room on the disk. The firing goes on; what happens is kept in memory until it can be written.",
        "a burnout is worth more than its record; the memory holds more than a day "
        "(common practice, no source)",
    ),
)
