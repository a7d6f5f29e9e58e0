"""What was seen on one box, word by word: counts and turn tests, and the limits of each.

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
