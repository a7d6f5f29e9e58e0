"""What the model says of one box, as numbers: the shape of a posterior.

How it is computed belongs to `engine`; what is made of it in words belongs to `reading`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple, overload

MATCHED, NEW = "matched", "new"
MIXED, VARIANT, UNCATALOGUED = "mixed", "variant", "uncatalogued"
#: Behind the answers of families stand mixed, variant and uncatalogued, once each.
REST = (MIXED, VARIANT, UNCATALOGUED)


class Share(NamedTuple):
    """One answer and its probability: a matched group, a new set, mixed, variant, uncatalogued.

    `sets` are set ids of `family`, in catalog order, empty unless it is matched. `family` is empty
    unless it is matched or new.
    """

    kind: str
    probability: float
    family: str = ""
    sets: tuple[str, ...] = ()


class Shares(Sequence[Share]):
    """Shares that are made when they are asked for: falling, then `rest`, of no one family.

    `numbers` and `bases` say of what each is, to `make` it; of a large catalog the first few alone
    are made. `places`: the number of each family by its id.
    """

    def __init__(
        self,
        numbers: Sequence[int],
        bases: Sequence[int],
        probabilities: Sequence[float],
        make: Callable[[int, int, float], Share],
        places: Mapping[str, int],
        rest: Sequence[Share] = (),
    ) -> None:
        self._numbers = numbers
        self._bases = bases
        self._named = probabilities
        self._make = make
        self._places = places
        self._rest = rest

    @property
    def probabilities(self) -> list[float]:
        """The probability of every share."""
        return [*self._named, *(share.probability for share in self._rest)]

    def of_family(self, family: str) -> list[Share]:
        """Return the shares of one family, falling."""
        wanted = self._places.get(family)
        return [self[at] for at, number in enumerate(self._numbers) if number == wanted]

    def __len__(self) -> int:
        return len(self._named) + len(self._rest)

    @overload
    def __getitem__(self, at: int) -> Share: ...
    @overload
    def __getitem__(self, at: slice) -> list[Share]: ...
    def __getitem__(self, at: int | slice) -> Share | list[Share]:
        if isinstance(at, slice):
            return [self[number] for number in range(*at.indices(len(self)))]
        number = range(len(self))[at]
        if number >= len(self._named):
            return self._rest[number - len(self._named)]
        return self._make(self._numbers[number], self._bases[number], self._named[number])


class PieceShare(NamedTuple):
    """The probability that the box is of `family` and that `piece` is of this type there.

    `teeth` along the axis, None where the piece is unlisted; `sets` are those that carry the type.
    """

    family: str
    piece: str
    teeth: tuple[int | None, ...] | None
    sets: tuple[str, ...]
    probability: float


class Posterior(NamedTuple):
    """The exact posterior of an assembled box.

    `answers`: every matched group and each family's new set, falling, then mixed, variant and
    uncatalogued, adding up to 1. `so_far`: groups of sets alike in every counted wheel, falling;
    empty while no wheel is counted. `families`: probability of each family, ratio-only sets and its
    new set included. `leading`: the family of most probability, empty in an empty catalog.
    `pieces`: every type of every piece of the leading family, joint with the family. `steady`:
    probability of a steady hand. `log_evidence`: natural logarithm of the probability of all that
    was seen.
    """

    answers: Shares
    so_far: Shares
    families: Mapping[str, float]
    leading: str
    pieces: tuple[PieceShare, ...]
    steady: float
    log_evidence: float

    def of_kind(self, kind: str) -> float:
        """Return the summed probability of the answers of one kind."""
        return sum(a.probability for a in self.answers if a.kind == kind)


def first_answers(posterior: Posterior, most: int) -> list[Share]:
    """Return so many of the likeliest answers of families at most, then those of none."""
    named = len(posterior.answers) - len(REST)
    return [*posterior.answers[: min(most, named)], *posterior.answers[named:]]
