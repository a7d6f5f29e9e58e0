"""From a catalog to the parts of its search index: words, texts, pairs, ratios and sources.

Every family, and every set behind its family, has a number: its place when all are written down
one after the other. The disk is left to `index_file`, asking to `index_search`.
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Iterable, Mapping
from typing import Any

from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios
from cogtally.catalog.search.index_file import NUMBER, packed
from cogtally.catalog.search.small import LONGEST_WHOLE, compact, texts_of, tokens_of
from cogtally.gears.trains import OVERDRIVE

#: Kinds of arrays: a ratio is kept as the floating point number nearest to it.
RATIO = "d"
#: What stands between the words of a part; no word has one in it.
BETWEEN = "\n"


def index_of(catalog: Catalog) -> dict[str, bytes]:
    """Return the parts of the search index of a catalog."""
    building = _Building()
    for family in catalog.families:
        building.add(family)
    return building.parts()


class _Building:
    """The lists of numbers for each word, text, pair, wheel, ratio and source, as they grow."""

    def __init__(self) -> None:
        self.ids: list[str] = []
        self.starts: list[int] = []
        self.shared: list[int] = []
        self.tokens: dict[str, list[int]] = {}
        self.wholes: dict[str, list[int]] = {}
        self.pairs: dict[tuple[str, tuple[int | None, ...]], list[int]] = {}
        self.wheels: dict[tuple[str, int], list[int]] = {}
        self.sources: dict[str, list[int]] = {}
        self.source_words: dict[str, list[int]] = {}
        self.ratios: dict[str, list[tuple[float, int]]] = {}
        self._said: dict[str, tuple[tuple[str, ...], str]] = {}

    def add(self, family: Family) -> None:
        """Take in a family and its sets."""
        self.starts.append(len(self.ids))
        arranged = _Arranged(family)
        for known in (None, *family.sets):
            number = len(self.ids)
            self.ids.append(family.id if known is None else known.id)
            self._words(number, (text for _, text in texts_of(family, known)))
            if known is not None:
                self._teeth(number, known, arranged)
                self._source(number, known.source)

    def _words(self, number: int, texts: Iterable[str]) -> None:
        tokens: set[str] = set()
        for text in texts:
            said = self._said.get(text)
            if said is None:
                short = compact(text) if len(text) <= LONGEST_WHOLE else ""
                said = self._said[text] = (tokens_of(text), short)
            tokens.update(said[0])
            if said[1]:
                numbers = self.wholes.setdefault(said[1], [])
                if not numbers or numbers[-1] != number:
                    numbers.append(number)
        for token in tokens:
            self.tokens.setdefault(token, []).append(number)

    def _teeth(self, number: int, known: RatioSet, arranged: _Arranged) -> None:
        for pair, teeth in known.pairs.items():
            self.pairs.setdefault((pair, teeth), []).append(number)
        if arranged.shares:
            self.shared.append(number)
            for wheel, count in arranged.counts(known).items():
                self.wheels.setdefault((wheel, count), []).append(number)
        for gear, ratio in arranged.ratios(known):
            self.ratios.setdefault(gear, []).append((ratio, number))

    def _source(self, number: int, source: str) -> None:
        if not source:
            return
        said = source.casefold()
        self.sources.setdefault(said, []).append(number)

    def parts(self) -> dict[str, bytes]:
        """Return everything as parts of bytes."""
        size = len(self.ids)
        for said, numbers in self.sources.items():
            for word in set(said.split()):
                self.source_words.setdefault(word, []).extend(numbers)
        found = {
            "starts": array(NUMBER, self.starts).tobytes(),
            "shared": array(NUMBER, self.shared).tobytes(),
            **_named("ids", self.ids),
            **_listed("tokens", self.tokens, size),
            **_listed("wholes", self.wholes, size),
            **_listed("words", self.source_words, size),
            "sources": _json(list(self.sources)),
            **_lists("sources", self.sources.values(), size),
            "pairs": _json([[pair, *teeth] for pair, teeth in self.pairs]),
            **_lists("pairs", self.pairs.values(), size),
            "wheels": _json(list(self.wheels)),
            **_lists("wheels", self.wheels.values(), size),
            "gears": _json(list(self.ratios)),
        }
        for place, ratios in enumerate(self.ratios.values()):
            ratios.sort()
            found[f"ratios.{place}"] = array(RATIO, (ratio for ratio, _ in ratios)).tobytes()
            found[f"numbers.{place}"] = array(NUMBER, (number for _, number in ratios)).tobytes()
        return found


class _Arranged:
    """How the pairs of one family make its gears, worked out once for all its sets."""

    def __init__(self, family: Family) -> None:
        self.family = family
        self.shares = bool(family.same)
        train = family.train
        self.paths = {gear: train.path_wheels(train.path(gear) or ()) for gear in train.gears}
        self._known: dict[tuple[int | None, ...], float | None] = {}

    def counts(self, known: RatioSet) -> dict[str, int]:
        """The counted wheels of a set, under every name that they have."""
        if not known.is_counted:
            return {}
        teeth = self.family.teeth_of(known)
        named = {name: teeth.get(wheel) for name, wheel in self.family.train.names.items()}
        return {name: count for name, count in named.items() if count is not None}

    def ratios(self, known: RatioSet) -> Iterable[tuple[str, float]]:
        """The ratios of a set, each gear's own one and the printed one."""
        if known.is_counted and self.family.layout == OVERDRIVE:
            for gear, exact in gear_ratios(self.family, known).items():
                if exact is not None:
                    yield gear, float(exact)
        elif known.is_counted:
            teeth = self.family.teeth_of(known)
            for gear, wheels in self.paths.items():
                ratio = self._ratio(tuple(teeth.get(wheel) for ends in wheels for wheel in ends))
                if ratio is not None:
                    yield gear, ratio
        for gear, printed in known.ratios.items():
            yield gear, float(printed)

    def _ratio(self, counts: tuple[int | None, ...]) -> float | None:
        """Driven over driver of all pairs: whole numbers first, so that it is rounded but once."""
        if counts not in self._known:
            over = under = 1
            for place, count in enumerate(counts):
                if count is None:
                    over = 0
                elif place % 2:
                    over *= count
                else:
                    under *= count
            self._known[counts] = over / under if over else None
        return self._known[counts]


def _listed(name: str, lists: Mapping[str, list[int]], size: int) -> dict[str, bytes]:
    """Words in their order, and the numbers of each."""
    words = sorted(lists)
    text = BETWEEN.join(words).encode()
    return {name: text, **_lists(name, (lists[word] for word in words), size)}


def _lists(name: str, lists: Iterable[Iterable[int]], size: int) -> dict[str, bytes]:
    ends, data = packed(lists, size)
    return {f"{name}.ends": ends.tobytes(), f"{name}.lists": data}


def _named(name: str, texts: Iterable[str]) -> dict[str, bytes]:
    """Texts one after the other, and where each ends."""
    ends = array(NUMBER)
    parts: list[bytes] = []
    end = 0
    for text in texts:
        parts.append(text.encode())
        end += len(parts[-1])
        ends.append(end)
    return {f"{name}.ends": ends.tobytes(), name: b"".join(parts)}


def _json(document: Any) -> bytes:
    return json.dumps(document, ensure_ascii=False, separators=(",", ":")).encode()
