"""Which wheels tell the sets of a family apart, and which sets no count can part.

The search for the fewest wheels is left to `wheels`, the key to follow to `key`.

Two sets differ in a wheel where both have a count for it and the counts are not the same. Where
one of them has a gap nothing is certain, so nothing is claimed: its wheel may turn out to have
any teeth.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from cogtally.catalog.apart.key import Key, identification_key
from cogtally.catalog.apart.wheels import bits_of, fewest_wheels
from cogtally.catalog.model import Family, FeatureValue, RatioSet, Teeth

#: In how many of the counted wheels every two sets have to differ. Say that the box is one of the
#: sets and that at most one count is wrong, by any amount.
#: 1: with every count right, no other set has them all.
#: 2: one wrong count is noticed. The counts are then off the right set in one wheel, and off any
#:    other in at least 2 - 1: no set has them all. Were there a single difference, a miscount of
#:    that very wheel would turn one set into the other.
#: 3: one wrong count is mended. Off the right set in at most one wheel, off any other in at least
#:    3 - 1: the right set alone is within one wrong count. With two differences, a miscount of one
#:    of them leaves both sets one wrong count away.
#: The distances of an error-detecting and an error-correcting code: R. W. Hamming, Error Detecting
#: and Error Correcting Codes, Bell System Technical Journal 29 (1950) (from memory).
TELL, NOTICE, MEND = 1, 2, 3

#: Pairs of sets times wheels, above which a family is not looked into: a second's work.
MOST_COMPARED = 2_000_000


@dataclass(frozen=True, slots=True)
class Choice:
    """The fewest wheels in which every two sets differ at least `differences` times.

    Two sets that differ in fewer wheels than that differ in all of those: all that can be parted
    is. `wheels` in written order, of several choices as small the first in that order; `instead`:
    for each of them, wheels any one of which would do in its place. `at_least`: so many are proven
    to be needed.
    """

    differences: int
    wheels: tuple[str, ...]
    instead: tuple[tuple[str, ...], ...]
    at_least: int

    @property
    def is_exact(self) -> bool:
        """Whether no smaller choice is possible; else the search for one was cut short."""
        return self.at_least == len(self.wheels)


@dataclass(frozen=True, slots=True)
class Mark:
    """What tells two sets apart beside their teeth, as the catalog has it.

    `owner`: a wheel or a piece. `feature`: empty for what is stamped or cast on it. `values`: that
    of the first set and that of the second.
    """

    owner: str
    feature: str
    values: tuple[FeatureValue, FeatureValue]


@dataclass(frozen=True, slots=True)
class Close:
    """Two sets, by their ids, that differ in fewer wheels than mend a miscount.

    `differ_in`: the wheels in which they differ; none: no count parts them. `gaps`: wheels for
    which only one of them has a count. `marks`: where no count parts them, what else does.
    """

    sets: tuple[str, str]
    differ_in: tuple[str, ...]
    gaps: tuple[str, ...]
    marks: tuple[Mark, ...]

    @property
    def is_alike(self) -> bool:
        """Whether they have the same teeth throughout, gaps at the same places."""
        return not self.differ_in and not self.gaps


@dataclass(frozen=True, slots=True)
class Apart:
    """What tells the sets of a family apart.

    `sets`: the ids of its counted sets; `ratio_only`: of those known by printed ratios, which no
    count parts from anything. `choices` for TELL, NOTICE and MEND; `close`: the pairs of sets that
    differ in fewer than MEND wheels, in written order. `key` is None where nothing is to be
    parted or none was asked for. `is_too_large`: past MOST_COMPARED; then all else is empty.
    """

    family: Family
    sets: tuple[str, ...]
    ratio_only: tuple[str, ...]
    choices: tuple[Choice, ...] = ()
    close: tuple[Close, ...] = ()
    key: Key | None = None
    is_too_large: bool = False

    def short_of(self, differences: int) -> tuple[Close, ...]:
        """Return the pairs of sets that differ in fewer wheels than `differences`."""
        return tuple(pair for pair in self.close if len(pair.differ_in) < differences)

    @property
    def together(self) -> tuple[str, ...]:
        """The sets that no count parts from some other, in written order."""
        found = {known for pair in self.short_of(TELL) for known in pair.sets}
        return tuple(known for known in self.sets if known in found)


def tell_apart(family: Family, *, with_key: bool = True) -> Apart:
    """Return which wheels tell the sets of `family` apart, which stay together, and a key.

    All of it holds for a box that is one of the counted sets throughout.
    """
    sets = tuple(known.id for known in family.counted_sets)
    ratio_only = tuple(known.id for known in family.ratio_only_sets)
    wheels = family.train.wheels
    if len(sets) * (len(sets) - 1) // 2 * len(wheels) > MOST_COMPARED:
        return Apart(family, sets, ratio_only, is_too_large=True)
    counts = [_counts(family, known) for known in family.counted_sets]
    masks = {(a, b): _differing(counts[a], counts[b]) for a, b in combinations(range(len(sets)), 2)}
    key = None
    if with_key and any(masks.values()):
        weights = [known.commonness for known in family.counted_sets]
        key = identification_key(wheels, sets, counts, weights)
    return Apart(
        family,
        sets,
        ratio_only,
        tuple(_choice(wheels, list(masks.values()), d) for d in (TELL, NOTICE, MEND)),
        tuple(
            _close(family, wheels, pair, mask, counts)
            for pair, mask in masks.items()
            if mask.bit_count() < MEND
        ),
        key,
    )


def _counts(family: Family, known: RatioSet) -> Teeth:
    """The teeth of every wheel of the family in a set, in written order; None for a gap."""
    teeth = family.teeth_of(known)
    return tuple(teeth.get(wheel) for wheel in family.train.wheels)


def _differing(first: Teeth, second: Teeth) -> int:
    """The wheels in which two sets differ, the first wheel as bit 0."""
    mask = 0
    for place, (a, b) in enumerate(zip(first, second, strict=True)):
        if a != b and a is not None and b is not None:
            mask |= 1 << place
    return mask


def _named(wheels: tuple[str, ...], mask: int) -> tuple[str, ...]:
    return tuple(wheels[bit.bit_length() - 1] for bit in bits_of(mask))


def _choice(wheels: tuple[str, ...], masks: list[int], differences: int) -> Choice:
    found = fewest_wheels(masks, differences)
    return Choice(
        differences,
        _named(wheels, found.chosen),
        tuple(_named(wheels, found.instead[bit]) for bit in bits_of(found.chosen)),
        found.at_least,
    )


def _close(
    family: Family, wheels: tuple[str, ...], pair: tuple[int, int], mask: int, counts: list[Teeth]
) -> Close:
    a, b = pair
    in_both = zip(wheels, counts[a], counts[b], strict=True)
    return Close(
        (family.counted_sets[a].id, family.counted_sets[b].id),
        _named(wheels, mask),
        tuple(wheel for wheel, x, y in in_both if (x is None) != (y is None)),
        () if mask else tuple(_marks(family, a, b)),
    )


def _marks(family: Family, a: int, b: int) -> Iterator[Mark]:
    """What the catalog says of both sets and not alike: marks of pieces, and their features."""
    for piece in family.pieces:
        index = family.type_index[piece.name]
        first, second = (family.types[piece.name][index[known]] for known in (a, b))
        here, there = first.marks, second.marks
        if here is not None and there is not None and set(here) != set(there):
            yield Mark(piece.name, "", (", ".join(here), ", ".join(there)))
        for (owner, feature, x), (_, _, y) in zip(first.features, second.features, strict=True):
            if x is not None and y is not None and x != y:
                yield Mark(owner, feature, (x, y))
