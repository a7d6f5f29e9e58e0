"""Words asked for beside all words of a book, one below the other: which are near, how near.

It gives what `likeness` gives of each two, without going through all of them one by one.
"""

from __future__ import annotations

import re
from bisect import bisect_left

from cogtally.catalog.search.index_build import BETWEEN
from cogtally.catalog.search.likeness import (
    BEGINS,
    HALF_READ,
    INSIDE,
    LEAST_BEGINNING,
    LEAST_INSIDE,
    LEAST_LIKENESS,
    UNREAD,
    half_read,
)

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
