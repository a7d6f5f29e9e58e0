"""Knows how likely everything seen is in a family's new set, one that the catalog lacks.

Leaves the catalogued sets to `counted`; takes from it what the family lacks and what is looked at.

A new set has no pieces, only wheels: those that meshes hang together are summed over their teeth,
4…200, because a quarter of them is as some set has that wheel, be that beyond unknown teeth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from .counted import CountedFamily
from .laws import NEW_LISTED, NEW_MESH_OFF, NEW_SET, PLACES, TEETH, UNCATALOGUED, mesh_table
from .layout import law_with_listed
from .looks import nowhere_log
from .sums import root_sums
from .written import Seen


class NewSet:
    """The new set of a family with counted sets, `total` the commonness of the whole catalog."""

    def __init__(self, counted: CountedFamily, total: float) -> None:
        self.counted = counted
        own = math.fsum(one.commonness for one in counted.family.counted)
        self.log_prior = math.log((1 - UNCATALOGUED) * NEW_SET * own / total)
        # reading: a wheel with two names is unknown by its one name, as everywhere.
        self.laws = {
            wheel: law_with_listed(counted.family, wheel, counted.rho, NEW_LISTED)
            for wheel in counted.home
        }
        self.meshes = {
            mesh: mesh_table(sums, NEW_MESH_OFF)[TEETH[:, None] + TEETH[None, :]]
            for mesh, sums in counted.family.meshes.items()
        }
        self.whole = [float(self._sums(c, c[0], self.laws).sum()) for c in counted.clusters]

    def _sums(
        self, cluster: Sequence[str], root: str, vectors: dict[str, np.ndarray]
    ) -> np.ndarray:
        """Return for every teeth of the root the sum over the teeth of the rest of its cluster."""
        meshes = {two: matrix for two, matrix in self.meshes.items() if two[0] in cluster}
        return root_sums(root, {wheel: vectors[wheel] for wheel in cluster}, meshes)

    def ratio(self, gears: Sequence[str], seen: Seen) -> Fraction | None:
        """Return the ratio of some gears of the family at what was counted, None without."""
        counted, ratio = self.counted, Fraction(1)
        for pair in [pair for gear in gears for pair in counted.family.gears[gear]]:
            two = []
            for part in ("driver", "driven"):
                wheel = counted.family.wheel(f"{pair}.{part}")
                two.append(seen.likeliest([n for n, w in counted.names.items() if w == wheel]))
            if two[0] is None or two[1] is None:
                return None
            ratio *= Fraction(two[1], two[0])
        return ratio

    def log_weight(self, seen: Seen, hand: str) -> float:
        """Return the logarithm of prior times likelihood, without the hand's prior."""
        return self._log(seen, hand, None)[0]

    def teeth_logs(self, seen: Seen, hand: str, wheel: str) -> np.ndarray:
        """Return the same by the teeth 4…200 of one wheel of the family."""
        total, teeth = self._log(seen, hand, wheel)
        return total + teeth

    def _log(self, seen: Seen, hand: str, keep: str | None) -> tuple[float, np.ndarray]:
        counted = self.counted
        total = self.log_prior + counted.strange_log(seen, hand)
        # Nothing is known of any piece, so all that was looked at is as in a box of no family.
        total += nowhere_log(counted.families, seen.looks, hand)
        for turn in seen.turns:
            if counted.has_gears(turn):
                total += math.log(turn.density(self.ratio(turn.gears, seen)))
            else:
                total += math.log(counted.missing_gear(turn))
        vectors = dict(self.laws)
        weighed = counted.wheel_logs(seen, hand)
        for wheel, logs in weighed.items():
            top = float(logs[self.laws[wheel] > 0].max())
            vectors[wheel] = self.laws[wheel] * np.exp(np.minimum(logs - top, 0.0))
            total += top
        teeth = np.zeros(PLACES)
        for cluster, whole in zip(counted.clusters, self.whole, strict=True):
            if keep in cluster:
                assert keep is not None
                with np.errstate(divide="ignore"):
                    teeth = np.log(self._sums(cluster, keep, vectors) / whole)
            elif any(wheel in weighed for wheel in cluster):
                total += math.log(self._sums(cluster, cluster[0], vectors).sum() / whole)
        return total, teeth
