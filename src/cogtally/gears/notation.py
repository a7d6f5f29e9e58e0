"""How counts, pairs and turn tests are written and read: one parser for everywhere.

What the counts mean for an answer is left to the evidence.

    word   = pair | wheel | turn
    pair   = NAME "=" count "/" count ["/" count]        driver/driven, driver/idler/driven
    wheel  = NAME "." ("driver" | "idler" | "driven") "=" count
    count  = "_" | 4…200 ["u"] ["x" 1…99]                u: unsure; x3: counted three times
    turn   = NAME {"+" NAME} "@" turns ":" turns ["/held"]
    turns  = decimal | fraction | whole "+" fraction     1.1   7/24   1+1/6
    NAME   = letters, digits, "-", at most 20
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from cogtally.gears.errors import UserError
from cogtally.gears.trains import ROLES_OF_THREE, wheel_names

FEWEST_TEETH = 4
MOST_TEETH = 200
MOST_TIMES = 99
LONGEST_NAME = 20
#: A turn test is refused where in/out lies outside these, so that every reading has support.
LEAST_TURN_RATIO = Fraction(1, 5)
MOST_TURN_RATIO = Fraction(20)
#: Digits in one number of a turn test; more is a slip of the keyboard.
LONGEST_NUMBER = 12

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]*")
_DIGITS = re.compile(r"[0-9]+")
_DECIMAL = re.compile(r"[0-9]+(?:\.[0-9]+)?|\.[0-9]+")
_FORMS = "write a pair 1=14/31, a wheel 1.driver=14 or a turn test 1@4:1.1"


@dataclass(frozen=True, slots=True)
class Count:
    """One count of one wheel: `teeth`, `unsure` or not, the same result so many `times`."""

    wheel: str
    teeth: int
    unsure: bool = False
    times: int = 1


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn test: in `gears` (one after the other) `turns_in` at the input gave `turns_out`.

    `reads_input`: the output was turned to its mark and the input read. `held`: an axle with one
    wheel held, so that the other turned twice as far.
    """

    gears: tuple[str, ...]
    turns_in: Fraction
    turns_out: Fraction
    reads_input: bool = False
    held: bool = False


@dataclass(frozen=True, slots=True)
class Word:
    """One thing seen, as it was written: `text`, with its counts or its turn test.

    `pair` and `size` are given where a whole pair was written; a wheel written `_` has no count.
    """

    text: str
    counts: tuple[Count, ...] = ()
    turn: Turn | None = None
    pair: str | None = None
    size: int = 0


@dataclass(frozen=True, slots=True)
class Seen:
    """All that was seen on one box, in the order in which it was written."""

    words: tuple[Word, ...]

    @property
    def counts(self) -> tuple[Count, ...]:
        """Every count, in written order."""
        return tuple(c for word in self.words for c in word.counts)

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Every turn test, in written order."""
        return tuple(word.turn for word in self.words if word.turn is not None)


def parse_seen(words: Iterable[str]) -> Seen:
    """Read all words of a box; raise UserError at the first that cannot be read."""
    return Seen(tuple(parse_word(word) for word in words))


def parse_word(text: str) -> Word:
    """Read one word of the notation; raise UserError with the character where it goes wrong."""
    if not text:
        raise UserError("an empty word was read", mend=_FORMS)
    scan = _Scanner(text)
    name = scan.name()
    if scan.take("="):
        return _pair(scan, name)
    if scan.take("."):
        return _wheel(scan, name)
    if scan.peek() in ("@", "+"):
        return _turn(scan, name)
    raise scan.error("'=', '.' or '@' is missing after the name", _FORMS)


def parse_count(text: str, wheel: str) -> Count | None:
    """Read one count (`24`, `24u`, `24ux3`; None for `_`) of `wheel`; raise UserError."""
    scan = _Scanner(text)
    count = scan.count(wheel)
    scan.end("a count is a number of teeth, u for unsure, x3 for three times: 24, 24u, 24x3, _")
    return count


def parse_name(text: str, option: str = "") -> str:
    """Read the name of a gear or pair that stands alone; raise UserError.

    Where the text was given to an `option`, its name stands before the text in an error.
    """
    scan = _Scanner(text, option)
    mend = "a name has letters, digits and '-', for example 4 or R1"
    name = scan.name(mend)
    scan.end(mend)
    return name


def parse_chain(text: str, pair: str, option: str = "") -> Word:
    """Read the counts of `pair` written without its name, `9/41`; raise UserError."""
    return _counts(_Scanner(text, option), pair, "write driver/driven, for example 9/41")


def parse_path(text: str, option: str = "") -> tuple[str, tuple[str, ...]]:
    """Read a spelled-out path, `R=input,R1,R2`, as a gear and its pairs; raise UserError."""
    mend = "write GEAR=PAIR,PAIR, for example R=input,R1,R2"
    scan = _Scanner(text, option)
    gear = scan.name(mend)
    if not scan.take("="):
        raise scan.error("'=' is missing after the gear", mend)
    pairs = [scan.name(mend)]
    while scan.take(","):
        pairs.append(scan.name(mend))
    scan.end(mend)
    return gear, tuple(pairs)


def written_count(teeth: int | None, unsure: bool = False) -> str:
    """Return a count as it is written: `24`, `24u`, or `_` where there is none."""
    return "_" if teeth is None else f"{teeth}{'u' if unsure else ''}"


def _pair(scan: _Scanner, name: str) -> Word:
    mend = f"write driver/driven, for example {name}=14/31, or driver/idler/driven"
    return _counts(scan, name, mend, f", or one wheel: {name}.driver=14")


def _counts(scan: _Scanner, name: str, mend: str, or_one_wheel: str = "") -> Word:
    found: list[Count | None] = [scan.count("", mend)]
    while scan.take("/"):
        if len(found) == 3:
            raise scan.error("a pair has two wheels, or three with an idler", mend, back=1)
        found.append(scan.count("", mend))
    if len(found) == 1:
        if scan.peek():
            scan.end(mend)
        raise scan.error("one count alone is no pair", mend + or_one_wheel)
    scan.end(mend)
    names = wheel_names(name, len(found))
    counts = tuple(
        Count(wheel, c.teeth, c.unsure, c.times)
        for wheel, c in zip(names, found, strict=True)
        if c is not None
    )
    return Word(scan.text, counts, pair=name, size=len(found))


def _wheel(scan: _Scanner, name: str) -> Word:
    mend = f"write {name}.driver=14, {name}.idler=20 or {name}.driven=31"
    start = scan.at
    role = next((r for r in ROLES_OF_THREE if scan.take(r)), None)
    if role is None:
        raise UserError(
            f"at character {start + 1} read {scan.rest()!r}: no wheel of a pair is called that",
            scan.shown(),
            mend,
        )
    if not scan.take("="):
        raise scan.error("'=' is missing after the wheel", mend)
    count = scan.count(f"{name}.{role}", mend)
    scan.end(mend)
    return Word(scan.text, () if count is None else (count,))


def _turn(scan: _Scanner, first: str) -> Word:
    gears = [first]
    mend = f"write gear@turns-in:turns-out, for example {first}@4:1.1 or {first}@1:7/24"
    while scan.take("+"):
        gears.append(scan.name())
    if not scan.take("@"):
        raise scan.error("'@' is missing after the gear", mend)
    turns_in, in_is_whole = scan.turns(mend)
    if not scan.take(":"):
        raise scan.error("':' is missing between turns in and turns out", mend)
    turns_out, out_is_whole = scan.turns(mend)
    held = scan.take("/held")
    scan.end(mend + ", with /held at the end where one wheel was held")
    if not LEAST_TURN_RATIO <= turns_in / turns_out <= MOST_TURN_RATIO:
        ratio = f"{float(turns_in / turns_out):.3g}"
        raise UserError(
            f"turns in over turns out is {ratio}, outside 0.2 to 20",
            scan.shown(),
            "turn again and write turns in before the colon, turns out behind it",
        )
    turn = Turn(tuple(gears), turns_in, turns_out, out_is_whole and not in_is_whole, held)
    return Word(scan.text, turn=turn)


class _Scanner:
    """A place in one word; every step forward or an error that names the character."""

    def __init__(self, text: str, option: str = "") -> None:
        self.text = text
        self.option = option
        self.at = 0

    def peek(self) -> str:
        return self.text[self.at : self.at + 1]

    def rest(self) -> str:
        rest = self.text[self.at :]
        return rest if len(rest) <= 20 else rest[:17] + "…"

    def shown(self) -> str:
        """The word as an error shows it: short, and safe for a terminal."""
        text = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in self.text)
        text = text if len(text) <= 40 else text[:37] + "…"
        return f"{self.option} {text}" if self.option else text

    def take(self, literal: str) -> bool:
        if self.text.startswith(literal, self.at):
            self.at += len(literal)
            return True
        return False

    def error(self, what: str, mend: str, back: int = 0) -> UserError:
        place = self.at - back
        rest = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in self.rest())
        read = f"read '{rest}'" if rest else "the word ends"
        return UserError(f"at character {place + 1} {read}: {what}", self.shown(), mend)

    def end(self, mend: str) -> None:
        if self.at < len(self.text):
            raise self.error("nothing more was expected", mend)

    def name(self, mend: str = _FORMS) -> str:
        found = _NAME.match(self.text, self.at)
        if found is None:
            raise self.error("a name of letters, digits and '-' was expected", mend)
        if len(found[0]) > LONGEST_NAME:
            raise self.error(f"a name has at most {LONGEST_NAME} characters", "use a shorter name")
        self.at = found.end()
        return found[0]

    def number(self, what: str, mend: str) -> int:
        found = _DIGITS.match(self.text, self.at)
        if found is None:
            raise self.error(f"{what} was expected", mend)
        if len(found[0]) > LONGEST_NUMBER:
            raise self.error("the number is too long", mend)
        self.at = found.end()
        return int(found[0])

    def count(self, wheel: str, mend: str = "a count is a number of teeth, or _") -> Count | None:
        if self.take("_"):
            return None
        start = self.at
        teeth = self.number("a count of teeth, or _,", mend)
        if not FEWEST_TEETH <= teeth <= MOST_TEETH:
            self.at = start
            raise self.error(f"a count is {FEWEST_TEETH} to {MOST_TEETH} teeth", mend)
        unsure = self.take("u")
        times = 1
        if self.take("x"):
            start = self.at
            times = self.number("how many times it was counted", mend)
            if not 1 <= times <= MOST_TIMES:
                self.at = start
                raise self.error(f"x is followed by 1 to {MOST_TIMES}", mend)
        return Count(wheel, teeth, unsure, times)

    def turns(self, mend: str) -> tuple[Fraction, bool]:
        """Read turns; tell also whether they were written as a whole number."""
        start = self.at
        found = _DECIMAL.match(self.text, self.at)
        if found is None:
            raise self.error("turns were expected", mend)
        if len(found[0]) > LONGEST_NUMBER:
            raise self.error("the number is too long", mend)
        self.at = found.end()
        value = Fraction(found[0])
        if self.peek() == ",":
            raise self.error("a decimal is written with a point", mend)
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
