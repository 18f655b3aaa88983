"""What is written is what the code does: pages made from tables, commands and settings all documented."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Callable

import pytest

from controller.catalogue import EVENTS, say, severity
from controller.guard import ROWS
from tests.bench.__main__ import SUBJECTS
from tests.docs.pages import PARTS, ROOT, part_of

README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = [*ROOT.glob("*.md"), *ROOT.glob("hardware_notes/**/*.md")]


@pytest.mark.parametrize(("file", "name", "make"), PARTS, ids=[f"{f}-{n}" for f, n, _ in PARTS])
def test_a_page_says_what_the_table_says(file: str, name: str, make: Callable[[], str]) -> None:
    text = (ROOT / file).read_text(encoding="utf-8")
    start, stop = part_of(text, name)
    assert text[start:stop] == make(), "run `make docs`"


def test_the_readme_opens_with_the_job_and_shows_the_two_commands() -> None:
    first, second = README.split("\n\n")[:2]
    assert first.startswith("# Stokehold")
    for word in ("shell", "kiln", "burnout", "pour", "phone"):
        assert word in second.lower(), word
    assert "make demo" in README
    assert "make test" in README


def test_every_picture_and_page_that_is_named_is_there() -> None:
    assert len(PAGES) >= 4
    for page in PAGES:
        for target in re.findall(r"\]\((?!http|#)([^)#]+)[^)]*\)", page.read_text(encoding="utf-8")):
            assert (page.parent / target).exists(), f"{page.name}: {target}"


def test_every_page_that_tells_someone_to_wire_says_what_comes_first() -> None:
    for name in ("README.md", "hardware_notes/README.md"):
        text = " ".join((ROOT / name).read_text(encoding="utf-8").lower().replace("*", "").split())
        for words in ("independent over-temperature limit", "licensed electrician", "local code", "fumes"):
            assert words in text, f"{name}: {words}"


def test_every_event_can_be_said_and_names_only_fields_that_it_has() -> None:
    for kind in EVENTS.values():
        assert set(re.findall(r"\{(\w+)", kind.message)) <= set(kind.fields), kind.id
        fields = {name: 1.0 if name.endswith(("_s", "_c")) else 1 for name in kind.fields}
        assert "{" not in say(kind.id, fields)


def test_an_event_of_another_version_is_told_as_it_was_kept() -> None:
    assert say("moon_rose", {"phase": "full"}) == "moon rose (phase full)"
    assert severity("moon_rose") == "warning"


def test_every_event_that_the_code_makes_is_in_the_catalogue() -> None:
    made = set()
    for path in (ROOT / "controller").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        made |= set(re.findall(r"(?:\bEvent\(|\bevent\(|told\.append\(\(|return \[\()\s*\"(\w+)\"", text))
    assert made >= {"stage_began", "trip", "controller_started"}
    assert made <= set(EVENTS) | {"alarm"}, made - set(EVENTS)


def test_the_version_is_in_the_changelog() -> None:
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    assert f"## {version}" in (ROOT / "CHANGELOG.md").read_text()


def test_every_interlock_is_on_the_operator_s_page() -> None:
    page = (ROOT / "hardware_notes/interlocks.md").read_text(encoding="utf-8")
    assert all(f"`{row.id}`" in page for row in ROWS)


def test_every_figure_of_the_bench_is_explained_and_no_other() -> None:
    made = set()
    for subject in SUBJECTS:
        for node in ast.walk(ast.parse((ROOT / "tests" / "bench" / f"{subject}.py").read_text("utf-8"))):
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                made.add(f"{node.values[0].value}*")
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                made.add(node.value)
    first_words = "|".join({"wire", *SUBJECTS} - {"latency", "page"})
    made = {key for key in made if re.fullmatch(rf"(?:{first_words})\.[a-z0-9_.]+(?:\*|[a-z0-9])", key)}
    told = re.findall(r"^\| `([a-z0-9_.]+\*?)` \|", README.partition("\n## Figures")[2], re.MULTILINE)
    assert sorted(told) == sorted(made)
