"""Every fault of the table, switched on, changes exactly what its row says, and nothing when off again."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest

from controller.errors import UsageError
from controller.simulator import faults
from controller.simulator.faults import FAULTS, Due, Fault
from controller.simulator.plant import Plant
from controller.simulator.sight import Sight

Scene = Callable[[Plant], None]


def heat_on(plant: Plant) -> None:
    plant.set_main(True)
    plant.set_heat(True)


def heat_off(plant: Plant) -> None:
    plant.set_main(True)


def main_open(plant: Plant) -> None:
    plant.set_heat(True)


SCENES: tuple[Scene, ...] = (heat_on, heat_off, main_open)


def make(scene: Scene) -> Plant:
    plant = Plant(start_c=300.0, water_kg=0.0, plastic_kg=0.0)
    scene(plant)
    plant.advance(60.0)
    return plant


def differing(a: Sight, b: Sight) -> set[str]:
    return {name for name, x, y in zip(Sight._fields, a, b, strict=True) if x != y}


def sights(scene: Scene, name: str) -> Iterator[tuple[Sight, Sight]]:
    """A sound kiln and one with the fault: at once, and, unless it touches the heat, half a minute later."""
    sound, broken = make(scene), make(scene)
    broken.set_fault(name, True)
    yield sound.sight(), broken.sight()
    if not {"power", "air_flow", "burning"} & set(FAULTS[faults.number(name)].changes):
        sound.advance(30.0)
        broken.advance(30.0)
        yield sound.sight(), broken.sight()


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_changes_exactly_what_it_says(fault: Fault) -> None:
    seen: set[str] = set()
    for scene in SCENES:
        for sound, broken in sights(scene, fault.name):
            seen |= differing(sound, broken)
    assert seen == set(fault.changes)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_switched_off_leaves_no_trace(fault: Fault) -> None:
    for scene in SCENES:
        sound, mended = make(scene), make(scene)
        mended.set_fault(fault.name, True)
        mended.set_fault(fault.name, False)
        assert differing(sound.sight(), mended.sight()) == set()
        sound.advance(30.0)
        mended.advance(30.0)
        assert differing(sound.sight(), mended.sight()) == set()


def test_the_table_is_sound() -> None:
    assert len(set(faults.NAMES)) == len(faults.NAMES)
    for fault in FAULTS:
        assert fault.changes
        assert set(fault.changes) <= set(Sight._fields)
        assert fault.words
        assert fault.part


def test_the_coils_of_the_first_release_keep_their_numbers() -> None:
    """Other programs know a fault by its coil: rows may be added at the end, never moved."""
    assert (
        *("air_open", "air_short", "air_short_unseen", "air_frozen", "air_reversed", "air_reads_low"),
        *("load_open", "load_short", "load_short_unseen", "load_frozen", "load_reversed", "load_reads_low"),
        *(
            "limit_open",
            "limit_short",
            "limit_short_unseen",
            "limit_frozen",
            "limit_reversed",
            "limit_reads_low",
        ),
        *("hot_enclosure", "reader_frozen", "reader_silent", "reader_slow", "reader_misnamed"),
        *("heater_silent", "contacts_silent", "relay_welded", "relay_stuck", "relay_dead"),
        *("element_broken", "element_half", "breaker_tripped", "main_stuck_closed", "main_dead"),
        *("door_opened", "emergency_stop_pressed", "extraction_lost", "nobody_present", "key_removed"),
        *("plastic_burns", "heater_refuses"),
    ) == faults.NAMES


def broken(name: str, start_c: float = 300.0) -> Plant:
    plant = Plant(start_c=start_c, water_kg=0.0, plastic_kg=0.0, noise_k=0.0)
    plant.set_main(True)
    plant.set_fault(name, True)
    return plant


def test_open_and_short_give_no_reading() -> None:
    assert broken("air_open").readings()[0] is None
    assert broken("load_short").readings()[1] is None
    assert broken("limit_open").readings()[2] is None


def test_an_unseen_short_reads_the_enclosure() -> None:
    plant = broken("air_short_unseen")
    assert plant.readings().air_c == plant.enclosure_c()


def test_a_reversed_one_falls_as_the_kiln_heats_and_then_leaves_the_range() -> None:
    assert broken("air_reversed", 20.0).readings().air_c == pytest.approx(20.0)
    assert broken("air_reversed", 100.0).readings().air_c == pytest.approx(-44.0, abs=0.1)  # enclosure 28 C
    assert broken("air_reversed", 400.0).readings().air_c is None


def test_one_that_reads_low_reads_low_in_proportion() -> None:
    plant = broken("load_reads_low", 815.0)
    assert plant.readings().load_c == pytest.approx(99.5 + 0.85 * (815.0 - 99.5), abs=0.1)


def test_a_frozen_one_stands_while_the_others_move() -> None:
    plant = broken("air_frozen")
    before = plant.readings()
    plant.set_heat(True)
    plant.advance(600.0)
    after = plant.readings()
    assert after.air_c == before.air_c == pytest.approx(300.0)
    assert after.load_c is not None
    assert after.load_c > 310.0
    plant.set_fault("air_frozen", False)
    assert plant.readings().air_c == pytest.approx(plant.state.air_probe_c)


def test_a_frozen_reader_keeps_what_each_one_showed_first() -> None:
    plant = broken("air_frozen")
    plant.set_heat(True)
    plant.advance(600.0)
    plant.set_fault("reader_frozen", True)
    first = (plant.readings(), plant.enclosure_c())
    assert first[0].air_c == pytest.approx(300.0)
    plant.advance(600.0)
    assert (plant.readings(), plant.enclosure_c()) == first


def test_half_the_windings_give_half_the_power() -> None:
    plant = broken("element_half")
    plant.set_heat(True)
    assert plant.power_w == 3250.0


def test_burning_plastic_heats_the_air_beyond_what_the_elements_can() -> None:
    burning, full = broken("plastic_burns", 400.0), Plant(start_c=400.0, water_kg=0.0, plastic_kg=0.0)
    full.set_main(True)
    full.set_heat(True)
    burning.advance(60.0)
    full.advance(60.0)
    assert burning.state.air_probe_c > full.state.air_probe_c + 20.0


def test_an_open_door_cools_the_kiln() -> None:
    opened, shut = broken("door_opened", 600.0), Plant(start_c=600.0, water_kg=0.0, plastic_kg=0.0)
    opened.advance(120.0)
    shut.advance(120.0)
    assert opened.state.air_c < shut.state.air_c - 30.0


def test_the_emergency_stop_opens_the_main_contactor_by_wire_unless_that_is_stuck() -> None:
    plant = broken("emergency_stop_pressed")
    plant.set_heat(True)
    assert (plant.power_w, plant.main_aux) == (0.0, False)
    plant.set_fault("main_stuck_closed", True)
    assert (plant.power_w, plant.main_aux) == (6500.0, True)


def test_silence_is_louder_than_slowness() -> None:
    plant = broken("reader_slow")
    assert plant.answers("reader") == "slow"
    plant.set_fault("reader_silent", True)
    assert plant.answers("reader") == "silent"
    assert plant.answers("heater") == "normal"


def test_a_fault_of_no_such_name_is_refused() -> None:
    with pytest.raises(UsageError, match="fault: found 'air_opn', expected one that"):
        Plant().set_fault("air_opn", True)


def test_a_due_fault_is_read_from_its_text() -> None:
    assert faults.due("air_open@90.5") == Due(90.5, "air_open")


@pytest.mark.parametrize(
    "text", ["air_open", "air_open@", "air_open@soon", "air_open@-1", "air_open@nan", "x@1"]
)
def test_a_due_fault_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="expected"):
        faults.due(text)
