"""How like the words of a question are to the words of many texts: misspelt, cut short, half read.

Which texts are looked through, and what is made of the likeness, is left to `search`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

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
