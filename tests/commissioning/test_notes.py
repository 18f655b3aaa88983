"""The hardware notes: cautions where someone wires, figures that agree with the code and with arithmetic."""

from __future__ import annotations

import re

import pytest

from controller.prefire import prefire_items
from controller.schedule.model import Ramp, Schedule
from controller.wire.thermocouple import emf_mv, inverse_c, tolerance_k
from tests.commissioning.hands import CONFIG
from tests.docs.pages import ROOT

NOTES = ROOT / "hardware_notes"
OURS = ("cautions", "commissioning", "independence", "rs485", "switching", "thermocouples", "wiring")


def words(name: str) -> str:
    """A page in one line, in small letters, without marks."""
    text = (NOTES / f"{name}.md").read_text(encoding="utf-8").lower().replace("*", "").replace("\n>", "\n")
    return " ".join(text.split())


@pytest.mark.parametrize("name", ["cautions", "commissioning", "wiring"])
def test_a_page_by_which_someone_acts_says_what_comes_first(name: str) -> None:
    for said in ("independent over-temperature limit", "licensed electrician", "local code"):
        assert said in words(name), said


@pytest.mark.parametrize(
    "hazard",
    [
        "carbon monoxide", "silica dust", "refractory fibre", "burns", "damp", "mains", "extraction",
        "certified burner control", "respirator", "wax",
    ],
)  # fmt: skip
def test_every_hazard_is_on_the_page_of_cautions(hazard: str) -> None:
    assert hazard in words("cautions")


def test_every_page_and_drawing_is_named_on_the_first_page() -> None:
    first = (NOTES / "README.md").read_text(encoding="utf-8")
    assert all(f"({name}.md)" in first for name in OURS)
    pages = "".join((NOTES / f"{name}.md").read_text(encoding="utf-8") for name in OURS)
    for drawing in NOTES.glob("diagrams/*.svg"):
        assert f"(diagrams/{drawing.name})" in pages


def test_no_page_claims_conformity_or_names_a_place_on_a_network() -> None:
    for name in OURS:
        page = words(name)
        assert not re.search(r"https?:|www\.", page), name
        assert "complies" not in page
        if "nfpa" in page:
            assert "no conformity is claimed" in page, name


def test_the_list_before_a_start_is_on_the_page() -> None:
    schedule = Schedule("burnout", (Ramp("burn", 650.0, 300.0, extraction=True),))
    page = (NOTES / "commissioning.md").read_text(encoding="utf-8")
    assert re.findall(r"^\| `(\w+)` \|", page.split("Before each start")[1], re.M) == [
        item.id for item in prefire_items(schedule, CONFIG)
    ]


def test_the_thermocouples_figures_are_the_reference_functions() -> None:
    # ITS-90 reference functions (NIST Monograph 175); tolerances of IEC 60584-1.
    page = words("thermocouples")
    assert f"{emf_mv('K', 815.0):.1f} mv at 815 c" in page
    assert f"{emf_mv('S', 815.0):.1f} mv at 815 c" in page
    assert f"an n read as a k reads {inverse_c('K', emf_mv('N', 815.0)):.0f} c" in page
    assert f"an s read as a k reads {inverse_c('K', emf_mv('S', 815.0)):.0f} c" in page
    k, s = [[tolerance_k(letter, which, 815.0) for which in (1, 2)] for letter in "KS"]
    assert f"k, n {k[0]:.1f} and {k[1]:.1f} k; s {s[0]:.1f} and {s[1]:.1f} k" in page


def test_the_relay_s_life_is_what_its_operations_make_it() -> None:
    page = words("switching")
    operations = 12 * 3600 // 20
    assert page.count(f"{operations} operations") == len(("relay", "contactor"))
    assert f"{100_000 // operations} to {300_000 // operations} such firings" in page
    assert f"{1_000_000 // operations // 10 * 10} and more" in page
