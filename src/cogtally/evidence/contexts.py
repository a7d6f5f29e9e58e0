"""The answers that configurations of a family belong to, told apart by sums of products.

What stands around a factor, so summed, is left to `contexts_arrays`. The sets that the listed
pieces of a configuration have in common are told apart by inclusion and exclusion over the sets of
sets that can be had in common: each is a product over pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

from cogtally.evidence.clusters import Spread
from cogtally.evidence.common_sets import signs_of
from cogtally.evidence.configurations import Configurations

Vector = list[float]


class Classes:
    """The answers that configurations of a family belong to: its matched groups, variant, mixed.

    `groups` are the bit masks of sets alike in every type.
    """

    def __init__(self, configurations: Configurations) -> None:
        prior = configurations.prior
        self.every = configurations.every
        self.groups = [sum(1 << m for m in members) for _, members in prior.bases]
        signs = signs_of(prior.carriers, self.every)
        self.common = sorted(signs)
        self._signs: Vector = [float(signs[mask]) for mask in self.common]

    def holding(self, mask: int, listed: bool) -> Vector:
        """Return for each sum whether pieces with `mask` in common are in it."""
        return [
            *(1.0 if mask & m == m else 0.0 for m in self.common),
            *(1.0 if listed and mask & g == g else 0.0 for g in self.groups),
            1.0,
        ]

    def of_spread(self, spread: Spread) -> Vector:
        """Return the sums of one cluster."""
        classes = [(mask & self.every, mask > self.every, value) for mask, value in spread.classes]
        return [
            *(sum([v for mask, _, v in classes if mask & m == m]) for m in self.common),
            *(sum([v for mask, ok, v in classes if ok and mask & g == g]) for g in self.groups),
            spread.total,
        ]

    def answers(self, sums: Sequence[float], lacks: bool) -> Vector:
        """Return the weights of the matched groups, then variant, then mixed.

        Where something was seen that the family does not have, what would be matched is variant.
        """
        count = len(self.common)
        related = sum(map(mul, self._signs, sums[:count]))
        matched = list(sums[count:-1])
        mixed = max(0.0, sums[-1] - related)
        if lacks:
            return [*([0.0] * len(matched)), max(0.0, related), mixed]
        return [*matched, max(0.0, related - sum(matched)), mixed]
