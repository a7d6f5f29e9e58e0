"""What the model says of one box, as numbers: the shape of a posterior.

How it is computed belongs to `assembled`; what is made of it in words belongs to `verdict`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

MATCHED, MIXED, VARIANT, UNCATALOGUED = "matched", "mixed", "variant", "uncatalogued"
#: Behind the matched answers stand mixed, variant and uncatalogued.
_OTHERS = 3


@dataclass(frozen=True, slots=True)
class Share:
    """One answer and its probability: a matched group, or mixed, variant, uncatalogued.

    `sets` are set ids of `family`, in catalog order; both are empty unless it is matched.
    """

    kind: str
    probability: float
    family: str = ""
    sets: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class PieceShare:
    """The probability that the box is of `family` and that `piece` is of this type there.

    `teeth` along the axis, None where the piece is unlisted; `sets` are those that carry the type.
    """

    family: str
    piece: str
    teeth: tuple[int | None, ...] | None
    sets: tuple[str, ...]
    probability: float


@dataclass(frozen=True, slots=True)
class Posterior:
    """The exact posterior of an assembled box.

    `answers`: every matched group, mixed, variant and uncatalogued, adding up to 1, matched ones
    first and falling. `so_far`: groups of sets alike in every counted wheel, falling; empty while
    no wheel is counted. `families`: probability of each family, ratio-only sets included.
    `leading`: the family of most probability, empty in an empty catalog. `pieces`: every type of
    every piece of the leading family, joint with the family. `steady`: probability of a steady
    hand. `log_evidence`: natural logarithm of the probability of all that was seen.

    Of a large catalog the shares are made when they are asked for: the first few are quick, all of
    them are not, nor is how many there are.
    """

    answers: Sequence[Share]
    so_far: Sequence[Share]
    families: Mapping[str, float]
    leading: str
    pieces: tuple[PieceShare, ...]
    steady: float
    log_evidence: float

    def of_kind(self, kind: str) -> float:
        """Return the summed probability of the answers of one kind."""
        made = getattr(self.answers, "of_kind", None)
        if made is not None:
            return float(made(kind))
        return sum(a.probability for a in self.answers if a.kind == kind)


def likely(shares: Sequence[Share], least: float) -> list[Share]:
    """Return those that are not below `least`, of answers or groups as a posterior has them."""
    found: list[Share] = []
    for share in shares:
        if share.kind == MATCHED and share.probability < least:
            found += [other for other in shares[-_OTHERS:] if other.kind != MATCHED]
            break
        found.append(share)
    return [share for share in found if share.probability >= least]


def probabilities(shares: Sequence[Share]) -> list[float]:
    """Return the probability of each share, without making the shares."""
    made = getattr(shares, "probabilities", None)
    return [share.probability for share in shares] if made is None else list(made())


def of_family(shares: Sequence[Share], family: str) -> list[Share]:
    """Return the shares of one family, falling."""
    made = getattr(shares, "of_family", None)
    if made is None:
        return [share for share in shares if share.family == family]
    return list(made(family))
