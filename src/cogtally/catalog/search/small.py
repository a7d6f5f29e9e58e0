"""Families and sets by what somebody remembers of them: words, teeth, printed ratios, a source.

What is asked for is left to `query`, how like a word is to another to `likeness`, the look of what
is found to `show`. What a large book finds by its index is this, to the last bit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cogtally.catalog.gear_ratios import gear_ratios
from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.catalog.search.likeness import LEAST_LIKENESS, Likeness, compact, tokens_of
from cogtally.catalog.search.query import ANY, Query
from cogtally.gears.printed import MISPRINT, Printed, interval
from cogtally.gears.trains import role_of
from cogtally.gears.words import Word

__all__ = ["Hit", "Query", "agrees", "like_in_other_words", "search", "texts_of"]

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
