"""Proof of presence: one code, used once; guesses are limited."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from controller.presence import CONSOLE, LOCKED_S, TRIES, TRIES_OF_ALL, Presence, read_code


class Console:
    """A console that shows codes, and a clock on the wall."""

    def __init__(self, folder: Path) -> None:
        self.shown: list[str] = []
        self.now_s = 0.0
        self.presence = Presence(folder, lambda: self.now_s, self.shown.append)

    def wrong(self) -> str:
        return f"{(int(self.shown[-1]) + 1) % 10_000:04d}"


def test_the_code_on_the_console_proves_presence_once(tmp_path: Path) -> None:
    console = Console(tmp_path)
    code = console.shown[-1]
    assert console.presence.why_not(code, False) == ""
    assert len(console.shown) == 2
    if console.shown[-1] != code:
        assert console.presence.why_not(code, False) != ""


def test_without_a_code_nothing_is_proven_and_it_says_where_the_code_is(tmp_path: Path) -> None:
    console = Console(tmp_path)
    for nothing in (None, ""):
        assert "console" in console.presence.why_not(nothing, False)


def test_a_turned_key_proves_presence_without_a_code(tmp_path: Path) -> None:
    assert Console(tmp_path).presence.why_not(None, True) == ""


def test_after_five_wrong_codes_even_the_right_one_waits_and_it_is_a_new_one(tmp_path: Path) -> None:
    console = Console(tmp_path)
    for _ in range(TRIES):
        assert console.presence.why_not(console.wrong(), False) != ""
    assert len(console.shown) == 2
    assert "wait" in console.presence.why_not(console.shown[-1], False)
    console.now_s = LOCKED_S
    assert console.presence.why_not(console.shown[-1], False) == ""


def test_the_file_with_the_code_is_for_its_owner_alone(tmp_path: Path) -> None:
    console = Console(tmp_path)
    assert (tmp_path / "presence-code").stat().st_mode & 0o077 == 0
    assert read_code(tmp_path) == console.shown[-1]
    assert read_code(tmp_path / "nowhere") is None


def test_each_further_round_of_wrong_codes_waits_twice_as_long(tmp_path: Path) -> None:
    console, waits = Console(tmp_path), []
    for _ in range(3):
        for _ in range(TRIES):
            says = console.presence.why_not(console.wrong(), False)
        waits.append(says)
        console.now_s += 3600.0
    assert [f"wait {60 * 2**n} s" in says for n, says in enumerate(waits)] == [True, True, True]
    assert console.presence.why_not(console.shown[-1], False) == ""


def test_a_code_counts_once_whoever_else_sends_it_at_the_same_moment(tmp_path: Path) -> None:
    for _ in range(50):
        console = Console(tmp_path)
        code = console.shown[-1]
        with ThreadPoolExecutor(8) as pool:
            why = pool.map(console.presence.why_not, [code] * 8, [False] * 8)
            taken = [one == "" for one in why]
        assert sum(taken) <= 1 + (code in console.shown[1:])


def test_a_folder_that_is_gone_keeps_nobody_from_seeing_the_code(tmp_path: Path) -> None:
    console = Console(tmp_path)
    console.presence._file = tmp_path / "gone" / "presence-code"
    assert console.presence.why_not(console.shown[-1], False) == ""
    assert len(console.shown) == 2


def test_one_device_that_guesses_locks_out_neither_another_nor_the_console(tmp_path: Path) -> None:
    console = Console(tmp_path)
    for _ in range(TRIES):
        assert console.presence.why_not(console.wrong(), False, "page: Mallory's") != ""
    assert "wait" in console.presence.why_not(console.shown[-1], False, "page: Mallory's")
    assert console.presence.why_not(console.shown[-1], False, "page: Ada's phone") == ""
    assert "wait" in console.presence.why_not(console.shown[-1], False, "page: Mallory's")


def test_many_devices_that_guess_together_lock_out_every_device_but_never_the_console(tmp_path: Path) -> None:
    console = Console(tmp_path)
    for n in range(TRIES_OF_ALL):
        assert "wrong code" in console.presence.why_not(console.wrong(), False, f"page: guesser {n}")
    assert "wait" in console.presence.why_not(console.shown[-1], False, "page: Ada's phone")
    assert console.presence.why_not(console.shown[-1], False, CONSOLE) == ""


def test_the_console_may_mistype_as_often_as_it_likes(tmp_path: Path) -> None:
    console = Console(tmp_path)
    for _ in range(TRIES_OF_ALL + 1):
        assert "wrong code" in console.presence.why_not(console.wrong(), False, CONSOLE)
    assert len(console.shown) == 1
    assert console.presence.why_not(console.shown[-1], False, "page") == ""


def test_a_console_that_was_closed_keeps_nobody_at_the_kiln_from_the_code(tmp_path: Path) -> None:
    """The page and the command line go on; the code is still in its file for the controller's user."""

    def closed(_code: str) -> None:
        raise BrokenPipeError

    presence = Presence(tmp_path, lambda: 0.0, closed)
    for _ in range(2):
        assert presence.why_not(read_code(tmp_path), False) == ""
