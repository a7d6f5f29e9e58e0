"""What somebody looks for in a catalog, as it was typed: words, teeth, printed ratios, a source.

What is found is left to `search`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cogtally.gears.errors import UserError
from cogtally.gears.notation import parse_chain, parse_name, parse_word
from cogtally.gears.printed import Printed, parse_ratio
from cogtally.gears.words import Word

#: The pair or gear of teeth or a ratio that may stand in any.
ANY = "any"

_CHAIN = re.compile(r"[0-9_][0-9ux_]*(?:/[0-9ux_]*)+")


@dataclass(frozen=True, slots=True)
class Query:
    """What is asked for, all of it together: words, pairs or wheels, ratios by gear, a source.

    `teeth` are words of the notation, their pair `any` where none was named; `ratios` likewise.
    """

    words: tuple[str, ...] = ()
    teeth: tuple[Word, ...] = ()
    ratios: tuple[tuple[str, Printed], ...] = ()
    source: str = ""


def parse_query(words: Sequence[str], ratios: Sequence[str] = (), source: str = "") -> Query:
    """Read what was asked for; raise UserError for teeth or ratios that cannot be read.

    `28/_` and `1=14/31` are teeth, as is `3.driver=24`; all other words are text.
    """
    texts: list[str] = []
    teeth: list[Word] = []
    for word in words:
        if "=" in word:
            found = parse_word(word)
            if not found.counts:
                raise UserError("no tooth count is in it", word, "write a count: 1=14/_")
            teeth.append(found)
        elif _CHAIN.fullmatch(word):
            found = parse_chain(word, ANY, "write driver/driven, for example 28/_")
            if not found.counts:
                raise UserError("no tooth count is in it", word, "write a count: 28/_")
            teeth.append(found)
        elif word.strip():
            texts.append(word.strip())
    return Query(tuple(texts), tuple(teeth), tuple(map(_ratio, ratios)), source.strip())


def _ratio(text: str) -> tuple[str, Printed]:
    """Read `1=3.65`, or `3.65` for any gear."""
    gear, equals, value = text.partition("=")
    if not equals:
        return ANY, parse_ratio(text)
    return parse_name(gear, "--ratio"), parse_ratio(value)
