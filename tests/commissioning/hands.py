"""A kiln in this process, and a person with a script who does as told and answers what is asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from controller.commissioning import rig
from controller.commissioning.course import CARRY_OUT
from controller.commissioning.result import Check, Done
from controller.commissioning.table import LIMIT_SENTENCE, step_named
from controller.config import KilnConfig, read_kiln
from controller.simulator import process
from controller.simulator.plant import Plant
from tests.in_process import PlantInputs, PlantOutput

TEXT = process.demo_config(5020)
CONFIG = read_kiln(TEXT, "kiln.toml")
REAL = read_kiln(TEXT.replace("simulated = true", "simulated = false"), "kiln.toml")

FAULT_OF = {
    "door": ("door_opened", "Open the door", "Close the door"),
    "emergency_stop": ("emergency_stop_pressed", "Press the emergency stop", "Release the emergency stop"),
    "extraction": ("extraction_lost", "Switch the extraction off", "Switch the extraction on"),
    "key": ("key_removed", "Take the key out", "Put the key in"),
}
ANSWERS = {
    "thermometer": "20 C",
    "breaker or isolator off": "yes",
    "type: the limit": LIMIT_SENTENCE,
    "empty and shut": "yes",
    "may it be cleared": "yes",
    "Type again": "stop",
}


class PlantClock:
    """The plant's own time: whoever sleeps by it moves the plant on."""

    def __init__(self, plant: Plant) -> None:
        self._plant = plant

    def now_s(self) -> float:
        return self._plant.now_s

    def utc_s(self) -> float:
        return self._plant.now_s

    def sleep_until(self, t_s: float) -> None:
        while (left_s := t_s - self._plant.now_s) > 1e-9:
            self._plant.advance(min(1.0, left_s))


class Inputs(PlantInputs):
    """The plant's inputs; `blind` names read-backs that the kiln does not have."""

    blind: tuple[str, ...] = ()
    is_open = True

    def poll(self) -> Any:
        polled = super().poll()
        return polled._replace(**dict.fromkeys(self.blind))

    def close(self) -> None:
        self.is_open = False


class Output(PlantOutput):
    """The plant's heat output, with or without a main contactor and with or without a time-out of its own."""

    has_hardware_lease = True
    has_main = True

    def energise(self, lease_s: float) -> None:
        self._heard()
        self._plant.set_heat(True, lease_s if self.has_hardware_lease else 0.0)

    def close_main(self) -> None:
        if self.has_main:
            super().close_main()

    def open_main(self) -> None:
        if self.has_main:
            super().open_main()


class Hands:
    """A person with a script. `acts`: what they do when told something; `answers`: what they type."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.asked: list[str] = []
        self.answers = dict(ANSWERS)
        self.acts: dict[str, Callable[[], object]] = {}

    def tell(self, line: str) -> None:
        self.told.append(line)
        for words, act in self.acts.items():
            if words in line:
                act()

    def ask(self, question: str) -> str:
        self.asked.append(question)
        found = [answer for words, answer in self.answers.items() if words in question]
        assert found, question
        return found[0]


class Kiln:
    """A plant on a bench, with a person who does as told."""

    def __init__(self, home: Path, config: KilnConfig = CONFIG, plant: Plant | None = None) -> None:
        self.plant = plant or Plant(water_kg=0.0, plastic_kg=0.0)
        self.hands = Hands()
        self.hardware_lease = True
        self.opened: list[bool] = []
        self.board = False
        self._inputs: list[Inputs] = []
        self.bench = rig.Bench(config, home, PlantClock(self.plant), self.hands, self.open)
        self._teach()

    def open(self, config: KilnConfig, _now: Callable[[], float]) -> tuple[Inputs, Output]:
        """Open the plant as the wire opens a kiln of this configuration."""
        assert not any(inputs.is_open for inputs in self._inputs), "a serial port can be opened only once"
        inputs, output = Inputs(self.plant), Output(self.plant)
        self._inputs.append(inputs)
        output.has_hardware_lease = self.hardware_lease
        output.has_main = config.main_contactor is not None
        blind = () if rig.reads_back(config.heater) else ("heat_on",)
        sees_main = self.board or rig.reads_back(config.main_contactor)
        inputs.blind = blind if sees_main else (*blind, "main_on")
        self.opened.append(output.has_main)
        return inputs, output

    def do(self, name: str) -> Done:
        """Carry out one step by itself."""
        step = step_named(self.bench.config, name)
        return CARRY_OUT[step.kind.id](self.bench, step)

    def configured(self, **changes: Any) -> None:
        """Change the kiln's configuration."""
        self.bench = replace(self.bench, config=replace(self.bench.config, **changes))

    def warm(self, role: str, by_k: float = 8.0) -> None:
        """Warm one thermocouple's tip by hand."""
        name = f"{role}_probe_c"
        self.plant.state = self.plant.state._replace(**{name: getattr(self.plant.state, name) + by_k})

    def _teach(self) -> None:
        for role in ("air", "load", "limit"):
            self.hands.acts[f"Warm the {role} "] = lambda role=role: self.warm(role)
        for fault, opens, closes in FAULT_OF.values():
            self.hands.acts[opens] = lambda fault=fault: self.plant.set_fault(fault, True)
            self.hands.acts[closes] = lambda fault=fault: self.plant.set_fault(fault, False)


def failed(done: Done) -> list[str]:
    """Return what failed, by the checks' names."""
    return [check.what for check in done.checks if not check.passed]


def check_of(done: Done, words: str) -> Check:
    """Return the check whose name has these words."""
    return next(check for check in done.checks if words in check.what)
