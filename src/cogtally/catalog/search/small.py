"""Families and sets by what somebody remembers of them: words, teeth, printed ratios, a source.

What is asked for, as it was typed, and how like a word is to another. The look of what is found is
left to `show`. What a large book finds by its index is this, to the last bit.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Word, parse_chain, parse_name, parse_word
from cogtally.gears.printed import MISPRINT, Printed, interval, parse_ratio
from cogtally.gears.trains import role_of

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
    """The words of a question beside the words of many texts, each two compared once."""

    def __init__(self, texts: Iterable[str], asked: Sequence[str], whole: str) -> None:
        from rapidfuzz import fuzz, process

        known = list(dict.fromkeys(texts))
        vocabulary = list(dict.fromkeys(token for text in known for token in tokens_of(text)))
        self._by_token: list[dict[str, float]] = []
        for word in asked:
            near: dict[str, float] = {
                token: float(like)
                for token, like, _ in process.extract(
                    word, vocabulary, scorer=fuzz.ratio, score_cutoff=LEAST_LIKENESS, limit=None
                )
            }
            _add_parts(word, vocabulary, near)
            self._by_token.append(near)
        self._whole: dict[str, float] = {}
        if UNREAD not in whole:
            short = {text: compact(text) for text in known if len(text) <= LONGEST_WHOLE}
            found = process.extract(
                whole, short, scorer=fuzz.ratio, score_cutoff=LEAST_LIKENESS, limit=None
            )
            self._whole = {text: float(like) for _, like, text in found}

    def of(self, number: int, text: str) -> float:
        """Return how like the word of that number is to the nearest of a text; 0: to none."""
        near = self._by_token[number]
        return max((near.get(token, 0.0) for token in tokens_of(text)), default=0.0)

    def whole(self, texts: Iterable[tuple[str, str]]) -> tuple[float, str]:
        """Return how like the whole question is to the nearest of some short texts, and which."""
        best, what = 0.0, ""
        for kind, text in texts:
            like = self._whole.get(text, 0.0)
            if like > best:
                best, what = like, f"{kind} {text}" if kind else text
        return best, what


def _add_parts(word: str, vocabulary: Iterable[str], near: dict[str, float]) -> None:
    """Words that begin as asked for, have it in them, or fit it where a letter cannot be read."""
    if UNREAD in word:
        pattern = re.compile(half_read(word))
        for token in vocabulary:
            if pattern.fullmatch(token):
                near[token] = HALF_READ
        return
    for token in vocabulary:
        if len(token) <= len(word):
            continue
        if len(word) >= LEAST_BEGINNING and token.startswith(word):
            near[token] = max(near.get(token, 0.0), BEGINS)
        elif len(word) >= LEAST_INSIDE and word in token:
            near[token] = max(near.get(token, 0.0), INSIDE)


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
class _Doc:
    """The words of a family or a set, each text with what it is."""

    family: Family
    known: RatioSet | None
    texts: tuple[tuple[str, str], ...]


def search(catalog: Catalog, query: Query) -> tuple[Hit, ...]:
    """Return what is found, the likeliest first; a set has all teeth and ratios asked for.

    Words are found misspelt, cut short, or with `?` for a letter nobody can read.
    """
    if query.teeth or query.ratios or query.source:
        exact = [hit for family in catalog.families for hit in _exact(family, query)]
        if not query.words:
            return tuple(sorted(exact, key=lambda hit: -hit.likeness))
        allowed = {(hit.family.id, hit.known.id): hit for hit in exact if hit.known is not None}
        found = _by_words(catalog, query.words, sets_only=True)
        return _near_the_best(
            [
                Hit(h.family, h.known, h.likeness, (*h.because, *allowed[key].because))
                for h in found
                if h.known is not None and (key := (h.family.id, h.known.id)) in allowed
            ]
        )
    return _near_the_best(_by_words(catalog, query.words))


def _near_the_best(hits: list[Hit]) -> tuple[Hit, ...]:
    """The likeliest first; a family before its sets, then in the order of the catalog."""
    if not hits:
        return ()
    best = max(hit.likeness for hit in hits)
    kept = [hit for hit in hits if hit.likeness > best - MOST_WORSE]
    return tuple(sorted(kept, key=lambda hit: -hit.likeness))


def _by_words(catalog: Catalog, words: Sequence[str], sets_only: bool = False) -> list[Hit]:
    docs = [
        _Doc(family, known, texts_of(family, known))
        for family in catalog.families
        for known in (None, *family.sets)
    ]
    asked = [token for word in words for token in tokens_of(word)]
    whole = compact(" ".join(words))
    if not asked or not whole:
        return []
    likeness = Likeness([text for doc in docs for _, text in doc.texts], asked, whole)
    hits: list[Hit] = []
    above: Mapping[int, float] = {}
    for doc in docs:
        by_token, because = _own(doc, likeness, asked)
        if doc.known is None:
            above = by_token
        together = {
            i: max(by_token.get(i, 0.0), INHERITED * above.get(i, 0.0)) for i in range(len(asked))
        }
        # A set of which nothing of its own was asked for is found by its family.
        own = [i for i in together if by_token.get(i, 0.0) >= INHERITED * above.get(i, 0.0)]
        if doc.known is not None and not sets_only and not any(by_token.get(i) for i in own):
            continue
        score = sum(together.values()) / len(asked)
        best_whole, what = likeness.whole(doc.texts)
        if best_whole > score:
            score, because = best_whole, {what: best_whole}
        if score >= LEAST_LIKENESS:
            hits.append(Hit(doc.family, doc.known, score, tuple(because)))
    return hits


def _own(
    doc: _Doc, likeness: Likeness, asked: Sequence[str]
) -> tuple[dict[int, float], dict[str, float]]:
    """How like each word asked for is to the nearest of a family's or set's own, and which text."""
    by_token: dict[int, float] = {}
    because: dict[str, float] = {}
    for number in range(len(asked)):
        best, what = 0.0, ""
        for kind, text in doc.texts:
            like = likeness.of(number, text)
            if like > best:
                best, what = like, _said(kind, text)
        if best:
            by_token[number] = best
            because[what] = best
    return by_token, because


def _said(kind: str, text: str) -> str:
    return f"{kind} {text}" if kind else text


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


def _exact(family: Family, query: Query) -> Iterator[Hit]:
    """The sets of a family that have all the teeth, the ratios and the source asked for."""
    for known in family.sets:
        because: list[str] = []
        likeness = SAME
        for word in query.teeth:
            pair = _pair_with(family, known, word)
            if pair is None:
                break
            because.append(pair)
        else:
            for gear, printed in query.ratios:
                found = _gear_with(family, known, gear, printed)
                if found is None:
                    break
                because.append(found[1])
                likeness = min(likeness, found[0])
            else:
                if query.source:
                    like = _like_source(known.source, query.source)
                    if not like:
                        continue
                    likeness = min(likeness, like)
                    because.append(f"source: {known.source}")
                yield Hit(family, known, likeness, tuple(because))


def _pair_with(family: Family, known: RatioSet, word: Word) -> str | None:
    """The pair of a set, as it is written, that has these counts; None where none has."""
    if word.pair is None:
        wheel = family.train.canonical(word.counts[0].wheel)
        teeth = family.teeth_of(known).get(wheel) if known.is_counted else None
        return f"{wheel}={teeth}" if teeth == word.counts[0].teeth else None
    for pair, counts in known.pairs.items():
        if word.pair in (ANY, pair) and agrees(counts, word):
            written = "/".join("_" if t is None else str(t) for t in counts)
            return f"{pair}={written}"
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
    family: Family, known: RatioSet, gear: str, printed: Printed
) -> tuple[float, str] | None:
    """How well a gear of a set has a printed ratio, and which; None where none has.

    The ratio rounds to what was printed, or is printed so; one and a half units of the last place
    beside it count as less like.
    """
    near, far = interval(printed), interval(printed, MISPRINT)
    best: tuple[float, str] | None = None
    ratios = gear_ratios(family, known) if known.is_counted else {}
    for name in dict.fromkeys([*ratios, *known.ratios]):
        if gear not in (ANY, name):
            continue
        exact = ratios.get(name)
        for value, said in (
            (exact, "" if exact is None else f"{name} is {float(exact):.3f}"),
            (_printed_value(known, name), f"{name} is printed {known.ratios.get(name, '')}"),
        ):
            if value is None:
                continue
            like = SAME if value in near else BESIDE if value in far else 0.0
            if like and (best is None or like > best[0]):
                best = (like, said)
    return best


def _printed_value(known: RatioSet, gear: str) -> Fraction | None:
    text = known.ratios.get(gear)
    return None if text is None else Fraction(text if text[0] != "." else f"0{text}")


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
