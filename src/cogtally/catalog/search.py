"""Families and sets by what somebody remembers of them: words, teeth, printed ratios, a source.

What is asked for, as it was typed, misspelt or in part, and how like a word is to another. The look
of what is found is left to `show`. Of a book only those sets are made that may be found.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING

from cogtally.catalog.book import book_families, set_of, state_of, without_collecting
from cogtally.catalog.model import (
    Catalog,
    Family,
    PathTeeth,
    RatioSet,
    gear_ratio,
    gear_teeth,
    written_pair,
)
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Word, parse_chain, parse_name, parse_word
from cogtally.gears.printed import MISPRINT, Printed, interval, parse_ratio
from cogtally.gears.trains import OVERDRIVE, role_of
from cogtally.store import reading

if TYPE_CHECKING:
    from cogtally.catalog.book import SetRow

__all__ = [
    "ANY",
    "LEAST_LIKENESS",
    "Found",
    "Hit",
    "Likeness",
    "Query",
    "find_in",
    "find_in_book",
    "parse_query",
]

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

    @property
    def is_of_sets(self) -> bool:
        """Whether only sets can be meant, whatever the words are like."""
        return bool(self.teeth or self.ratios or self.source)


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


#: Per cent of likeness below which a word is another word.
LEAST_LIKENESS = 62.0
#: Likeness of a word that begins as asked for, that has it in it, that has letters nobody can read.
BEGINS, INSIDE, HALF_READ = 93.0, 86.0, 95.0
#: A part of fewer letters says nothing of the whole.
LEAST_BEGINNING, LEAST_INSIDE = 2, 3
#: A longer text is looked through word by word, not compared whole.
LONGEST_WHOLE = 60
LONGEST_TOKEN = 60

#: What stands for a letter that cannot be read.
UNREAD = "?"
_TOKEN = re.compile(rf"[^\W_]+(?:[{UNREAD}]+[^\W_]*)*|[{UNREAD}]+[^\W_]+[^\W_{UNREAD}]*")


@lru_cache(maxsize=100_000)
def tokens_of(text: str) -> tuple[str, ...]:
    """Return the words of a text in small letters: runs of letters and digits, `?` in them too."""
    return tuple(token[:LONGEST_TOKEN] for token in _TOKEN.findall(text.casefold()))


def compact(text: str) -> str:
    """Return a text in small letters without anything between its words: `lg3102`."""
    return "".join(tokens_of(text))


def half_read(word: str) -> str:
    """Return the pattern of a word with letters that cannot be read."""
    return "".join("." if letter == UNREAD else re.escape(letter) for letter in word)


class Likeness:
    """How like texts are to a question in words, and to each of its words: each text once.

    `words` are as somebody typed them; a short text may be like the whole question too.
    """

    def __init__(self, words: Sequence[str]) -> None:
        from rapidfuzz import fuzz

        self._ratio = fuzz.ratio
        self._asked = [token for word in words for token in tokens_of(word)]
        self._whole = compact(" ".join(words))
        #: Kept, for most texts and words stand in many sets.
        self._near = cache(self._near_to)
        self._near_token = cache(self._near_to_token)

    def rate(
        self, texts: Iterable[tuple[str, str]], above: Sequence[float] = ()
    ) -> tuple[list[float], float, tuple[str, ...]]:
        """Return how like some texts are to each word, then to all of the question, and by which.

        Each text stands behind its kind. Likeness is 0…100, that of the nearest text; `above` is
        how like each word is to what these texts inherit, which counts a little less.
        """
        all_near = [(kind, text, near) for kind, text in texts if (near := self._near(text))]
        if not all_near and not any(above):
            return [0.0] * len(self._asked), 0.0, ()
        best = [(0.0, "")] * (len(self._asked) + 1)
        for kind, text, near in all_near:
            for number, like in enumerate(near):
                if like > best[number][0]:
                    best[number] = like, f"{kind} {text}" if kind else text
        *own, whole = best
        each = [like for like, _ in own]
        because = tuple(dict.fromkeys(text for _, text in own if text))
        pairs = zip(each, above, strict=True) if above else ()
        all_told = [max(like, INHERITED * far) for like, far in pairs] or each
        score = sum(all_told) / len(each)
        return (each, score, because) if score >= whole[0] else (each, whole[0], (whole[1],))

    def _near_to(self, text: str) -> list[float]:
        """How like a text is to each word and to the whole question; empty where to none."""
        if not self._asked:
            return []
        tokens = tokens_of(text)
        near = [likes for token in tokens if (likes := self._near_token(token))]
        each = [max(likes) for likes in zip(*near, strict=True)] or [0.0] * len(self._asked)
        whole = 0.0
        if len(text) <= LONGEST_WHOLE and UNREAD not in self._whole:
            whole = self._ratio(self._whole, "".join(tokens), score_cutoff=LEAST_LIKENESS)
        return [*each, whole] if near or whole else []

    def _near_to_token(self, token: str) -> list[float]:
        likes = [self._like(word, token) for word in self._asked]
        return likes if any(likes) else []

    def _like(self, word: str, token: str) -> float:
        """How like a word is to one that it may be, or may be the beginning or a part of."""
        if UNREAD in word and re.fullmatch(half_read(word), token):
            return HALF_READ
        like = self._ratio(word, token, score_cutoff=LEAST_LIKENESS)
        if UNREAD in word or len(token) <= len(word):
            return like
        if len(word) >= LEAST_BEGINNING and token.startswith(word):
            return max(like, BEGINS)
        return max(like, INSIDE) if len(word) >= LEAST_INSIDE and word in token else like


#: What is so many points less alike than the best is not found beside it.
MOST_WORSE = 15.0
#: The words of its family count a little less for a set than its own.
INHERITED = 0.97
#: Likeness of teeth, or of a ratio, as asked for, and of a ratio that may be a misprint of it.
SAME, BESIDE = 100.0, 90.0
#: The words of a source in another order, or misspelt, count a little less than as asked for.
OTHER_WORDS = 0.95


@dataclass(frozen=True, slots=True)
class Hit:
    """A family, or a set of it, that was found: how like it is (0…100), and by what."""

    family: Family
    known: RatioSet | None
    likeness: float
    because: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Found:
    """What was found, the likeliest first: `hits`, the first of `count` in all.

    `name`, `families`, `sets` and `demo` are those of the catalog that was looked through.
    """

    name: str
    families: int
    sets: int
    demo: bool
    count: int
    hits: tuple[Hit, ...]


def find_in(catalog: Catalog, query: Query, most: int | None = None) -> Found:
    """Return what a question finds in a catalog, the first `most` of it, or all."""
    hits = search(catalog, query)
    families, sets = len(catalog.families), catalog.set_count
    return Found(catalog.name, families, sets, catalog.demo, len(hits), hits[:most])


def find_in_book(path: Path, query: Query, most: int | None = None) -> Found:
    """Return what a question finds in the book at `path`, the first `most` of it, or all.

    Raises UserError where the book cannot be read.
    """
    with reading(path) as book, without_collecting():
        *_, families, sets = state_of(book)
        there = Catalog(tuple(book_families(book, path, among=partial(_may_be_found, query))))
        hits = search(there, query)
        shown = hits[:most]
        whole = {f.id: f for f in book_families(book, path, [hit.family.id for hit in shown])}
    known = {(f.id, one.id): one for f in whole.values() for one in f.sets}
    found = tuple(
        replace(
            hit,
            family=whole[hit.family.id],
            known=hit.known and known[hit.family.id, hit.known.id],
        )
        for hit in shown
    )
    return Found(path.name, families, sets, False, len(hits), found)


#: How a count is written among the teeth of a row, by its place in a pair.
_WRITTEN = {
    "driver": r"\[\s*%d\s*,",
    "idler": r",\s*%d\s*,",
    "driven": r",\s*%d\s*\]",
    ANY: r"[\[,]\s*%d\s*[,\]]",
}


def _may_be_found(query: Query, family: Family, rows: Sequence[SetRow]) -> Iterable[SetRow]:
    """The rows of a family's sets that may be found, without what was not asked for: none too few.

    To make a set of its row takes longer than to see that it has not the teeth.
    """
    if not query.is_of_sets:
        return [row._replace(pairs=None, teeth=None, ratios=None) for row in rows]
    teeth = [
        re.compile(_WRITTEN[role_of(count.wheel) if word.pair else ANY] % count.teeth)
        for word in query.teeth
        for count in word.counts
    ]
    found = {
        row.id
        for row in rows
        if all(pattern.search(row.teeth or "") for pattern in teeth)
        and (not query.source or _like_source(row.source, query.source))
    }
    # The first of them tells how the pairs are arranged.
    first = next((row for row in rows if found and set_of(row).is_counted), None)
    return [row for row in rows if row.id in found or row is first]


def search(catalog: Catalog, query: Query) -> tuple[Hit, ...]:
    """Return what is found, the likeliest first; a set has all teeth and ratios asked for.

    A family comes before its sets, then the order is that of the catalog. Words are found misspelt,
    cut short, or with `?` for a letter nobody can read.
    """
    if not query.words and not query.is_of_sets:
        return ()
    ratios = [_Asked(gear, printed) for gear, printed in query.ratios]
    likeness = Likeness(query.words)
    hits: list[Hit] = []
    for family in catalog.families:
        above, score, because = likeness.rate(texts_of(family, None))
        if not query.is_of_sets and score >= LEAST_LIKENESS:
            hits.append(Hit(family, None, score, because))
        for known in family.sets:
            exact = _exact(family, known, query, ratios) if query.is_of_sets else (0.0, ())
            if exact is None:
                continue
            if not query.words:
                hits.append(Hit(family, known, *exact))
                continue
            own, score, because = likeness.rate(texts_of(family, known), above)
            # A set of which nothing of its own was asked for is found by its family.
            counts = any(a and a >= INHERITED * b for a, b in zip(own, above, strict=True))
            if score >= LEAST_LIKENESS and (counts or query.is_of_sets):
                hits.append(Hit(family, known, score, (*because, *exact[1])))
    if query.words and hits:
        least = max(hit.likeness for hit in hits) - MOST_WORSE
        hits = [hit for hit in hits if hit.likeness > least]
    return tuple(sorted(hits, key=lambda hit: -hit.likeness))


def texts_of(family: Family, known: RatioSet | None) -> tuple[tuple[str, str], ...]:
    """Return all texts of a family, or of a set of it, that somebody may remember, and their kind.

    Texts as such have no kind; others are, for example, a `note:` or `also` called so.
    """
    if known is None:
        own = [("", family.id), ("", family.name), *(("also", a) for a in family.aliases)]
        return _given([*own, ("note:", family.note)])
    texts = [("", known.id), ("", known.name), *(("also", alias) for alias in known.aliases)]
    texts += [(f"mark of {piece}:", mark) for piece, marks in known.marks.items() for mark in marks]
    texts += [
        (f"{feature} of {owner}:", value)
        for owner, features in known.features.items()
        for feature, value in features.items()
        if isinstance(value, str)
    ]
    return _given([*texts, ("source:", known.source)])


def _given(texts: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple((kind, text) for kind, text in texts if text)


def _exact(
    family: Family, known: RatioSet, query: Query, ratios: Sequence[_Asked]
) -> tuple[float, tuple[str, ...]] | None:
    """How well a set has all the teeth, the ratios and the source asked for; None for not all."""
    because = [_pair_with(family, known, word) for word in query.teeth]
    if None in because:
        return None
    likeness = SAME
    for asked in ratios:
        found = _gear_with(family, known, asked)
        if found is None:
            return None
        likeness = min(likeness, found[0])
        because.append(found[1])
    if query.source:
        like = _like_source(known.source, query.source)
        if not like:
            return None
        likeness = min(likeness, like)
        because.append(f"source: {known.source}")
    return likeness, tuple(filter(None, because))


def _pair_with(family: Family, known: RatioSet, word: Word) -> str | None:
    """The pair of a set, as it is written, that has these counts; None where none has."""
    if word.pair is None:
        wheel = family.train.canonical(word.counts[0].wheel)
        teeth = family.teeth_of(known).get(wheel) if known.is_counted else None
        return f"{wheel}={teeth}" if teeth == word.counts[0].teeth else None
    for pair, counts in known.pairs.items():
        if word.pair in (ANY, pair) and agrees(counts, word):
            return f"{pair}={written_pair(counts)}"
    return None


def agrees(teeth: Sequence[int | None], word: Word) -> bool:
    """Tell whether a pair has the counts of a word.

    Two wheels written are the ends of a pair with an idler too.
    """
    if word.size == 3 and len(teeth) != 3:
        return False
    ends = {"driver": teeth[0], "driven": teeth[-1], "idler": teeth[1] if len(teeth) == 3 else None}
    return all(ends[role_of(count.wheel)] == count.teeth for count in word.counts)


class _Asked:
    """A printed ratio that is asked for, of a gear or of any, and how like it others are."""

    def __init__(self, gear: str, printed: Printed) -> None:
        self.gear = gear
        self._near, self._far = interval(printed), interval(printed, MISPRINT)
        self._of_teeth: dict[tuple[object, ...], tuple[float, Fraction | None]] = {}

    def like(self, value: Fraction | None) -> float:
        """How like a ratio is, which rounds to what was printed or may be a misprint of it."""
        if value is None:
            return 0.0
        return SAME if value in self._near else BESIDE if value in self._far else 0.0

    def like_of(self, family: Family, counts: PathTeeth) -> tuple[float, Fraction | None]:
        """How like the ratio is that teeth make, and that ratio; the same teeth are asked once."""
        key = (family.layout == OVERDRIVE, counts)
        if key not in self._of_teeth:
            value = gear_ratio(family, counts)
            self._of_teeth[key] = self.like(value), value
        return self._of_teeth[key]


def _gear_with(family: Family, known: RatioSet, asked: _Asked) -> tuple[float, str] | None:
    """How well a gear of a set has a printed ratio, and which; None where none has.

    The ratio rounds to what was printed, or is printed so; one and a half units of the last place
    beside it count as less like.
    """
    best: tuple[float, str] | None = None
    teeth = gear_teeth(family, known) if known.is_counted else {}
    for name in dict.fromkeys([*teeth, *known.ratios]):
        if asked.gear not in (ANY, name):
            continue
        like, exact = asked.like_of(family, teeth[name]) if name in teeth else (0.0, None)
        if exact is not None and like > (best[0] if best else 0.0):
            best = like, f"{name} is {float(exact):.3f}"
        like = asked.like(_printed_value(known, name))
        if like > (best[0] if best else 0.0):
            best = like, f"{name} is printed {known.ratios[name]}"
    return best


def _printed_value(known: RatioSet, gear: str) -> Fraction | None:
    text = known.ratios.get(gear)
    return None if text is None else Fraction(text if text[0] != "." else f"0{text}")


@lru_cache(maxsize=100_000)
def _like_source(source: str, asked: str) -> float:
    """How like a source is to what was asked for, 0 where it is not."""
    from rapidfuzz import fuzz

    have, want = source.casefold(), asked.casefold()
    if not have:
        return 0.0
    if want in have:
        return SAME
    words = have.split()
    each = [max((fuzz.ratio(word, one) for one in words), default=0.0) for word in want.split()]
    return like_in_other_words(each) if min(each, default=0.0) >= LEAST_LIKENESS else 0.0


def like_in_other_words(each: Sequence[float]) -> float:
    """Return how like a source is of which the nearest word to each asked for is so like it."""
    return OTHER_WORDS * sum(each) / len(each)
