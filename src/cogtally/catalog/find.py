"""Families and sets by id, name or alias, and the words nearest to one that is misspelt.

What is then done with a family or a set is left to whoever asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from typing import TypeVar

from cogtally.catalog.model import Catalog, Family, Named, RatioSet
from cogtally.gears.errors import UserError, few, shown
from cogtally.gears.notation import Seen, named, refuse_other_pairs

MOST_NEAREST = 3
#: Per cent of likeness from which on a word is offered: whole against whole, or against a part.
WHOLE_LIKENESS, PART_LIKENESS = 60, 80
#: A word that is so much less alike than the best is not offered beside it.
MOST_WORSE = 15
#: So many names are listed where none is near.
MOST_LISTED = 8
#: A longer word is no slip of the keyboard, and likeness takes the square of its length.
LONGEST_WORD = 200

_NO_EXAMPLE = "write FAMILY/SET"


_N = TypeVar("_N", bound=Named)


def nearest(word: str, candidates: Iterable[str], most: int = MOST_NEAREST) -> list[str]:
    """Return up to `most` of the candidates that `word` may be a slip for, the likeliest first.

    Upper and lower case are alike. A candidate that is like the whole word comes before one that
    only has it in it; none is returned that is not like it.
    """
    from rapidfuzz import fuzz, process

    known = list(dict.fromkeys(c for c in candidates if len(c) <= LONGEST_WORD))
    if not word or len(word) > LONGEST_WORD:
        return []
    for scorer, least in ((fuzz.ratio, WHOLE_LIKENESS), (fuzz.partial_ratio, PART_LIKENESS)):
        found = process.extract(
            word, known, scorer=scorer, processor=str.casefold, score_cutoff=least, limit=most
        )
        if found:
            best = found[0][1]
            return [name for name, likeness, _ in found if likeness > best - MOST_WORSE]
    return []


def did_you_mean(
    word: str,
    candidates: Iterable[str],
    what: str = "there are",
    listed: Iterable[str] | None = None,
) -> str:
    """Return the mend for a word that is not known: the nearest ones, else what there is.

    `listed` is what there is where some of the candidates are two words for one thing.
    """
    known = list(dict.fromkeys(c for c in candidates if c))
    near = nearest(word, known)
    if near:
        return f"did you mean {_listed(near, 'or')}?"
    known = known if listed is None else list(listed)
    if not known:
        return ""
    listed_all = len(known) <= MOST_LISTED
    return f"{what} {_listed(known, 'and') if listed_all else few(known, MOST_LISTED)}"


def as_called(catalog: Catalog, seen: Seen) -> Seen:
    """Return what was seen with pairs and gears called as the catalog calls them.

    Raises UserError, with the nearest right ones, for a name that no family has unless it is a
    number, and where a pair stands twice with other teeth.
    """
    if not seen.words:
        return seen
    names = sorted(catalog.pair_names)
    meant = partial(did_you_mean, what="pairs and gears are called")
    found = named(seen, names, meant if names else None)
    refuse_other_pairs(found)
    return found


def find_family(catalog: Catalog, text: str) -> Family:
    """Return the family of that id, name or alias; raise UserError with the nearest if none is.

    An id goes before names and aliases; upper and lower case are alike. Raises UserError also
    where a name means several families.
    """
    named = catalog.names
    found = matching(named, text)
    if not found:
        mend = did_you_mean(text, _words(named), listed=[family.id for family in named])
        raise UserError("no family of the catalog is called that", shown(text), mend)
    if len(found) > 1:
        ids = _listed([family.id for family in found], "or")
        raise UserError("several families are called that", shown(text), f"say {ids}")
    return catalog.by_id[found[0].id]


def find_set(catalog: Catalog, text: str) -> tuple[Family, RatioSet]:
    """Return the family and the set that `FAMILY/SET` names, each by id, name or alias.

    Raises UserError with the nearest right ones where there is no such family or set.
    """
    if "/" not in text:
        mend = _mend_without_slash(catalog, text)
        raise UserError("a set is named with its family", shown(text), mend)
    head, _, tail = text.partition("/")
    named = catalog.names
    for before, after in splits(text):
        if len(matching(named, before)) == 1:
            head, tail = before, after
            break
    family = find_family(catalog, head)
    return family, find_set_of(family, tail)


def find_any(catalog: Catalog, text: str) -> tuple[Family, RatioSet | None]:
    """Return the family that `FAMILY` names, or family and set where it is `FAMILY/SET`.

    A stroke in the name of a family does not part it. Raises UserError as the others do; a set
    that is named without its family is told how it is written.
    """
    found = matching(catalog.names, text)
    if "/" not in text and not found:
        mend = _mend_without_slash(catalog, text)
        if mend != _NO_EXAMPLE:
            raise UserError("a set is named with its family", shown(text), mend)
    if "/" not in text or len(found) == 1:
        return find_family(catalog, text), None
    return find_set(catalog, text)


def find_set_of(family: Family, text: str) -> RatioSet:
    """Return the set of `family` of that id, name or alias; raise UserError if none is."""
    found = matching(family.sets, text)
    if not found:
        listed = [known.id for known in family.sets]
        mend = did_you_mean(text, _words(family.sets), listed=listed)
        raise UserError(f"{family.id} has no set called that", shown(text), mend)
    if len(found) > 1:
        ids = _listed([known.id for known in found], "or")
        raise UserError(f"{family.id} has several sets called that", shown(text), f"say {ids}")
    return found[0]


def splits(text: str) -> Iterator[tuple[str, str]]:
    """Yield every way to part a text at a stroke: names may have strokes in them."""
    at = text.find("/")
    while at >= 0:
        yield text[:at], text[at + 1 :]
        at = text.find("/", at + 1)


def _mend_without_slash(catalog: Catalog, text: str) -> str:
    """Name a set that is called that in some family, or say how it is written."""
    for family_id, sets in catalog.set_names:
        for known in matching(sets, text):
            return f"write FAMILY/SET, for example {family_id}/{known.id}"
    for one in matching(catalog.names, text):
        family = catalog.by_id[one.id]
        if family.sets:
            return f"write FAMILY/SET, for example {family.id}/{family.sets[0].id}"
    return _NO_EXAMPLE


def matching(named: Iterable[_N], text: str) -> list[_N]:
    """Return those of that id, or else those of that name or alias; upper and lower case alike."""
    known = list(named)
    word = text.strip().casefold()
    if not word:
        return []
    return [n for n in known if n.id.casefold() == word] or [
        n for n in known if word in (n.name.casefold(), *(a.casefold() for a in n.aliases))
    ]


def _words(named: Iterable[Named]) -> list[str]:
    """All ids, then all names and aliases, so that an id is offered before a name alike."""
    known = list(named)
    return [*(n.id for n in known), *(w for n in known for w in (n.name, *n.aliases) if w)]


def _listed(words: list[str], last: str) -> str:
    return f"{', '.join(words[:-1])} {last} {words[-1]}" if len(words) > 1 else "".join(words)
