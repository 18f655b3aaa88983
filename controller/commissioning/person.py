"""The person at the kiln: what they are told, what they answer. Tests hand in a script."""

from __future__ import annotations

from typing import Protocol

from controller.errors import UsageError


class Person(Protocol):
    """Whoever stands at the kiln."""

    def tell(self, line: str) -> None:
        """Say a line."""

    def ask(self, question: str) -> str:
        """Ask a question and return what was typed, without blanks at its ends."""


class Console:
    """A person at this terminal."""

    def tell(self, line: str) -> None:
        """Print a line."""
        print(line, flush=True)

    def ask(self, question: str) -> str:
        """Print a question and read a line. Raises UsageError when there is nobody to answer."""
        try:
            return input(f"{question} > ").strip()
        except EOFError:
            raise UsageError(
                "stokehold commission: found the end of the input, expected a person who answers; "
                "what was done is kept, and it can be continued"
            ) from None


def says_yes(person: Person, question: str) -> bool:
    """Ask a question that is answered by yes or no; whatever is not yes is no."""
    return person.ask(f"{question} (yes or no)").lower() in ("yes", "y")
