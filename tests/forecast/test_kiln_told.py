"""What a kiln's file tells a forecast, read from its text alone, is what the controller reads in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.config import KilnConfig, load_kiln
from controller.errors import UsageError
from controller.forecast.kiln_told import USUAL_FULL_RATE_C_PER_H, USUAL_LONGEST_S, KilnTold, kiln_told

HERE = Path(__file__).parents[2]
FILES = [
    HERE / "controller" / "simulator" / "demo_kiln.toml",
    *sorted((HERE / "hardware_notes" / "kilns").glob("*.toml")),
]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_of_every_example_both_read_the_same(file: Path) -> None:
    config = load_kiln(file)
    assert kiln_told(file.read_text(encoding="utf-8")) == KilnTold(
        config.name,
        config.heater.power_w,
        config.full_rate_c_per_h,
        config.longest_firing_s,
        config.vent.flow_m3_per_h,
    )


def test_one_example_tells_its_vent() -> None:
    told = [kiln_told(file.read_text(encoding="utf-8")).vent_m3_per_h for file in FILES]
    assert [flow for flow in told if flow is not None] == [9.0]


def test_what_is_not_told_or_not_good_is_as_the_controller_has_it_by_default() -> None:
    bare = kiln_told('[heater]\npower = "4 kW"\n[vent]\nflow = "much"\n')
    assert bare == KilnTold("kiln", 4000.0, USUAL_FULL_RATE_C_PER_H, USUAL_LONGEST_S, None)
    fields = KilnConfig.__dataclass_fields__
    assert fields["full_rate_c_per_h"].default == USUAL_FULL_RATE_C_PER_H
    assert fields["longest_firing_s"].default == USUAL_LONGEST_S


@pytest.mark.parametrize("text", ["", "= no", "[heater]\n", '[heater]\npower = "hot"\n'])
def test_without_a_power_there_is_nothing_to_forecast_by(text: str) -> None:
    with pytest.raises(UsageError, match="found no heater's power"):
        kiln_told(text)
