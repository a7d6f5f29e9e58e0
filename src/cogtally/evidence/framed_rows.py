"""What is asked of one family, row by row, whatever is seen: the weights of states in each row.

The rows are the whole, what sets have in common (terms of `stacked_terms`), and the so-far groups;
under every base set a row is a column. How columns are summed is left to `framed_pattern` and
`framed_plan`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cogtally.evidence.framed_arms import Array
from cogtally.evidence.prior import FamilyPrior
from cogtally.evidence.stacked_shape import MOST_COMMON
from cogtally.evidence.stacked_terms import (
    EITHER,
    LISTED_ONLY,
    UNLISTED_ONLY,
    InCommon,
    in_common,
)

#: Which states of a piece are in a term by its code: the unlisted ones, those of its type.
_IN_TERM = {UNLISTED_ONLY: (1.0, 0.0), EITHER: (1.0, 1.0), LISTED_ONLY: (0.0, 1.0)}


class Rows:
    """The rows of one family.

    `weights[base]`: commonness over normaliser; `sets[base]`: the sets, by id; `of_states[piece][
    base, state]`: the prior weight of each state; `drawn[base]`: that of all pieces as the base
    set says, whichever it was drawn from, its meshes left out.
    """

    def __init__(self, prior: FamilyPrior, terms: InCommon, normalisers: Sequence[float]) -> None:
        self.prior = prior
        known = prior.family.counted_sets
        common = [sum(known[m].commonness for m in members) for _, members in prior.bases]
        self.weights = np.array(common) / np.array(normalisers)
        self.sets = tuple(tuple(known[m].id for m in members) for _, members in prior.bases)
        every = range(len(prior.pieces))
        self.of_states = [
            np.array([prior.weights(piece, own[piece]) for own, _ in prior.bases])
            for piece in every
        ]
        drawn = np.repeat(self.weights[:, None], len(self.weights), axis=1)
        for piece, weights in enumerate(self.of_states):
            drawn *= weights[:, [own[piece] for own, _ in prior.bases]]
        self.drawn: Array = drawn.sum(axis=0)
        self._signs = np.array(terms.signs, dtype=float)
        self._terms = [self._in_terms(terms, piece) for piece in every]

    @property
    def bases(self) -> int:
        """How many base sets there are."""
        return len(self.weights)

    def columns(self, groups: int) -> int:
        """Return how many columns there are with so many so-far groups."""
        return (1 + len(self._signs) + groups) * self.bases

    def types(self, piece: int) -> int:
        """Return how many listed types a piece has."""
        return len(self.prior.family.types[self.prior.pieces[piece].name])

    def _in_terms(self, terms: InCommon, piece: int) -> Array:
        found = np.zeros((len(terms.bases), 1 + self.types(piece)))
        for row, (base, codes) in enumerate(zip(terms.bases, terms.codes, strict=True)):
            own = self.prior.bases[base][0][piece]
            found[row, 0], found[row, 1 + own] = _IN_TERM[codes[piece]]
        return found

    def masks(self, piece: int, allowed: Sequence[frozenset[int] | None]) -> Array:
        """Return what of a piece is in each row: [row, all that is unlisted, then its types].

        `allowed`: the types of each so-far group, None where all is.
        """
        states = 1 + self.types(piece)
        groups = np.ones((len(allowed), states))
        for row, kinds in zip(groups, allowed, strict=True):
            if kinds is not None:
                row[:] = 0.0
                row[[1 + kind for kind in kinds]] = 1.0
        return np.concatenate([np.ones((1, states)), self._terms[piece], groups])

    def into(self, groups: int) -> Array:
        """Return what each column counts towards: the whole, all in common, each so-far group.

        [row, base, …].
        """
        terms = len(self._signs)
        found = np.zeros((1 + terms + groups, self.bases, 2 + groups))
        found[0, :, 0] = self.weights
        found[1 : 1 + terms, :, 1] = self._signs[:, None] * self.weights
        for number in range(groups):
            found[1 + terms + number, :, 2 + number] = self.weights
        return found


def rows_of(prior: FamilyPrior, normalisers: Sequence[float]) -> Rows | None:
    """Return the rows of a family; None where its sets can have too much in common."""
    firsts: list[dict[int, int]] = [{} for _ in prior.pieces]
    for base, (own, _) in enumerate(prior.bases):
        for first, kind in zip(firsts, own, strict=True):
            first.setdefault(kind, base)
    kinds = [
        tuple(first[own[piece]] for own, _ in prior.bases) for piece, first in enumerate(firsts)
    ]
    terms = in_common(kinds, None, MOST_COMMON)
    return None if terms is None else Rows(prior, terms, normalisers)
