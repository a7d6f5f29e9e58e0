"""What the base sets of one family can have in common, as a sum of products over its pieces.

The types of the family are read by `stacked_laid`; the products are worked out in `stacked_rows`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cogtally.evidence.common_sets import signs_of

#: In a term a piece is unlisted; of the type of its base set, or unlisted; or of that type.
UNLISTED_ONLY, EITHER, LISTED_ONLY = 0, 1, 2

#: The type of each base set, numbered by the first base set that has it.
Kinds = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class InCommon:
    """All that has any base set in common, as terms that add up to it with their `signs`.

    `codes[i]`: for each piece what it is in term i, beside the type that it has in `bases[i]`.
    """

    bases: tuple[int, ...]
    signs: tuple[int, ...]
    codes: tuple[tuple[int, ...], ...]


@dataclass(slots=True)
class _Term:
    base: int
    sign: int
    codes: tuple[int, ...]


def in_common(kinds: Sequence[Kinds], hub: int | None, most: int) -> InCommon | None:
    """Return the terms of a family whose pieces have these kinds; None above `most` signs.

    `hub`: the piece that is gone through type by type; what it is listed in stands in terms of
    their own, which cost little.
    """
    carriers = [_carriers(kind) for kind in kinds]
    signs = signs_of([have.values() for have in carriers], (1 << len(kinds[0])) - 1)
    if len(signs) > most:
        return None
    terms = []
    for mask, sign in signs.items():
        if not sign:
            continue
        base = (mask & -mask).bit_length() - 1
        codes = [
            EITHER if mask & have[kind[base]] == mask else UNLISTED_ONLY
            for have, kind in zip(carriers, kinds, strict=True)
        ]
        if hub is not None and codes[hub] == EITHER:
            codes[hub] = LISTED_ONLY
            terms.append(_Term(base, sign, tuple(codes)))
            codes[hub] = UNLISTED_ONLY
        terms.append(_Term(base, sign, tuple(codes)))
    found = _merged(kinds, terms, hub)
    return InCommon(
        tuple([term.base for term in found]),
        tuple([term.sign for term in found]),
        tuple([term.codes for term in found]),
    )


def _key(kinds: Sequence[Kinds], base: int, codes: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """What a term is: alike terms have the same."""
    return tuple(
        [(code, kind[base] if code else 0) for kind, code in zip(kinds, codes, strict=True)]
    )


def _merged(kinds: Sequence[Kinds], terms: Sequence[_Term], hub: int | None) -> list[_Term]:
    """The same sum in fewer terms: alike ones are one, and so are two that differ in one piece."""
    known: dict[object, _Term] = {}
    for term in terms:
        alike = known.setdefault(_key(kinds, term.base, term.codes), term)
        if alike is not term:
            alike.sign += term.sign
    found = []
    for term in known.values():
        for place in range(len(kinds)):
            if term.sign <= 0 or place == hub or term.codes[place] != EITHER:
                continue
            less = known.get(_key(kinds, term.base, _with(term.codes, place, UNLISTED_ONLY)))
            if less is None or less.sign >= 0:
                continue
            both = min(term.sign, -less.sign)
            found.append(_Term(term.base, both, _with(term.codes, place, LISTED_ONLY)))
            term.sign -= both
            less.sign += both
    return [term for term in (*known.values(), *found) if term.sign]


def _with(codes: Sequence[int], place: int, code: int) -> tuple[int, ...]:
    return (*codes[:place], code, *codes[place + 1 :])


def _carriers(column: Sequence[int]) -> dict[int, int]:
    """Each type to the base sets that have it, as a bit mask."""
    found: dict[int, int] = {}
    for base, kind in enumerate(column):
        found[kind] = found.get(kind, 0) | 1 << base
    return found
