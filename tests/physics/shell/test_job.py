"""A job sheet: everything optional, every mistake told with its line, every gap a wider band."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.errors import UsageError
from controller.forecast.job import JobSheet
from controller.forecast.job_file import KEYS, load_job, read_job
from controller.forecast.known import known
from controller.forecast.quantities import INCH_M, POUND_KG, length_m, mass_kg, part
from controller.physics.material import PLA, WAX
from controller.physics.metal import METALS, metal_kg
from controller.schedule.located import FileProblems
from controller.schedule.units import UnitError

WHOLE = """\
title = "Otter, left half"

[pattern]
material = "PLA"
mass = "480 g"
fill = "30 %"
skin = "1.2 mm"
thickest = "40 mm"
height = "150 mm"
drained = "310 g"

[shell]
coats = 9
thickness = "9 mm"
dry = "3.1 kg"
wet = "3.25 kg"
mould = "silica shell"
reheated = false

[metal]
metal = "silicon bronze"
mass = "12 kg"
pour_at = "2000 F"
melt_time = "50 min"
sprue = "35 %"
loss = "3 %"
"""


def problems(text: str) -> list[str]:
    with pytest.raises(FileProblems) as caught:
        read_job(text, "job.toml")
    return [str(problem) for problem in caught.value.problems]


def test_a_whole_sheet_is_read_in_our_units() -> None:
    job = read_job(WHOLE, "job.toml")
    assert (job.title, job.material, job.pattern_kg, job.fill) == ("Otter, left half", "PLA", 0.48, 0.3)
    assert (job.skin_m, job.thickest_m, job.height_m) == pytest.approx((0.0012, 0.04, 0.15))
    assert (job.drained_kg, job.coats, job.thickness_m) == pytest.approx((0.31, 9, 0.009))
    assert (job.dry_kg, job.wet_kg, job.mould, job.reheated) == (3.1, 3.25, "silica shell", False)
    assert (job.metal, job.metal_kg, job.melt_s) == ("silicon bronze", 12.0, 3000.0)
    assert job.pour_c == pytest.approx(1093.3, abs=0.05)
    assert (job.sprue_part, job.loss_part) == pytest.approx((0.35, 0.03))
    assert (job.text, job.file) == (WHOLE, "job.toml")


def test_every_key_is_in_the_whole_sheet_and_fills_a_field() -> None:
    for name, table in KEYS.items():
        body = WHOLE.split(f"[{name}]")[1].split("\n\n", maxsplit=1)[0]
        assert [line.split(" =")[0] for line in body.strip().splitlines()] == [k.name for k in table.values()]
        assert set(table) <= set(JobSheet.__slots__)
        assert not any(key.must for key in table.values())


def test_the_examples_of_the_keys_are_themselves_good() -> None:
    text = ""
    for name, table in KEYS.items():
        text += f"[{name}]\n" + "".join(f"{key.name} = {key.example}\n" for key in table.values())
    assert read_job(text, "job.toml").coats == 9


@pytest.mark.parametrize("text", ["", "[pattern]\n", "[shell]\ncoats = 7\n", 'title = "x"\n'])
def test_nothing_has_to_stand_there(text: str) -> None:
    job = read_job(text, "job.toml")
    assert job.pattern_kg is None
    assert known(job).plastic_kg.weak


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("pattern.mass", "480", "found 480, expected a mass with its unit"),
        ("pattern.mass", '"480"', 'found "480", expected a mass with its unit'),
        ("pattern.mass", '"480 mm"', 'found "480 mm", expected a mass with its unit'),
        ("pattern.mass", '"-1 g"', "from 1 g to 50 kg"),
        ("pattern.mass", '"1e99 kg"', "from 1 g to 50 kg"),
        ("pattern.material", '"cheese"', '"PLA"'),
        ("pattern.fill", '"120 %"', "from 2 % to 100 %"),
        ("pattern.fill", "0.3", "a part in per cent"),
        ("shell.coats", "0", "a whole number from 1 to 40"),
        ("shell.coats", "true", "a whole number from 1 to 40"),
        ("shell.coats", "8.5", "a whole number from 1 to 40"),
        ("shell.reheated", '"yes"', "true or false"),
        ("shell.thickness", '"9"', "a length with its unit"),
        ("metal.pour_at", '"1090"', "a temperature with its unit"),
        ("metal.pour_at", '"3000 C"', "from 100 C to 1700 C"),
        ("metal.melt_time", '"3 weeks"', "a duration with its unit"),
        ("metal.melt_time", '"10 s"', "from 1 min to 24 h"),
        ("metal.gold", '"3 kg"', "a key that is not known here"),
    ],
)
def test_a_mistake_names_its_line_its_place_and_what_was_expected(key: str, value: str, words: str) -> None:
    table, name = key.split(".")
    (line,) = problems(f"# a comment\n[{table}]\n\n{name} = {value}\n")
    assert line.startswith(f"job.toml:4: {table}, {name}: ")
    assert words in line


def test_all_mistakes_are_told_at_once_in_the_order_of_their_lines() -> None:
    told = problems('titel = "x"\n[shell]\ncoats = 0\n[pattern]\nmass = 3\n[kiln]\n')
    assert [line.split(": ")[0] for line in told] == ["job.toml:1", "job.toml:3", "job.toml:5", "job.toml:6"]
    assert "title" in told[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[pattern]\nmass = "300 g"\ndrained = "310 g"\n', "at most the pattern's mass, 300 g"),
        ('[shell]\ndry = "3 kg"\nwet = "2.9 kg"\n', "at least the shell's dry mass, 3 kg"),
        (
            '[metal]\nmetal = "silicon bronze"\npour_at = "800 C"\n',
            "above 821 C, where silicon bronze is solid",
        ),
        ("pattern = 3\n", "a table, [pattern]"),
        ("[pattern\n", "TOML"),
    ],
)
def test_what_cannot_be_true_is_told(text: str, words: str) -> None:
    (line,) = problems(text)
    assert words in line


def test_a_file_that_is_not_there_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="cannot be read"):
        load_job(tmp_path / "none.toml")
    path = tmp_path / "job.toml"
    path.write_text(WHOLE)
    assert load_job(path).coats == 9
    path.write_bytes(b'title = "\xff"')
    with pytest.raises(FileProblems, match="UTF-8"):
        load_job(path)


def test_units_have_the_published_factors() -> None:
    """NIST Special Publication 811 (2008), appendix B.8: 1 lb = 0.45359237 kg, 1 in = 25.4 mm."""
    assert mass_kg(0.0, 100.0)("16 oz") == pytest.approx(POUND_KG)
    assert mass_kg(0.0, 100.0)("2 lb") == pytest.approx(0.90718474)
    assert length_m(0.0, 1.0)("1 in") == pytest.approx(0.0254) == pytest.approx(INCH_M)
    assert part(0.0, 1.0)("100%") == 1.0
    with pytest.raises(UnitError):
        mass_kg(0.0, 100.0)("nan kg")


@pytest.mark.parametrize(
    ("metal", "pattern_kg_per_m3", "ratio"),
    [
        ("silicon bronze", 1240.0, 6.74),
        ("tin bronze", 1240.0, 7.10),
        ("silicon bronze", 930.0, 8.99),
        ("tin bronze", 930.0, 9.46),
    ],
)
def test_metal_over_a_solid_pattern_is_the_ratio_of_their_densities(
    metal: str, pattern_kg_per_m3: float, ratio: float
) -> None:
    """Worked out from alloy sheets (8.36 and 8.80 g/cm3), PLA 1.24, wax 0.93."""
    density = METALS[metal].kg_per_m3.typical
    assert metal_kg(1.0, 1.0, pattern_kg_per_m3, density) == pytest.approx(ratio, abs=0.005)
    assert {PLA.kg_per_m3.typical, WAX.kg_per_m3.typical} == {1240.0, 930.0}


def test_a_hollow_pattern_is_filled_with_metal_and_sprue_and_loss_come_on_top() -> None:
    assert metal_kg(0.3, 0.3, 1240.0, 8360.0) == pytest.approx(metal_kg(1.0, 1.0, 1240.0, 8360.0))
    assert metal_kg(1.0, 1.0, 1000.0, 8000.0, 0.5, 0.1) == pytest.approx(8.0 * 1.5 * 1.1)


def test_each_gap_widens_its_band() -> None:
    told, empty = known(read_job(WHOLE, "job.toml")), known(JobSheet())
    for name in ("thickness_m", "plastic_kg", "fill", "thickest_m", "metal_kg", "melt_s"):
        narrow, wide = getattr(told, name), getattr(empty, name)
        assert narrow.high / narrow.low < wide.high / wide.low, name
        assert wide.weak, name
    assert not told.thickness_m.weak
    assert "pattern_kg" in told.told
    assert empty.told == ()


def test_a_wall_is_measured_or_counted_in_coats_or_taken_as_nine() -> None:
    assert known(JobSheet(thickness_m=0.008, coats=12)).thickness_m.typical == 0.008
    assert known(JobSheet(coats=12)).thickness_m.typical == pytest.approx(0.012)
    assert known(JobSheet()).thickness_m.typical == pytest.approx(0.009)
    assert known(JobSheet(mould="gypsum-bonded")).thickness_m.typical > 0.02


def test_water_is_weighed_or_a_part_and_a_reheated_shell_is_empty_and_nearly_dry() -> None:
    weighed = known(JobSheet(dry_kg=3.1, wet_kg=3.25)).water_kg
    assert weighed is not None
    assert weighed.typical == pytest.approx(0.15)
    assert weighed.low > 0.0
    assert known(JobSheet(dry_kg=3.1)).water_kg is None
    again = known(JobSheet(reheated=True))
    assert again.plastic_kg.high == 0.0
    assert again.water_part.typical < known(JobSheet()).water_part.typical


@pytest.mark.parametrize("metal", METALS.values(), ids=lambda metal: metal.name)
def test_every_metal_is_poured_above_where_it_is_molten(metal) -> None:  # type: ignore[no-untyped-def]
    assert metal.solidus_c < metal.liquidus_c < metal.pour_c.low < metal.pour_c.typical < metal.pour_c.high
    assert metal.pour_c.high < metal.liquidus_c + 200.0
    assert 2000.0 < metal.kg_per_m3.low <= metal.kg_per_m3.high < 9000.0


def test_a_melt_not_timed_takes_half_an_hour_to_two() -> None:
    """Common practice, no source."""
    assert known(JobSheet()).melt_s[:3] == (1800.0, 3600.0, 7200.0)
    assert known(JobSheet(melt_s=3000.0)).melt_s.typical == 3000.0
