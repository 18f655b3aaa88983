"""A job sheet's file, read: `load_job(path)`. All its mistakes are told at once, each with its line.

The file is TOML: `title` at the top, then the tables `[pattern]`, `[shell]` and `[metal]`. `KEYS` is the
one table of what they may hold. Nothing has to stand there.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from controller.forecast.job import JobSheet
from controller.forecast.quantities import celsius, length_m, mass_kg, part, seconds, whole
from controller.physics.material import MATERIALS
from controller.physics.metal import METALS
from controller.physics.mould import MOULDS
from controller.schedule.fields import Fields
from controller.schedule.forms import line_of_text, one_of, yes_or_no
from controller.schedule.keys import Key
from controller.schedule.located import FileProblems, Located, decode, load_toml, read_toml

TITLE = Key("title", line_of_text(100), False, "what the job is", '"Otter, left half"')

KEYS: dict[str, dict[str, Key]] = {
    "pattern": {
        "material": Key("material", one_of(*MATERIALS), False, "what the pattern is made of", '"PLA"'),
        "pattern_kg": Key("mass", mass_kg(1e-3, 50.0), False, "the pattern's plastic, weighed", '"480 g"'),
        "fill": Key(
            "fill", part(0.02, 1.0), False, "plastic in the pattern's volume, skin included", '"30 %"'
        ),
        "skin_m": Key("skin", length_m(0.2e-3, 0.02), False, "thickness of its outer walls", '"1.2 mm"'),
        "thickest_m": Key("thickest", length_m(1e-3, 0.5), False, "its thickest part", '"40 mm"'),
        "height_m": Key("height", length_m(5e-3, 2.0), False, "from its top to the drain", '"150 mm"'),
        "drained_kg": Key("drained", mass_kg(0.0, 50.0), False, "plastic that ran out, weighed", '"310 g"'),
    },
    "shell": {
        "coats": Key("coats", whole(1, 40), False, "how many coats", "9"),
        "thickness_m": Key("thickness", length_m(1e-3, 0.2), False, "the wall, measured", '"9 mm"'),
        "dry_kg": Key("dry", mass_kg(0.01, 300.0), False, "the shell alone, dry", '"3.1 kg"'),
        "wet_kg": Key("wet", mass_kg(0.01, 300.0), False, "the shell alone, with its water", '"3.3 kg"'),
        "mould": Key("mould", one_of(*MOULDS), False, "what is fired", '"silica shell"'),
        "reheated": Key("reheated", yes_or_no, False, "fired before, and empty", "true"),
    },
    "metal": {
        "metal": Key("metal", one_of(*METALS), False, "what is poured", '"silicon bronze"'),
        "metal_kg": Key(
            "mass", mass_kg(1e-3, 500.0), False, "all metal to melt; absent: worked out", '"3 kg"'
        ),
        "pour_c": Key("pour_at", celsius(100.0, 1700.0), False, "the metal at the pour", '"1090 C"'),
        "melt_s": Key("melt_time", seconds(60.0, 86400.0), False, "from lighting to ready", '"50 min"'),
        "sprue_part": Key(
            "sprue", part(0.0, 10.0), False, "metal beside the piece, over the piece", '"35 %"'
        ),
        "loss_part": Key("loss", part(0.0, 0.5), False, "metal lost in melting", '"3 %"'),
    },
}
"""Table, then the field of `JobSheet` that a key fills, then the key."""


def load_job(path: Path | str) -> JobSheet:
    """Return a job sheet's file. Raises UsageError if unreadable, FileProblems with all its mistakes."""
    return _read(load_toml(Path(path)))


def read_job(text: str, file: str) -> JobSheet:
    """Return a job sheet from its text; `file` is its name in messages. Raises FileProblems."""
    return _read(read_toml(decode(text.encode("utf-8", "surrogatepass"), file), file))


def _read(located: Located) -> JobSheet:
    top = Fields(located, (), "", located.data)
    top.read([TITLE], also_known=KEYS)
    tables = [_table(top, name) for name in KEYS]
    values = {
        field: value
        for table, name in zip(tables, KEYS, strict=True)
        for field, value in _values(table, name)
    }
    _together(tables, values)
    problems = [problem for fields in (top, *tables) for problem in fields.problems]
    if problems:
        raise FileProblems(problems)
    return JobSheet(title=top.values.get("title", ""), **values, text=located.text, file=located.file)


def _table(top: Fields, name: str) -> Fields:
    raw = top.table.get(name, {})
    if not isinstance(raw, dict):
        top.complain(name, "something else", f"a table, [{name}]")
        raw = {}
    fields = Fields(top.located, (name,), name, raw)
    fields.read(KEYS[name].values())
    return fields


def _values(table: Fields, name: str) -> Iterator[tuple[str, Any]]:
    for field, key in KEYS[name].items():
        if key.name in table.values:
            yield field, table.values[key.name]


def _together(tables: list[Fields], values: dict[str, Any]) -> None:
    """Complain of values that cannot be true together."""
    pattern, shell, metal = tables
    if _above(values, "drained_kg", "pattern_kg"):
        found = f"{values['drained_kg'] * 1000:g} g"
        pattern.complain("drained", found, f"at most the pattern's mass, {values['pattern_kg'] * 1000:g} g")
    if _above(values, "dry_kg", "wet_kg"):
        found = f"{values['wet_kg']:g} kg"
        shell.complain("wet", found, f"at least the shell's dry mass, {values['dry_kg']:g} kg")
    if "pour_c" in values and "metal" in values:
        solidus_c = METALS[values["metal"]].solidus_c
        if values["pour_c"] <= solidus_c:
            expected = f"above {solidus_c:g} C, where {values['metal']} is solid"
            metal.complain("pour_at", f"{values['pour_c']:g} C", expected)


def _above(values: dict[str, Any], one: str, other: str) -> bool:
    return one in values and other in values and values[one] > values[other]
