"""A place in one written word: steps forward, or an error that names the character.

Which words there are is left to `notation`.
"""

from __future__ import annotations

import re
from fractions import Fraction

from cogtally.gears.errors import UserError
from cogtally.gears.words import (
    FEWEST_TEETH,
    LONGEST_NAME,
    LONGEST_NUMBER,
    MOST_TEETH,
    MOST_TIMES,
    Count,
)

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_DIGITS = re.compile(r"[0-9]+")
_DECIMAL = re.compile(r"[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+")
#: What an error shows of a word, and of what is left of it.
LONGEST_SHOWN, LONGEST_REST = 40, 20

FORMS = "write a pair 1=14/31, a wheel 1.driver=14 or a turn test 1@4:1.1"


def _safe(text: str, longest: int) -> str:
    """Return text of others with all that a terminal would obey replaced, cut where it is long."""
    text = text if len(text) <= longest else text[: longest - 3] + "…"
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


class Scanner:
    """A place in one word; `option` is the option whose value it is, for errors, else empty."""

    def __init__(self, text: str, option: str = "") -> None:
        self.text = text
        self.option = option
        self.at = 0

    def peek(self) -> str:
        """Return the next character, empty at the end."""
        return self.text[self.at : self.at + 1]

    def shown(self) -> str:
        """Return the word as an error shows it: short, and safe for a terminal."""
        text = _safe(self.text, LONGEST_SHOWN)
        return f"{self.option} {text}" if self.option else text

    def take(self, literal: str) -> bool:
        """Step over `literal` if it comes next, and tell whether it did."""
        if self.text.startswith(literal, self.at):
            self.at += len(literal)
            return True
        return False

    def error(self, what: str, mend: str, back: int = 0) -> UserError:
        """Return the error that `what` is wrong here, or so many characters `back`."""
        place = self.at - back
        rest = _safe(self.text[place:], LONGEST_REST)
        read = f"read '{rest}'" if rest else "the word ends"
        return UserError(f"at character {place + 1} {read}: {what}", self.shown(), mend)

    def end(self, mend: str) -> None:
        """Raise UserError unless the word ends here."""
        if self.at < len(self.text):
            raise self.error("nothing more was expected", mend)

    def name(self, mend: str = FORMS) -> str:
        """Read a name of letters, digits and `-`; raise UserError."""
        found = _NAME.match(self.text, self.at)
        if found is None:
            raise self.error("a name of letters, digits and '-' was expected", mend)
        if len(found[0]) > LONGEST_NAME:
            raise self.error(f"a name has at most {LONGEST_NAME} characters", "use a shorter name")
        self.at = found.end()
        return found[0]

    def number(self, what: str, mend: str) -> int:
        """Read a whole number, of which an error speaks as `what`; raise UserError."""
        found = _DIGITS.match(self.text, self.at)
        if found is None:
            raise self.error(f"{what} was expected", mend)
        if len(found[0]) > LONGEST_NUMBER:
            raise self.error("the number is too long", mend)
        self.at = found.end()
        return int(found[0])

    def count(self, wheel: str, mend: str = "a count is a number of teeth, or _") -> Count | None:
        """Read one count of `wheel`, None for `_`; raise UserError."""
        if self.take("_"):
            return None
        start = self.at
        teeth = self.number("a count of teeth, or _,", mend)
        if not FEWEST_TEETH <= teeth <= MOST_TEETH:
            self.at = start
            raise self.error(f"a count is {FEWEST_TEETH} to {MOST_TEETH} teeth", mend)
        unsure = self.take("u")
        if self.peek() == "?":
            raise self.error(f"an unsure count is written {teeth}u", mend)
        times = 1
        if self.take("x"):
            start = self.at
            times = self.number("how many times it was counted", mend)
            if not 1 <= times <= MOST_TIMES:
                self.at = start
                raise self.error(f"x is followed by 1 to {MOST_TIMES}", mend)
        return Count(wheel, teeth, unsure, times)

    def turns(self, mend: str) -> tuple[Fraction, bool]:
        """Read turns, and tell whether they were written as a whole number; raise UserError."""
        start = self.at
        found = _DECIMAL.match(self.text, self.at)
        if found is None:
            raise self.error("turns were expected", mend)
        if len(found[0]) > LONGEST_NUMBER:
            raise self.error("the number is too long", mend)
        self.at = found.end()
        value = Fraction(found[0].replace(",", "."))
        whole = found[0].isdigit()
        if whole and self.take("+"):
            value += self._fraction(self.number("a fraction", mend), mend)
            whole = False
        elif whole and self.peek() == "/" and not self.text.startswith("/held", self.at):
            value = self._fraction(int(value), mend)
            whole = False
        if value <= 0:
            self.at = start
            raise self.error("turns must be more than 0", mend)
        return value, whole

    def _fraction(self, above: int, mend: str) -> Fraction:
        if not self.take("/"):
            raise self.error("'/' of a fraction was expected", mend)
        start = self.at
        below = self.number("the lower half of a fraction", mend)
        if below == 0:
            self.at = start
            raise self.error("nothing can be divided by 0", mend)
        return Fraction(above, below)
