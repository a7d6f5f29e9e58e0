"""Asking the search index: which families and sets a question finds, each with its likeness.

The answers are those of `small`, to the last bit. What is then said of each is left to `found`.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence

from cogtally.catalog.search.index_file import (
    BETWEEN,
    RATIO,
    IndexSpoiltError,
    Parts,
    below,
    bits_of,
    numbers_in,
    runs_behind,
)
from cogtally.catalog.search.small import (
    ANY,
    BEGINS,
    BESIDE,
    HALF_READ,
    INHERITED,
    INSIDE,
    LEAST_BEGINNING,
    LEAST_INSIDE,
    LEAST_LIKENESS,
    MOST_WORSE,
    SAME,
    UNREAD,
    Query,
    agrees,
    compact,
    half_read,
    like_in_other_words,
    tokens_of,
)
from cogtally.gears.notation import Word
from cogtally.gears.printed import MISPRINT, Interval, Printed, interval
from cogtally.gears.trains import pair_of, role_of

#: Likeness to the places of the words that have it.
Near = dict[float, list[int]]


class Vocabulary:
    """Words in their order, each once, as one text."""

    def __init__(self, text: str) -> None:
        self._text = f"{BETWEEN}{text}{BETWEEN}"
        self._words = text.split(BETWEEN) if text else []

    def near(self, word: str) -> Near:
        """Return the words that are near to one, by their likeness to it."""
        found = self._alike(word, LEAST_LIKENESS)
        if UNREAD in word:
            for token in self._half_read(word):
                found[token] = HALF_READ
        else:
            for token, like in self._with_part(word).items():
                found[token] = max(found.get(token, 0.0), like)
        return _by_likeness(found)

    def near_whole(self, whole: str, least: float) -> Near:
        """Return the texts that are at least so like a whole question, by their likeness."""
        return {} if UNREAD in whole else _by_likeness(self._alike(whole, least))

    def _alike(self, word: str, least: float) -> dict[int, float]:
        from rapidfuzz import fuzz, process

        near = process.extract(word, self._words, scorer=fuzz.ratio, score_cutoff=least, limit=None)
        return {place: float(like) for _, like, place in near}

    def _with_part(self, word: str) -> dict[int, float]:
        """Longer words that have a word in them, or begin with it."""
        found: dict[int, float] = {}
        if len(word) >= LEAST_INSIDE:
            at = self._text.find(word)
            while at >= 0:
                end = self._text.index(BETWEEN, at)
                begins = self._text.rindex(BETWEEN, 0, at) + 1
                if end - begins > len(word):
                    found[self._place(self._text[begins:end])] = INSIDE
                at = self._text.find(word, end)
        if len(word) >= LEAST_BEGINNING:
            for place in range(bisect_left(self._words, word), len(self._words)):
                if not self._words[place].startswith(word):
                    break
                if len(self._words[place]) > len(word):
                    found[place] = BEGINS
        return found

    def _half_read(self, word: str) -> list[int]:
        pattern = re.compile(f"{BETWEEN}({half_read(word)})(?={BETWEEN})")
        return [self._place(match[1]) for match in pattern.finditer(self._text)]

    def _place(self, word: str) -> int:
        return bisect_left(self._words, word)


class SourceWords(Vocabulary):
    """The words of all sources, in small letters."""

    def near(self, word: str) -> Near:
        """Return the words that are near enough to one of a source, by their likeness to it."""
        return _by_likeness(self._alike(word, LEAST_LIKENESS))


def _by_likeness(near: dict[int, float]) -> Near:
    found: Near = {}
    for place, like in near.items():
        found.setdefault(like, []).append(place)
    return found


#: Likeness to the numbers, as bits, that have it.
Scores = dict[float, int]
#: So much may a sum of floating point numbers be off, taken in another order.
SLACK = 1e-6


class Index:
    """The search index of one state of a book, open to be asked."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._starts = parts.numbers("starts")
        self._ends = parts.numbers("ids.ends")
        self._ids = parts.raw("ids")
        self.size = len(self._ends)
        self._families = bits_of(self._starts, self.size)
        self._sets = below(self.size) & ~self._families

    def find(self, query: Query) -> Scored:
        """Return all that is found."""
        if query.teeth or query.ratios or query.source:
            scores = self._exact(query)
            if not query.words:
                return Scored(self, scores)
            allowed = 0
            for bits in scores.values():
                allowed |= bits
            scores = self._by_words(query.words, allowed, sets_only=True)
        else:
            scores = self._by_words(query.words, below(self.size), sets_only=False)
        best = max(scores, default=0.0)
        return Scored(self, {like: b for like, b in scores.items() if like > best - MOST_WORSE})

    def named(self, number: int) -> tuple[str, str | None]:
        """Return the ids of the family and the set of a number; None for a family itself."""
        start = self._starts[bisect_right(self._starts, number) - 1]
        return self._id(start), None if start == number else self._id(number)

    def _id(self, number: int) -> str:
        return str(self._ids[self._ends[number - 1] if number else 0 : self._ends[number]], "utf-8")

    def _by_words(self, words: Sequence[str], among: int, *, sets_only: bool) -> Scores:
        asked = [token for word in words for token in tokens_of(word)]
        whole = compact(" ".join(words))
        if not asked or not whole:
            return {}
        vocabulary = Vocabulary(self._parts.text("tokens"))
        lists = self._parts.lists("tokens", self.size)
        levels: list[list[tuple[float, int]]] = []
        own_words = 0
        for word in asked:
            near = vocabulary.near(word)
            own = {like: lists.joined(places) for like, places in near.items()}
            level, own_here = self._levels(own)
            levels.append(level)
            own_words |= own_here
        # A set of which nothing of its own was asked for is found by its family.
        among &= self._sets if sets_only else self._families | own_words
        scores = summed(levels, among)
        self._add_wholes(scores, whole, among)
        return scores

    def _levels(self, own: Scores) -> tuple[list[tuple[float, int]], int]:
        """For one word asked for: falling likeness to the numbers that have it, own or inherited.

        Also those of which it is the own words that count.
        """
        found: list[tuple[float, bool, int]] = []
        seen = 0
        for like in sorted(own, reverse=True):
            new = own[like] & ~seen
            seen |= new
            found.append((like, False, new))
            families = new & self._families
            if families:
                found.append((INHERITED * like, True, runs_behind(families, self._sets)))
        found.sort(key=lambda level: (-level[0], level[1]))
        levels: list[tuple[float, int]] = []
        seen = own_words = 0
        for like, inherited, bits in found:
            new = bits & ~seen
            seen |= new
            own_words |= 0 if inherited else new
            if new:
                levels.append((like, new))
        return levels, own_words

    def _add_wholes(self, scores: Scores, whole: str, among: int) -> None:
        """Put those of which a whole text is more like the whole question where they belong."""
        least = max(LEAST_LIKENESS, max(scores, default=0.0) - MOST_WORSE)
        near = Vocabulary(self._parts.text("wholes")).near_whole(whole, least)
        lists = self._parts.lists("wholes", self.size)
        seen = 0
        for like in sorted(near, reverse=True):
            bits = lists.joined(near[like]) & among & ~seen
            seen |= bits
            for score, there in list(scores.items()):
                if score >= like:
                    bits &= ~there
                else:
                    scores[score] = there & ~bits
            if bits:
                scores[like] = scores.get(like, 0) | bits
        for score in [score for score, bits in scores.items() if not bits]:
            del scores[score]

    def _exact(self, query: Query) -> Scores:
        """The sets that have all the teeth, the ratios and the source asked for."""
        scores: Scores = {SAME: self._sets}
        for word in query.teeth:
            scores[SAME] &= self._with_teeth(word)
        for gear, printed in query.ratios:
            scores = _least_of(scores, self._with_ratio(gear, printed))
        if query.source:
            scores = _least_of(scores, self._with_source(query.source))
        return scores

    def _with_teeth(self, word: Word) -> int:
        lists = self._parts.lists("pairs", self.size)
        if word.pair is not None:
            return lists.joined(
                place
                for place, (pair, *teeth) in enumerate(self._parts.document("pairs"))
                if word.pair in (ANY, pair) and agrees(teeth, word)
            )
        count = word.counts[0]
        pair, role = pair_of(count.wheel), role_of(count.wheel)
        alone = Word(word.text, word.counts, pair=pair, size=3 if role == "idler" else 2)
        found = lists.joined(
            place
            for place, (name, *teeth) in enumerate(self._parts.document("pairs"))
            if name == pair and agrees(teeth, alone)
        )
        # Where wheels have several names, each of these was written down.
        found &= ~bits_of(self._parts.numbers("shared"), self.size)
        named = self._parts.document("wheels")
        return found | self._parts.lists("wheels", self.size).joined(
            place for place, wheel in enumerate(named) if wheel == [count.wheel, count.teeth]
        )

    def _with_ratio(self, gear: str, printed: Printed) -> Scores:
        near, beside = interval(printed), interval(printed, MISPRINT)
        found = {SAME: 0, BESIDE: 0}
        for place, name in enumerate(self._parts.document("gears")):
            if gear in (ANY, name):
                ratios = self._parts.numbers(f"ratios.{place}", RATIO)
                numbers = self._parts.numbers(f"numbers.{place}")
                for like, inside in ((SAME, near), (BESIDE, beside)):
                    # Nearest floating point numbers stand in the order of the ratios themselves.
                    low, high = _ends(inside)
                    part = numbers[bisect_left(ratios, low) : bisect_right(ratios, high)]
                    found[like] |= bits_of(part, self.size)
        found[BESIDE] &= ~found[SAME]
        return found

    def _with_source(self, asked: str) -> Scores:
        want = asked.casefold()
        sources = self._parts.document("sources")
        lists = self._parts.lists("sources", self.size)
        whole = lists.joined(place for place, have in enumerate(sources) if want in have)
        words = SourceWords(self._parts.text("words"))
        of_words = self._parts.lists("words", self.size)
        levels = []
        for word in want.split():
            level: list[tuple[float, int]] = []
            seen = 0
            near = words.near(word)
            for like in sorted(near, reverse=True):
                new = of_words.joined(near[like]) & ~seen
                seen |= new
                level.append((like, new))
            levels.append(level)
        found = {SAME: whole}
        for each, bits in combined(levels, self._sets & ~whole):
            like = like_in_other_words(each)
            found[like] = found.get(like, 0) | bits
        return found


class Scored:
    """What is found: numbers of families and sets by their likeness."""

    def __init__(self, index: Index, scores: Scores) -> None:
        self._index = index
        self._scores = scores

    def __len__(self) -> int:
        return sum(bits.bit_count() for bits in self._scores.values())

    def __iter__(self) -> Iterator[tuple[str, str | None, float]]:
        """Yield the ids of family and set, and the likeness; the likeliest first."""
        for like in sorted(self._scores, reverse=True):
            for number in numbers_in(self._scores[like]):
                yield (*self._index.named(number), like)


def summed(levels: Sequence[Sequence[tuple[float, int]]], among: int) -> Scores:
    """Return the mean likeness over the words asked for, of those that may come near the best.

    `levels` are, for each word, falling likeness to numbers; one that has a word in no level has
    0 there. What cannot come near the best that was met is not gone on with.
    """
    count = len(levels)
    most = [0.0] * (count + 1)
    for place in range(count - 1, -1, -1):
        most[place] = most[place + 1] + (levels[place][0][0] if levels[place] else 0.0)
    found: Scores = {}
    best = 0.0
    waiting: list[tuple[int, tuple[float, ...], int]] = [(0, (), among)]
    while waiting:
        place, each, bits = waiting.pop()
        least = max(LEAST_LIKENESS, best - MOST_WORSE)
        if (sum(each) + most[place]) / count < least - SLACK:
            continue
        if place == count:
            score = sum(each) / count
            if score >= LEAST_LIKENESS:
                best = max(best, score)
                found[score] = found.get(score, 0) | bits
            continue
        further = []
        for like, there in levels[place]:
            part = bits & there
            if part:
                further.append((place + 1, (*each, like), part))
                bits ^= part
                if not bits:
                    break
        if bits:
            further.append((place + 1, (*each, 0.0), bits))
        # The likeliest is taken up first: it shows early what need not be gone on with.
        waiting.extend(reversed(further))
    return found


def combined(
    levels: Sequence[Sequence[tuple[float, int]]], among: int
) -> Iterator[tuple[tuple[float, ...], int]]:
    """Yield how like each word is and the numbers of which that is so; they have every word."""
    waiting: list[tuple[tuple[float, ...], int]] = [((), among)] if levels else []
    while waiting:
        each, bits = waiting.pop()
        if len(each) == len(levels):
            yield each, bits
            continue
        for like, there in levels[len(each)]:
            if bits & there:
                waiting.append(((*each, like), bits & there))


def _least_of(one: Scores, other: Scores) -> Scores:
    """The lesser likeness of two, of the numbers that both have."""
    found: Scores = {}
    for like, bits in one.items():
        for other_like, there in other.items():
            if bits & there:
                least = min(like, other_like)
                found[least] = found.get(least, 0) | (bits & there)
    return found


def _ends(inside: Interval) -> tuple[float, float]:
    if not inside.high_in:
        raise IndexSpoiltError("an interval without its upper end is not looked for")
    return inside.low / inside.den, inside.high / inside.den
