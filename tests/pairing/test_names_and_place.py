"""A device's name is one plain line; the page's address is what another device can type."""

from __future__ import annotations

from pathlib import Path

import pytest

from controller.errors import UsageError
from controller.pairing.names import LONGEST_NAME, by_device, device_name
from controller.pairing.place import Place, forget_place, read_place, say_place
from controller.pairing.secret import hash_of, new_token


@pytest.mark.parametrize(
    ("given", "name"),
    [
        ("Ada's phone", "Ada's phone"),
        ("  Ada's \n\t phone ", "Ada's phone"),
        ("Ada\x1b[31m", "Ada[31m"),
        ("Ada\u202ePhone\u200b", "AdaPhone"),
        ("Ada\u00a0\u2028Phone", "Ada Phone"),
        ("Ada\x00\x85\ud800", "Ada"),
        ("e\u0301", "\u00e9"),
        ("<script>alert(1)</script>", "<script>alert(1)</script>"),
    ],
)
def test_what_cannot_be_seen_is_left_out_of_a_name(given: str, name: str) -> None:
    assert device_name(given) == name


@pytest.mark.parametrize("given", ["", "   ", "\u200b\x1b", "x" * (LONGEST_NAME + 1)])
def test_nothing_and_too_much_are_no_name(given: str) -> None:
    with pytest.raises(UsageError, match="expected 1 to 32 that can be seen"):
        device_name(given)


def test_who_asked_fits_into_the_records_forty_characters() -> None:
    assert by_device("Ada's phone") == "page: Ada's phone"
    assert len(by_device("x" * LONGEST_NAME)) <= 40


@pytest.mark.parametrize(
    ("place", "address"),
    [
        (Place(False, "198.51.100.7", 8321, "", False), "http://198.51.100.7:8321"),
        (Place(True, "0.0.0.0", 8321, "kiln.example", False), "https://kiln.example:8321"),
        (Place(False, "2001:db8::7", 8321, "", False), "http://[2001:db8::7]:8321"),
        (Place(False, "127.0.0.1", 8321, "kiln.example", True), "https://kiln.example"),
    ],
)
def test_the_pages_address(place: Place, address: str) -> None:
    assert place.address() == address


def test_where_the_page_is_is_kept_while_it_serves(tmp_path: Path) -> None:
    place = Place(False, "0.0.0.0", 8321, "", False)
    assert read_place(tmp_path) is None
    say_place(tmp_path, place)
    assert read_place(tmp_path) == place
    forget_place(tmp_path)
    assert read_place(tmp_path) is None


def test_a_token_has_256_bits_and_only_its_hash_is_known_by_sight() -> None:
    tokens = {new_token() for _ in range(50)}
    assert len(tokens) == 50
    assert all(len(token) == 43 for token in tokens)  # 32 bytes, six bits a character
    # FIPS 180-4, the example "abc" of SHA-256 (NIST's example file).
    assert hash_of("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
