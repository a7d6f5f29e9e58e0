"""What a question finds in a book: a large one is not read for it, a file beside it says what to.

The file is an SQLite database of the terms (words, whole texts, pairs, ratios, sources) of all
families and sets, each once, and of which of them each has. Every term is put to the law of `plain`
for it, so that no less and no more is told than `plain` finds in the whole book. What is shown is
found by `plain` itself in what the book has of it. Missing, spoilt or old it is made anew.
"""

from __future__ import annotations

import json
import sqlite3
from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import Any

from cogtally.catalog.book import book_catalog, book_families, state_of, without_collecting
from cogtally.catalog.model import Catalog, Family, RatioSet, gear_ratios, written_pair
from cogtally.catalog.search import plain
from cogtally.gears.notation import Word
from cogtally.gears.printed import MISPRINT, Printed, interval
from cogtally.gears.trains import pair_of, role_of
from cogtally.store import read_summed, reading, write_summed

#: A book of fewer sets is looked through as it stands, which is as quick.
FEWEST_SETS = 500
#: So many terms are asked for at once.
AT_ONCE = 16
#: The version of the file: one of another version is no good.
VERSION = 4
ENDING = ".search"
#: What a file that is not what was written, or an SQLite that cannot read it, can come to.
_NO_GOOD = (sqlite3.Error, LookupError, ValueError, TypeError, AttributeError)

_TABLES = """
CREATE TABLE made_of (version INTEGER, state TEXT);
CREATE TABLE subjects (number INTEGER PRIMARY KEY, id TEXT);
CREATE TABLE terms (
    kind TEXT, ratio REAL, term TEXT, number INTEGER, PRIMARY KEY (kind, ratio, term)
) WITHOUT ROWID;
CREATE VIRTUAL TABLE has USING fts5 (
    numbers, content = '', columnsize = 0, detail = none, tokenize = ascii
);
BEGIN;
"""
#: Kinds of terms. Where wheels have two names, their pairs are a kind, and each name is a term.
FAMILY, WORD, WHOLE, SOURCE, RATIO = "family", "word", "whole", "source", "ratio"
PAIR, SHARED_PAIR, WHEEL = "pair", "shared pair", "wheel"
#: Kind, ratio (the nearest floating point number; 0 of other kinds) and text.
Term = tuple[str, float, str]
#: Ids of family and set, and how like they are to what was asked for.
Told = dict[tuple[str, str | None], float]


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
    hits: tuple[plain.Hit, ...]


def find_in(catalog: Catalog, query: plain.Query, most: int | None = None) -> Found:
    """Return what a question finds in a catalog, the first `most` of it, or all."""
    hits = plain.search(catalog, query)
    families, sets = len(catalog.families), catalog.set_count
    return Found(catalog.name, families, sets, catalog.demo, len(hits), hits[:most])


def find_in_book(path: Path, query: plain.Query, most: int | None = None) -> Found:
    """Return what a question finds in the book at `path`, the first `most` of it, or all.

    Raises UserError where the book cannot be read.
    """
    with reading(path) as book, without_collecting():
        state = state_of(book)
        *_, families, sets = state
        if sets >= FEWEST_SETS:
            with suppress(*_NO_GOOD), closing(_kept(path, state) or _made(path, state, book)) as db:
                side = _Side(db)
                ranked = side.rank(query)
                hits = _read(book, path, query, side.named(ranked[:most]))
                return Found(path.name, families, sets, False, len(ranked), hits)
        return find_in(book_catalog(book, path), query, most)


def side_path(book: Path) -> Path:
    """Return where the file beside a book stands."""
    return book.with_name(book.name + ENDING)


def _kept(path: Path, state: list[Any]) -> sqlite3.Connection | None:
    """The file beside a book, read whole; None where there is none of that state of the book."""
    with suppress(OSError, *_NO_GOOD):
        db = sqlite3.connect(":memory:")
        db.deserialize(read_summed(side_path(path)))
        if db.execute("SELECT * FROM made_of").fetchone() == (VERSION, json.dumps(state)):
            return db
        db.close()
    return None


def _made(path: Path, state: list[Any], book: sqlite3.Connection) -> sqlite3.Connection:
    """Make the file beside a book anew, and keep it where the disk takes it."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    db.executescript(_TABLES)
    db.execute("INSERT INTO made_of VALUES (?, ?)", [VERSION, json.dumps(state)])
    terms: dict[Term, int] = {}
    there = ((f, s) for f in book_catalog(book, path).families for s in (None, *f.sets))
    for number, (family, known) in enumerate(there):
        subject = family.id if known is None else known.id
        db.execute("INSERT INTO subjects VALUES (?, ?)", [number, subject])
        has = {str(terms.setdefault(term, len(terms))) for term in _terms(family, known)}
        db.execute("INSERT INTO has (rowid, numbers) VALUES (?, ?)", [number, " ".join(has)])
    db.executemany("INSERT INTO terms VALUES (?, ?, ?, ?)", ((*t, n) for t, n in terms.items()))
    db.execute("COMMIT")
    with suppress(OSError):
        write_summed(side_path(path), db.serialize())
    return db


def _terms(family: Family, known: RatioSet | None) -> Iterator[Term]:
    """All terms that a family, or a set of it, has."""
    for _, text in plain.texts_of(family, known):
        yield WHOLE, 0.0, plain.whole_of(text)
        for token in plain.tokens_of(text):
            yield WORD, 0.0, token
    if known is None:
        yield FAMILY, 0.0, ""
        return
    yield SOURCE, 0.0, known.source
    for pair, teeth in known.pairs.items():
        yield SHARED_PAIR if family.same else PAIR, 0.0, f"{pair}={written_pair(teeth)}"
    if family.same and known.is_counted:
        counts = family.teeth_of(known)
        for name, wheel in family.train.names.items():
            yield WHEEL, 0.0, f"{name}={counts.get(wheel)}"
    ratios = gear_ratios(family, known) if known.is_counted else {}
    printed = {gear: Fraction(text) for gear, text in known.ratios.items()}
    for gear, ratio in (*ratios.items(), *printed.items()):
        if ratio is not None:
            yield RATIO, float(ratio), f"{gear}={ratio}"


class _Side:
    """The file beside a book, open to be asked; families and sets are numbers in their order."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._families = sorted(
            self._having(dict.fromkeys(self._terms(FAMILY).values(), plain.SAME))
        )

    def rank(self, query: plain.Query) -> list[tuple[int, float]]:
        """Return what is found and how like it is, the likeliest first, as `search` has it."""
        exact = self._exact(query)
        if not query.words:
            return sorted(exact.items(), key=lambda found: (-found[1], found[0]))
        words, wholes = self._terms(WORD), self._terms(WHOLE)
        likeness = plain.Likeness(query.words, words, wholes, sets=query.is_of_sets)
        near = [self._having({words[w]: like for w, like in n.items()}) for n in likeness.near]
        whole = self._having({wholes[text]: like for text, like in likeness.whole.items()})
        scores: list[tuple[int, float]] = []
        score = cache(likeness.score)
        for number in sorted(exact if query.is_of_sets else set(whole).union(*near)):
            family = self._family_of(number)
            own = tuple([one.get(number, 0.0) for one in near])
            above = None if family == number else tuple([one.get(family, 0.0) for one in near])
            scores.append((number, score(own, above, whole.get(number, 0.0))))
        return plain.likeliest((found for found in scores if found[1]), itemgetter(1))

    def named(self, ranked: Sequence[tuple[int, float]]) -> Told:
        """Return what was found by the ids of family and set."""
        asked = "SELECT id FROM subjects WHERE number IN (?, ?) ORDER BY number"
        found: Told = {}
        for number, like in ranked:
            family, *known = self._db.execute(asked, [self._family_of(number), number])
            found[family[0], known[0][0] if known else None] = like
        return found

    def _family_of(self, number: int) -> int:
        return self._families[bisect_right(self._families, number) - 1]

    def _exact(self, query: plain.Query) -> dict[int, float]:
        """The sets that have all the teeth, the ratios and the source asked for."""
        asked = [self._with_teeth(word) for word in query.teeth]
        asked += [self._with_ratio(*ratio) for ratio in query.ratios]
        if query.source:
            sources = self._terms(SOURCE)
            asked.append(
                {n: plain.like_source(source, query.source) for source, n in sources.items()}
            )
        found = [self._having(likes) for likes in asked]
        there = set(found[0]).intersection(*found) if found else set()
        return {number: min(likes[number] for likes in found) for number in there}

    def _with_teeth(self, word: Word) -> dict[int, float]:
        kinds: Sequence[str] = (PAIR, SHARED_PAIR)
        found: dict[int, float] = {}
        if word.pair is None:
            (count,) = word.counts
            role, kinds = role_of(count.wheel), (PAIR,)
            wheel = self._terms(WHEEL).get(f"{count.wheel}={count.teeth}")
            found = {} if wheel is None else {wheel: plain.SAME}
            word = replace(word, pair=pair_of(count.wheel), size=3 if role == "idler" else 2)
        for kind in kinds:
            for term, number in self._terms(kind).items():
                pair, _, written = term.partition("=")
                teeth = [None if text == "_" else int(text) for text in written.split("/")]
                if word.pair in (plain.ANY, pair) and plain.agrees(teeth, word):
                    found[number] = plain.SAME
        return found

    def _with_ratio(self, gear: str, printed: Printed) -> dict[int, float]:
        inside = interval(printed, MISPRINT)
        # Nearest floating point numbers stand in the order of the ratios themselves.
        terms = self._terms(RATIO, inside.low / inside.den, inside.high / inside.den)
        found: dict[int, float] = {}
        for term, number in terms.items():
            name, _, ratio = term.partition("=")
            if gear in (plain.ANY, name):
                found[number] = plain.like_ratio(Fraction(ratio), printed)
        return found

    def _terms(self, kind: str, low: float = 0.0, high: float = 0.0) -> dict[str, int]:
        """All terms of a kind, with their numbers."""
        asked = "SELECT term, number FROM terms WHERE kind = ? AND ratio BETWEEN ? AND ?"
        return dict(self._db.execute(asked, [kind, low, high]))

    def _having(self, likes: Mapping[int, float]) -> dict[int, float]:
        """The families and sets that have any of some terms, and the most that one is like."""
        asked = "SELECT rowid FROM has WHERE has MATCH ?"
        found: dict[int, float] = {}
        for like, some in groupby(sorted(likes.items(), key=itemgetter(1)), itemgetter(1)):
            terms = [str(term) for term, _ in some if like]
            for first in range(0, len(terms), AT_ONCE):
                any_of = " OR ".join(terms[first : first + AT_ONCE])
                found.update((number, like) for (number,) in self._db.execute(asked, [any_of]))
        return found


def _read(
    book: sqlite3.Connection, path: Path, query: plain.Query, told: Told
) -> tuple[plain.Hit, ...]:
    """Find what was told in the book itself; raise ValueError where it is not what was told."""
    there = book_families(book, path, [family for family, _ in told])
    hits = plain.search(Catalog(tuple(there)), query)
    by_ids = {(hit.family.id, hit.known.id if hit.known else None): hit for hit in hits}
    found = tuple(by_ids[subject] for subject in told)
    if [hit.likeness for hit in found] != list(told.values()):
        raise ValueError("the book has it otherwise")
    return found
