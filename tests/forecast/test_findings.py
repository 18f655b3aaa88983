"""What stands against a firing is told with its number and its remedy, and only where it is so."""

from __future__ import annotations

import pytest

from controller.forecast.forecast import Forecast, forecast
from controller.forecast.job import JobSheet
from controller.forecast.kiln_known import KilnKnown, unknown_kiln
from controller.forecast.known import known
from controller.forecast.shell_ahead import Most
from controller.forecast.shell_findings import _judged, air_findings
from controller.schedule.index import find
from controller.schedule.model import Cool, Hold, Ramp, Schedule, Stage
from controller.schedule.reader import load_schedule

SHEET = JobSheet(dry_kg=3.0, wet_kg=3.05, pattern_kg=0.4, fill=0.3)
EMPTY = JobSheet(dry_kg=3.0, wet_kg=3.01, reheated=True)


def ahead(
    *stages: Stage, sheet: JobSheet = SHEET, kiln: KilnKnown | None = None, longest_s: float | None = None
) -> Forecast:
    return forecast(Schedule("one", stages), sheet, kiln or unknown_kiln(6500.0), 300.0, longest_s=longest_s)


def weights(found: Forecast) -> dict[str, str]:
    return {finding.key: finding.weight for finding in found.findings}


def sure(kiln: KilnKnown) -> KilnKnown:
    """A kiln without doubts."""
    return kiln._replace(ways=())


FAST = (Ramp("up", 800.0, 900.0), Hold("hold", 800.0, 7200.0, 10.0))
GENTLE = (Ramp("up", 800.0, 100.0), Hold("hold", 800.0, 7200.0, 10.0))


def test_a_kiln_that_cannot_keep_the_rate_is_told_by_how_much_and_for_how_long() -> None:
    found = ahead(*FAST, sheet=EMPTY)
    (slow,) = [finding for finding in found.findings if finding.key == "kiln is slow"]
    assert slow.weight == "warn"
    assert slow.limit == 900.0
    assert 100.0 < slow.found < 900.0
    assert "asks for 900 C/h" in slow.says
    assert f"{slow.found:.0f} C/h" in slow.says
    assert "Ask for" in slow.remedy
    gentle = ahead(*GENTLE, sheet=EMPTY)
    assert "kiln is slow" not in weights(gentle)
    assert "kiln may be slow" not in weights(gentle)


def test_the_rate_that_is_advised_is_one_that_the_kiln_keeps() -> None:
    kiln = sure(unknown_kiln(6500.0))
    (slow,) = [f for f in ahead(*FAST, sheet=EMPTY, kiln=kiln).findings if f.key == "kiln is slow"]
    again = ahead(Ramp("up", 800.0, 0.6 * slow.found), FAST[1], sheet=EMPTY, kiln=kiln)
    assert "kiln is slow" not in weights(again)


def test_full_rate_is_as_fast_as_it_goes_and_no_fault() -> None:
    """As steep as the asked rate that the kiln cannot keep: only who asks for a number is told of one."""
    full = Schedule("one", (Ramp("up", 800.0, None, wait_within_k=500.0), FAST[1]))
    assert "kiln is slow" not in weights(forecast(full, EMPTY, unknown_kiln(6500.0), 900.0))


def test_a_kiln_too_weak_to_get_there_at_all_is_refused() -> None:
    found = ahead(
        *GENTLE,
        sheet=EMPTY,
        kiln=sure(unknown_kiln(6500.0))._replace(kiln=unknown_kiln(6500.0).kiln._replace(power_w=1200.0)),
    )
    assert found.refused
    (stuck,) = [finding for finding in found.findings if finding.key == "never ends"]
    assert "stage 2" in stuck.says
    assert "1.2 kW" in stuck.says


def test_a_cooling_faster_than_a_kiln_cools_is_told() -> None:
    down = (Ramp("up", 600.0, 200.0), Cool("down", 300.0, 900.0))
    assert weights(ahead(*down, sheet=EMPTY))["kiln is slow"] == "warn"
    easy = (Ramp("up", 600.0, 200.0), Cool("down", 500.0, 20.0))
    assert "kiln is slow" not in weights(ahead(*easy, sheet=EMPTY))


def test_a_firing_longer_than_the_guard_lets_it_be_is_refused() -> None:
    assert weights(ahead(*GENTLE, sheet=EMPTY, longest_s=4 * 3600.0))["too long"] == "stop"
    assert "too long" not in weights(ahead(*GENTLE, sheet=EMPTY, longest_s=40 * 3600.0))


def test_a_silica_shell_s_schedule_is_refused_for_gypsum() -> None:
    found = forecast(
        load_schedule(find("printed-pla-silica-shell")),
        JobSheet(mould="gypsum-bonded", material="castable resin"),
        unknown_kiln(6500.0),
        300.0,
    )
    assert found.refused
    assert weights(found)["gypsum"] == "stop"
    assert weights(found)["another mould"] == "warn"


def test_steam_in_a_wet_wall_heated_fast_is_told_with_the_gentlest_drying() -> None:
    strong = unknown_kiln(20000.0)
    fast = (Ramp("up", 600.0, 1500.0), Hold("hold", 600.0, 7200.0, 10.0))
    wet = JobSheet(dry_kg=6.0, wet_kg=6.9, thickness_m=0.04, mould="gypsum-bonded", reheated=True)
    found = ahead(*fast, sheet=wet, kiln=strong)
    (steam,) = [finding for finding in found.findings if finding.key == "steam"]
    assert steam.found > steam.limit
    assert "95 C" in steam.remedy
    assert steam.weight == "note"
    gentle = (Ramp("up", 600.0, 60.0), Hold("hold", 600.0, 7200.0, 10.0))
    assert "steam" not in weights(ahead(*gentle, sheet=wet, kiln=strong))


@pytest.mark.parametrize(
    ("typical", "late", "weight", "limit"),
    [(9.1, 9.1, "warn", 9.0), (9.0, 9.0, "note", 6.0), (6.0, 6.0, "note", 3.0), (3.0, 3.1, "note", 3.0)],
)
def test_it_is_warned_of_what_even_a_strong_one_would_not_bear_and_the_rest_is_noted(
    typical: float, late: float, weight: str, limit: float
) -> None:
    judged = _judged(Most(typical, late, 0.0), 9.0, 6.0, 3.0)
    assert judged is not None
    assert judged[0] == weight
    assert judged[3] == limit


def test_what_a_weak_one_bears_is_not_told() -> None:
    assert _judged(Most(3.0, 3.0, 0.0), 9.0, 6.0, 3.0) is None


def test_plastic_that_is_not_burnt_is_told_with_how_long_to_hold() -> None:
    short = (Ramp("up", 300.0, 100.0), Hold("hold", 300.0, 600.0, 10.0))
    found = ahead(*short)
    (left,) = [finding for finding in found.findings if finding.key == "left"]
    assert left.weight == "warn"
    assert "PLA" in left.says
    assert "Hold" in left.remedy
    assert "left" not in weights(ahead(*GENTLE))
    assert "left" not in weights(ahead(*short, sheet=EMPTY))


def test_a_shell_that_is_not_fired_is_told_and_one_that_was_fired_before_is_not() -> None:
    cool = (Ramp("up", 650.0, 100.0), Hold("hold", 650.0, 7200.0, 10.0))
    assert weights(ahead(*cool))["weak"] == "warn"
    assert "weak" not in weights(ahead(*cool, sheet=EMPTY))
    assert weights(ahead(Ramp("up", 815.0, 100.0), Hold("hold", 815.0, 3 * 3600.0, 10.0))).get("weak") is None


def test_a_wall_that_is_pulled_apart_by_a_difference_is_told_for_gypsum_and_not_for_fused_silica() -> None:
    fast = (Ramp("up", 600.0, None), Hold("hold", 600.0, 3600.0, 15.0))
    gypsum = JobSheet(mould="gypsum-bonded", reheated=True, thickness_m=0.04)
    silica = JobSheet(mould="silica shell", reheated=True, thickness_m=0.01)
    assert "wall difference" in weights(ahead(*fast, sheet=gypsum))
    assert "wall difference" not in weights(ahead(*fast, sheet=silica))


def test_a_solid_pattern_cracks_its_shell_and_an_empty_shell_has_none() -> None:
    solid = JobSheet(dry_kg=3.0, wet_kg=3.05, pattern_kg=0.9, fill=1.0, thickest_m=0.06)
    slow = (Ramp("up", 800.0, 40.0), GENTLE[1])
    assert weights(ahead(*slow, sheet=solid))["pattern grows"] == "warn"
    assert "pattern grows" not in weights(ahead(*slow, sheet=EMPTY))


def test_a_pattern_that_is_heated_so_fast_that_its_skin_runs_first_does_not_crack_its_shell() -> None:
    solid = JobSheet(dry_kg=3.0, wet_kg=3.05, pattern_kg=0.9, fill=1.0, thickest_m=0.06)
    assert "pattern grows" not in weights(ahead(*GENTLE, sheet=solid))


def test_a_core_that_lags_behind_the_pour_is_told() -> None:
    at_once = (Ramp("up", 800.0, None), Hold("pour", 800.0, None, 40.0, 7200.0, 600.0))
    thick = JobSheet(dry_kg=12.0, wet_kg=12.01, thickness_m=0.05, reheated=True)
    made = forecast(Schedule("one", at_once, pour_at_c=800.0), thick, unknown_kiln(9000.0), 600.0)
    assert weights(made)["cold core"] == "warn"
    evened = (at_once[0], Hold("even", 800.0, 3600.0, 20.0), at_once[1])
    later = forecast(Schedule("one", evened, pour_at_c=800.0), thick, unknown_kiln(9000.0), 600.0)
    assert "cold core" not in weights(later)


PRINT = known(JobSheet(pattern_kg=0.5, fill=0.3, mould="silica shell"))
# 0.15 g/s of vapour, or 0.25: by Huggett's rule and 4.78 m3/kg of PLA (tests/standards) 2.58 and 4.30 m3/h.
VAPOUR = Most(0.15e-3, 0.25e-3, 3600.0)


@pytest.mark.parametrize(
    ("vent_m3_per_h", "weight", "says"),
    [
        (None, "note", "takes 2.6 m3 of air an hour at its height (it may be 4.3); twice that"),
        (0.0, "warn", "the vent passes 0.0: the rest leaves as smoke"),
        (2.5, "warn", "the vent passes 2.5: the rest leaves as smoke"),
        (2.7, "note", "the vent passes 2.7: less than twice that"),
        (8.5, "note", "the vent passes 8.5: less than twice that"),
    ],
)
def test_the_vent_is_held_against_the_air_that_burning_takes(
    vent_m3_per_h: float | None, weight: str, says: str
) -> None:
    (found,) = air_findings(PRINT, VAPOUR, vent_m3_per_h)
    assert (found.key, found.weight) == ("air", weight)
    assert says in found.says
    assert found.unit == "m3/h"
    assert found.limit == pytest.approx(8.6 if vent_m3_per_h == 8.5 else 5.16, abs=0.05)


def test_a_vent_that_gives_twice_what_burning_may_take_is_nothing_to_tell() -> None:
    assert list(air_findings(PRINT, VAPOUR, 8.7)) == []
    assert list(air_findings(PRINT, Most(0.0, 0.0, 0.0), None)) == []


def test_the_kilns_vent_reaches_the_findings() -> None:
    stages = (Ramp("up", 600.0, 200.0), Hold("hold", 600.0, 3600.0, 15.0))
    sheet = JobSheet(dry_kg=3.0, wet_kg=3.01, pattern_kg=0.8)

    def air(vent: float | None) -> str | None:
        made = forecast(Schedule("one", stages), sheet, unknown_kiln(6500.0), 300.0, vent_m3_per_h=vent)
        return weights(made).get("air")

    assert [air(vent) for vent in (None, 0.1, 500.0)] == ["note", "warn", None]


@pytest.mark.parametrize("mould", ["kiln lining", "none"])
def test_where_there_is_no_shell_none_is_judged(mould: str) -> None:
    found = ahead(*GENTLE, sheet=JobSheet(mould=mould, reheated=True))
    assert not {"steam", "left", "weak", "pattern grows", "air"} & set(weights(found))


def test_the_gravest_comes_first_and_each_has_words_and_a_remedy() -> None:
    found = forecast(
        load_schedule(find("printed-pla-silica-shell")),
        JobSheet(mould="gypsum-bonded"),
        unknown_kiln(3000.0),
        300.0,
    ).findings
    order = [("stop", "warn", "note").index(finding.weight) for finding in found]
    assert order == sorted(order)
    assert all(finding.says.endswith(".") and finding.remedy.endswith(".") for finding in found)
