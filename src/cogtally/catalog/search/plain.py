"""Families and sets by what somebody remembers of them: words, teeth, printed ratios, a source.

What is asked for, as it was typed, misspelt or in part, and how like a word is to another. The look
of what is found is left to `show`, a book too large to be read for it to `beside`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache
from typing import TypeVar

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios, written_pair
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Word, parse_chain, parse_name, parse_word
from cogtally.gears.printed import MISPRINT, Printed, interval, parse_ratio
from cogtally.gears.trains import role_of

T = TypeVar("T")

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
        if "=" in word or _CHAIN.fullmatch(word):
            example = "1=14/_" if "=" in word else "28/_"
            mend = "write driver/driven, for example 28/_"
            found = parse_word(word) if "=" in word else parse_chain(word, ANY, mend)
            if not found.counts:
                raise UserError("no tooth count is in it", word, f"write a count: {example}")
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
LONGEST_WHOLE = LONGEST_TOKEN = 60

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


def whole_of(text: str) -> str:
    """Return a text as it is compared with a whole question; empty where it is too long for it."""
    return compact(text) if len(text) <= LONGEST_WHOLE else ""


#: What is so many points less alike than the best is not found beside it.
MOST_WORSE = 15.0
#: The words of its family count a little less for a set than its own.
INHERITED = 0.97
#: Likeness of teeth, or of a ratio, as asked for, and of a ratio that may be a misprint of it.
SAME, BESIDE = 100.0, 90.0
#: The words of a source in another order, or misspelt, count a little less than as asked for.
OTHER_WORDS = 0.95


class Likeness:
    """How like a question in words is to others, 0…100: `near` by its words, `whole` in all.

    `near` has the words that are near to each word asked for, `whole` the whole texts (as
    `whole_of`) near to all of it, out of those that it is given. What is not there is not like it.
    """

    def __init__(
        self, words: Sequence[str], tokens: Iterable[str], wholes: Iterable[str], sets: bool = False
    ) -> None:
        known = list(tokens)
        self.near = [_near(token, known) for word in words for token in tokens_of(word)]
        whole = compact(" ".join(words))
        self.whole = {} if UNREAD in whole or not whole else _alike(whole, wholes)
        self._sets = sets
        self._rated = cache(self._rate)

    @classmethod
    def among(cls, words: Sequence[str], texts: Iterable[str], *, sets: bool = False) -> Likeness:
        """Return how like words are to all that stands in some texts."""
        known = set(texts)
        tokens = {token for text in known for token in tokens_of(text)}
        return cls(words, tokens, filter(None, map(whole_of, known)), sets)

    def score(self, own: Sequence[float], above: Sequence[float] | None, whole: float) -> float:
        """Return how like something is to the question, 0 where it is not found by it.

        `own`: how like its words are to each word asked for; `above`: of a set, how like those of
        its family are; `whole`: how like one of its texts is to the whole question.
        """
        if not own:
            return 0.0
        together: Sequence[float] = own
        if above is not None:
            # A set of which nothing of its own was asked for is found by its family.
            mine = any(a and a >= INHERITED * b for a, b in zip(own, above, strict=True))
            if not mine and not self._sets:
                return 0.0
            together = [max(a, INHERITED * b) for a, b in zip(own, above, strict=True)]
        score = max(sum(together) / len(together), whole)
        return score if score >= LEAST_LIKENESS else 0.0

    def rate(
        self, texts: Iterable[tuple[str, str]], above: Sequence[float] | None = None
    ) -> tuple[list[float], float, tuple[str, ...]]:
        """Return how like texts are to each word, then to the question, and by which of them.

        Each text stands behind its kind; `above` and the second are as in `score`.
        """
        best = [(0.0, "")] * (len(self.near) + 1)
        for kind, text in texts:
            for number, like in enumerate(self._rated(text)):
                if like > best[number][0]:
                    best[number] = like, f"{kind} {text}" if kind else text
        *own, (whole, what) = best
        each = [like for like, _ in own]
        score, by_whole = self.score(each, above, 0.0), self.score(each, above, whole)
        if by_whole > score:
            return each, by_whole, (what,)
        return each, score, tuple(dict.fromkeys(what for _, what in own if what))

    def _rate(self, text: str) -> tuple[float, ...]:
        """How like a text is to each word and to the whole question; nothing where it is not."""
        tokens = tokens_of(text)
        each = [max([near.get(token, 0.0) for token in tokens], default=0.0) for near in self.near]
        whole = self.whole.get(whole_of(text), 0.0)
        return (*each, whole) if whole or any(each) else ()


def _alike(word: str, others: Iterable[str]) -> dict[str, float]:
    """The words that may be a slip for one, and how like it they are."""
    from rapidfuzz import fuzz, process

    found = process.extract(
        word, list(others), scorer=fuzz.ratio, score_cutoff=LEAST_LIKENESS, limit=None
    )
    return {other: float(like) for other, like, _ in found}


def _near(word: str, others: Sequence[str]) -> dict[str, float]:
    """The words alike, and those that begin as asked for, have it in them, or may be read so."""
    near = _alike(word, others)
    if UNREAD in word:
        letters = ("." if letter == UNREAD else re.escape(letter) for letter in word)
        fits = re.compile("".join(letters)).fullmatch
        return {**near, **{other: HALF_READ for other in others if fits(other)}}
    for other in others:
        if word in other and len(other) > len(word) >= LEAST_BEGINNING:
            if other.startswith(word):
                near[other] = max(near.get(other, 0.0), BEGINS)
            elif len(word) >= LEAST_INSIDE:
                near[other] = max(near.get(other, 0.0), INSIDE)
    return near


@dataclass(frozen=True, slots=True)
class Hit:
    """A family, or a set of it, that was found: how like it is (0…100), and by what."""

    family: Family
    known: RatioSet | None
    likeness: float
    because: tuple[str, ...] = ()


def likeliest(found: Iterable[T], likeness: Callable[[T], float]) -> list[T]:
    """Return what is near to the best that was found, the likeliest first, else in its order."""
    known = sorted(found, key=likeness, reverse=True)
    return [one for one in known if likeness(one) > likeness(known[0]) - MOST_WORSE]


def search(catalog: Catalog, query: Query) -> tuple[Hit, ...]:
    """Return what is found, the likeliest first; a set has all teeth and ratios asked for.

    A family comes before its sets, then the order is that of the catalog. Words are found misspelt,
    cut short, or with `?` for a letter nobody can read.
    """
    if not query.words and not query.is_of_sets:
        return ()
    there = ((family, known) for family in catalog.families for known in (None, *family.sets))
    texts = (text for family, known in there for _, text in texts_of(family, known))
    likeness = Likeness.among(query.words, texts, sets=query.is_of_sets)
    hits: list[Hit] = []
    for family in catalog.families:
        above, score, because = likeness.rate(texts_of(family, None))
        if score and not query.is_of_sets:
            hits.append(Hit(family, None, score, because))
        for known in family.sets:
            exact = _exact(family, known, query)
            if exact is not None and query.words:
                _, score, because = likeness.rate(texts_of(family, known), above)
                if score:
                    hits.append(Hit(family, known, score, (*because, *exact[1])))
            elif exact is not None:
                hits.append(Hit(family, known, *exact))
    if query.words:
        return tuple(likeliest(hits, lambda hit: hit.likeness))
    return tuple(sorted(hits, key=lambda hit: -hit.likeness))


def texts_of(family: Family, known: RatioSet | None) -> tuple[tuple[str, str], ...]:
    """Return all texts of a family, or of a set of it, that somebody may remember, and their kind.

    Texts as such have no kind; others are, for example, a `note:` or `also` called so.
    """
    texts: list[tuple[str, str]]
    if known is None:
        texts = [("", family.id), ("", family.name), *(("also", a) for a in family.aliases)]
        texts.append(("note:", family.note))
    else:
        texts = [("", known.id), ("", known.name), *(("also", alias) for alias in known.aliases)]
        for piece, marks in known.marks.items():
            texts += [(f"mark of {piece}:", mark) for mark in marks]
        for owner, features in known.features.items():
            texts += [(f"{n} of {owner}:", v) for n, v in features.items() if isinstance(v, str)]
        texts.append(("source:", known.source))
    return tuple((kind, text) for kind, text in texts if text)


def _exact(family: Family, known: RatioSet, query: Query) -> tuple[float, tuple[str, ...]] | None:
    """How well a set has all the teeth, the ratios and the source asked for; None for not all."""
    likeness, because = SAME, [_pair_with(family, known, word) for word in query.teeth]
    if None in because:
        return None
    ratios = gear_ratios(family, known) if query.ratios and known.is_counted else {}
    for gear, printed in query.ratios:
        like, said = _gear_with(ratios, known, gear, printed)
        likeness, because = min(likeness, like), [*because, said]
    if query.source:
        likeness = min(likeness, like_source(known.source, query.source))
        because.append(f"source: {known.source}")
    return (likeness, tuple(filter(None, because))) if likeness else None


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


def _gear_with(
    ratios: Mapping[str, Fraction | None], known: RatioSet, gear: str, printed: Printed
) -> tuple[float, str]:
    """How well a gear of a set has a printed ratio, and which; 0 where none has."""
    best = 0.0, ""
    for name in dict.fromkeys([*ratios, *known.ratios]):
        if gear not in (ANY, name):
            continue
        exact, said = ratios.get(name), known.ratios.get(name)
        if exact is not None and (like := like_ratio(exact, printed)) > best[0]:
            best = like, f"{name} is {float(exact):.3f}"
        if said is not None and (like := like_ratio(Fraction(said), printed)) > best[0]:
            best = like, f"{name} is printed {said}"
    return best


@lru_cache(maxsize=100_000)
def like_ratio(ratio: Fraction, printed: Printed) -> float:
    """Return how like a ratio is to a printed one, 0 where it is not.

    It rounds to what was printed; one and a half units of the last place beside it is less like.
    """
    if ratio in interval(printed):
        return SAME
    return BESIDE if ratio in interval(printed, MISPRINT) else 0.0


@lru_cache(maxsize=100_000)
def like_source(source: str, asked: str) -> float:
    """Return how like a source is to what was asked for, 0 where it is not."""
    from rapidfuzz import fuzz

    have, want = source.casefold(), asked.casefold()
    if have and want in have:
        return SAME
    words = have.split()
    each = [max((fuzz.ratio(word, one) for one in words), default=0.0) for word in want.split()]
    return OTHER_WORDS * sum(each) / len(each) if min(each) >= LEAST_LIKENESS else 0.0
