"""What people saw is written beside the journal and read again."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.errors import RecordError
from controller.record.journal import Journal
from controller.record.observed import (
    image,
    observations,
    observations_of_all,
    photos,
    photos_size,
)
from controller.record.observing import write_observation, write_photo
from controller.record.rows import ObservationSeen, PhotoRow, PhotoSeen
from tests.record.conftest import FIRING, a_tick


@pytest.fixture
def record(tmp_path: Path) -> Path:
    with Journal(tmp_path / "record.db", flush_every_s=0.01) as journal:
        journal.open_firing(FIRING)
        journal.open_firing(FIRING)
    return tmp_path / "record.db"


PHOTO = PhotoRow(5.0, "page", 3, "crack", "at the rim", "image/jpeg", 40, 30, b"\xff\xd8 and more")


def test_an_observation_is_kept_with_its_firing_stage_and_words(record: Path) -> None:
    number = write_observation(record, 1, "page", "crack", {"how_many": 2, "where": "rim"}, 7.0, stage=3)
    later = write_observation(record, 1, "console", "rating", {"rating": "scrap", "says": "Fuß"}, 9.0)
    assert observations(record, 1) == [
        ObservationSeen(number, 7.0, "page", 3, "crack", {"how_many": 2, "where": "rim"}),
        ObservationSeen(later, 9.0, "console", None, "rating", {"rating": "scrap", "says": "Fuß"}),
    ]
    assert observations(record, 2) == []


def test_of_all_firings_everything_is_read_but_ticks(record: Path) -> None:
    write_observation(record, 2, "page", "drained", {"kg": 0.3}, 7.0, stage=3)
    write_observation(record, 1, "page", "tick", {"says": "Tray out", "done": True}, 8.0, stage=3)
    write_observation(record, 2, "page", "rating", {"rating": "good"}, 9.0)
    found = observations_of_all(record)
    assert {firing: [each.kind for each in seen] for firing, seen in found.items()} == {
        2: ["drained", "rating"]
    }


def test_a_photograph_is_kept_whole_and_listed_without_its_bytes(record: Path) -> None:
    number = write_photo(record, 2, PHOTO)
    assert photos(record, 2) == [PhotoSeen(number, 5.0, "page", 3, "crack", "at the rim", 40, 30)]
    assert image(record, number) == ("image/jpeg", PHOTO.image)
    assert image(record, number + 1) is None
    assert photos_size(record, 2) == (1, len(PHOTO.image))
    assert photos_size(record, 1) == (0, 0)


def test_a_firing_that_is_not_there_is_one_line(record: Path) -> None:
    for write in (
        lambda: write_observation(record, 9, "page", "drained", {"kg": 1.0}, 1.0),
        lambda: write_photo(record, 9, PHOTO),
    ):
        with pytest.raises(RecordError, match="found no firing 9"):
            write()


def test_it_is_written_while_the_journal_goes_on(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Journal(path, flush_every_s=0.005) as journal:
        firing = journal.open_firing(FIRING)
        while journal.waiting:
            pass
        for n in range(40):
            journal.tick(firing, a_tick(n))
            write_photo(path, firing, PHOTO._replace(image=bytes(200_000)))
        assert journal.healthy is None
    assert photos_size(path, firing) == (40, 8_000_000)
    assert journal.lost == 0
