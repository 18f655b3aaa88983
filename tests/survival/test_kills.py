"""What is killed loses no heat, no record and no count: a short cut of `make campaign`, with its seeds."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.survival.kills import controller_kills, web_kills

pytestmark = [pytest.mark.wire, pytest.mark.timeout(180)]


def test_a_controller_that_is_killed_again_and_again_keeps_its_word(tmp_path: Path) -> None:
    tally = controller_kills(tmp_path, 3, seed=11, to_the_end=True)
    assert tally.trouble == []
    assert (tally.kills, tally.resumed) == (3, 3)


def test_a_page_that_is_killed_disturbs_no_tick(tmp_path: Path) -> None:
    tally = web_kills(tmp_path, 2, seed=12)
    assert tally.trouble == []
    assert tally.kills == 2
