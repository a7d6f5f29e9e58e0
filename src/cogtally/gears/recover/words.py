"""How printed ratios, counted wheels and ranges of teeth are written where teeth are sought.

What a count is and how it is written belongs to `notation`, what a ratio is to `printed`.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_name, parse_word
from cogtally.gears.printed import parse_ratio, shown
from cogtally.gears.recover.problem import Span
from cogtally.gears.words import LONGEST_NUMBER, Word

_NAMED = re.compile(r"([^=@.+/]+)=([^/_]*)")
_SPAN = re.compile(r"([0-9]+)(?:-([0-9]+))?")
_WHOLE = re.compile(r"[0-9]+")


@dataclass(frozen=True, slots=True)
class Sought:
    """What was written: `gears`, each with its ratio as printed, and the `counted` wheels.

    `unsure`: wheels of which no sure count was written.
    """

    gears: Mapping[str, str]
    counted: Mapping[str, int]
    unsure: tuple[str, ...]


def parse_sought(words: Iterable[str]) -> Sought:
    """Read printed ratios and counts: `3.65`, `2=2.25`, `1=14/_`, `input.driver=17`.

    Ratios without a name are those of gears 1, 2, 3 and so on in their order, named ones left
    out. Raises UserError for what is neither, for a gear or a wheel with two different values, and
    for a turn test.
    """
    ratios: list[tuple[str, str]] = []
    counts: dict[str, int] = {}
    sure: set[str] = set()
    for text in words:
        found = _NAMED.fullmatch(text)
        if found is not None:
            ratios.append((_named(text, found[1], [name for name, _ in ratios]), found[2]))
        elif "=" in text or "@" in text:
            _take_counts(parse_word(text), counts, sure)
        else:
            parse_ratio(text)
            ratios.append(("", text))
    taken = {name for name, _ in ratios}
    free = (name for name in map(str, itertools.count(1)) if name not in taken)
    return Sought(
        {name or next(free): text for name, text in ratios},
        counts,
        tuple(wheel for wheel in counts if wheel not in sure),
    )


def parse_span(text: str, option: str) -> Span:
    """Read a range, `11-40`, or one number for both its ends; raise UserError."""
    found = _SPAN.fullmatch(text)
    if found is None or len(text) > 2 * LONGEST_NUMBER:
        raise UserError(
            "this is no range", f"{option} {shown(text)}", f"write {option} 11-40, lowest first"
        )
    low, high = int(found[1]), int(found[2] or found[1])
    return Span(low, high)


def parse_whole(text: str, option: str, example: int) -> int:
    """Read a whole number that was given to an option; raise UserError."""
    if not _WHOLE.fullmatch(text) or len(text) > LONGEST_NUMBER:
        raise UserError(
            "this is no whole number", f"{option} {shown(text)}", f"write {option} {example}"
        )
    return int(text)


def _named(text: str, name: str, others: Collection[str]) -> str:
    """Return the gear of a ratio that is written with its gear's name."""
    gear = parse_name(name)
    if gear in others:
        raise UserError(f"gear {gear} has two ratios", shown(text), "keep one of them")
    try:
        parse_ratio(text.partition("=")[2])
    except UserError as error:
        mend = f"write {gear}=3.65 for a printed ratio, {gear}=14/31 for counted teeth"
        raise UserError(error.sentence, shown(text), mend) from error
    return gear


def _take_counts(word: Word, counts: dict[str, int], sure: set[str]) -> None:
    if word.turn is not None:
        raise UserError(
            "a turn test is no printed ratio", shown(word.text), "identify works with turn tests"
        )
    for count in word.counts:
        if counts.setdefault(count.wheel, count.teeth) != count.teeth:
            raise UserError(
                f"{count.wheel} was counted {counts[count.wheel]} and {count.teeth}",
                shown(word.text),
                "count it once more and write one of them",
            )
        if not count.unsure:
            sure.add(count.wheel)
