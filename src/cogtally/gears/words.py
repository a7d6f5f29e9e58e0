"""What was seen on one box: counts, turn tests, marks and features, and the limits of each.

How they are written is left to `notation`, what they mean for an answer to the evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

FEWEST_TEETH = 4
MOST_TEETH = 200
MOST_TIMES = 99
LONGEST_NAME = 20
#: A turn test is refused where in/out lies outside these, so that every reading has support.
LEAST_TURN_RATIO = Fraction(1, 5)
MOST_TURN_RATIO = Fraction(20)
#: Digits in one number of a turn test; more is a slip of the keyboard.
LONGEST_NUMBER = 12


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

    `pair` and `size` are given where a whole pair was written, `wheel` where one wheel was; what
    is written `_` has no count.
    """

    text: str
    counts: tuple[Count, ...] = ()
    turn: Turn | None = None
    pair: str | None = None
    size: int = 0
    wheel: str | None = None


@dataclass(frozen=True, slots=True)
class ReadMark:
    """What was read of a mark on `piece` (empty: the loose piece itself), `text` as written.

    `reading` has small letters and digits, `?` for one character that could not be read, `*` for
    any number of them.
    """

    piece: str
    reading: str
    text: str


@dataclass(frozen=True, slots=True)
class ReadFeature:
    """A feature that was looked at, `text` as written.

    `owner`: a wheel or a piece; of a loose piece empty, or the place of a wheel. `value`: a count,
    a size in the unit that the feature's name ends with, or a kind; the same so many `times`.
    """

    owner: str
    feature: str
    value: str | int | float
    unsure: bool = False
    times: int = 1
    text: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """All that was seen on one box, each kind in the order in which it was written."""

    words: tuple[Word, ...]
    marks: tuple[ReadMark, ...] = ()
    features: tuple[ReadFeature, ...] = ()

    @property
    def counts(self) -> tuple[Count, ...]:
        """Every count, in written order."""
        return tuple(c for word in self.words for c in word.counts)

    @property
    def turns(self) -> tuple[Turn, ...]:
        """Every turn test, in written order."""
        return tuple(word.turn for word in self.words if word.turn is not None)

    @property
    def looks(self) -> tuple[ReadMark | ReadFeature, ...]:
        """Every mark and feature that was looked at: marks first, then features."""
        return (*self.marks, *self.features)
