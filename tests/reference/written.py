"""Knows how the words of what was seen are read: pairs, wheels, counts and turn tests.

Leaves what they are worth to `laws`, and whether a family has such a thing to the enumeration.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction

from .laws import (
    FIRST,
    LAST,
    TURN_SLIP,
    TURN_SPAN,
    Count,
    between_density,
    likeliest,
    normal_density,
)
from .looks import Looks

NOTHING_LOOKED_AT = Looks()
NAME = r"[A-Za-z0-9-]{1,20}"
_PAIR = re.compile(rf"({NAME})=([^/]+)/([^/]+)(?:/([^/]+))?")
_WHEEL = re.compile(rf"({NAME}\.(?:driver|idler|driven))=(.+)")
_TURN = re.compile(rf"({NAME}(?:\+{NAME})*)@([^:]+):([^:]+?)(/held)?")
_COUNT = re.compile(r"([0-9]+)(u)?(?:x([0-9]+))?")
_WHOLE = re.compile(r"[0-9]+")
_DECIMAL = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_FRACTION = re.compile(r"(?:([0-9]+)\+)?([0-9]+)/([0-9]+)")


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn test: the gears it goes through, turns in and out, which end was read."""

    gears: tuple[str, ...]
    turns_in: Fraction
    turns_out: Fraction
    input_read: bool
    held: bool

    def reading(self) -> float:
        """Return the turns that were read off."""
        return float(self.turns_in if self.input_read else self.turns_out)

    def mean(self, ratio: Fraction) -> float:
        """Return the turns that a ratio (in over out) would give at the end that was read."""
        twice = 2 if self.held else 1
        if self.input_read:
            return float(ratio * self.turns_out / twice)
        return float(twice * self.turns_in / ratio)

    def slip(self) -> float:
        """Return the density of the reading where there is no ratio."""
        return 1 / (self.reading() * TURN_SPAN)

    def density(self, ratio: Fraction | None) -> float:
        """Return the density of the reading under a ratio, or under none."""
        # reading: the normal is not divided by its share of the range allowed.
        if ratio is None:
            return self.slip()
        return (1 - TURN_SLIP) * normal_density(
            self.reading(), self.mean(ratio)
        ) + TURN_SLIP * self.slip()

    def density_between(self, low: Fraction, high: Fraction) -> float:
        """Return the density of the reading under a printed ratio's interval."""
        # reading: it is the mean reading that lies evenly, not the ratio.
        ends = sorted((self.mean(low), self.mean(high)))
        return (1 - TURN_SLIP) * between_density(
            self.reading(), ends[0], ends[1]
        ) + TURN_SLIP * self.slip()


@dataclass(slots=True)
class Seen:
    """All that was seen: counts by the name of the wheel as written, turn tests, looks."""

    counts: dict[str, list[Count]] = field(default_factory=dict)
    turns: list[Turn] = field(default_factory=list)
    looks: Looks = NOTHING_LOOKED_AT

    def likeliest(self, names: Iterable[str]) -> int | None:
        """Return the likeliest teeth of the wheel with these names, None where not counted."""
        pooled = [one for name in names for one in self.counts.get(name, [])]
        return likeliest(pooled) if pooled else None


def read_count(text: str) -> list[Count]:
    """Return the counts of one written count, none for `_`."""
    if text == "_":
        return []
    match = _COUNT.fullmatch(text)
    if not match or not FIRST <= int(match[1]) <= LAST or not 1 <= int(match[3] or 1) <= 99:
        raise ValueError(f"no count: {text}")
    return [(int(match[1]), match[2] is not None)] * int(match[3] or 1)


def _turns(text: str) -> Fraction:
    if _DECIMAL.fullmatch(text):
        return Fraction(text)
    match = _FRACTION.fullmatch(text)
    if not match:
        raise ValueError(f"no turns: {text}")
    return int(match[1] or 0) + Fraction(int(match[2]), int(match[3]))


def _read_turn(match: re.Match[str]) -> Turn:
    turns_in, turns_out = _turns(match[2]), _turns(match[3])
    # reading: the range 0.2…20 is of the written turns in over turns out, /held or not.
    if turns_out <= 0 or not Fraction(1, 5) <= turns_in / turns_out <= 20:
        raise ValueError(f"turns in over turns out beyond 0.2 to 20: {match[0]}")
    # reading: whole as written, a bare run of digits; `24/12` and `1.0` are not whole.
    only_out_whole = bool(_WHOLE.fullmatch(match[3])) and not _WHOLE.fullmatch(match[2])
    return Turn(tuple(match[1].split("+")), turns_in, turns_out, only_out_whole, bool(match[4]))


def read_words(words: Iterable[str]) -> Seen:
    """Return what was seen from its words; ValueError for a word that is none."""
    seen = Seen()

    def keep(name: str, text: str) -> None:
        counts = read_count(text)
        if counts:
            seen.counts.setdefault(name, []).extend(counts)

    for word in words:
        if match := _TURN.fullmatch(word):
            seen.turns.append(_read_turn(match))
        elif match := _WHEEL.fullmatch(word):
            keep(match[1], match[2])
        elif match := _PAIR.fullmatch(word):
            parts = ["driver", "driven"] if match[4] is None else ["driver", "idler", "driven"]
            for part, text in zip(parts, match.groups()[1:], strict=False):
                keep(f"{match[1]}.{part}", text)
        else:
            raise ValueError(f"neither pair, wheel nor turn test: {word}")
    return seen
