"""The words that a shell offers are written anew after every command that changes the book.

What the words are is left to the catalog.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from cogtally.cli.known import asked_book


def completing(command: Callable[..., None]) -> Callable[..., None]:
    """Return a command that, done without an error, writes the words of the book it changed.

    The command has the option `catalog`, the book as typed.
    """

    @wraps(command)
    def then_words(**given: Any) -> None:
        command(**given)
        book = asked_book(given.get("catalog"))
        if book.exists():
            from cogtally.catalog.words import write_words

            write_words(book)

    return then_words
