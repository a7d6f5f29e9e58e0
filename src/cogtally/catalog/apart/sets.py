"""Which wheels tell the sets of a family apart, and which sets no count can part.

And the fewest such wheels, an exact minimum. The key to follow is left to `key`.

Two sets differ in a wheel where both have a count for it and the counts are not the same. Where
one of them has a gap nothing is certain, so nothing is claimed: its wheel may turn out to have
any teeth.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations

from cogtally.catalog.apart.key import Key, identification_key
from cogtally.catalog.model import Family, FeatureValue, RatioSet, Teeth

#: Rows looked at before an exact search is given up, about a second of one processor.
MOST_ROWS_VISITED = 500_000
#: So many rows, those of the fewest wheels, are held against each row to see whether it follows.
MOST_HELD_AGAINST = 100

#: A wheel mask of a row, and in how many of its wheels a choice has to have a wheel.
Row = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Fewest:
    """The outcome of a search: bit masks of wheels, the wheel of bit 0 first.

    `chosen`: the choice. `at_least`: so many wheels are proven to be needed; equal to the number
    chosen where the search came to its end. `instead`: each chosen bit to the mask of the wheels
    any of which would do in its place, all others kept.
    """

    chosen: int
    at_least: int
    instead: dict[int, int]


class _TooManyError(Exception):
    """The bound on the work is reached."""


def fewest_wheels(
    masks: Iterable[int], differences: int, most_visited: int = MOST_ROWS_VISITED
) -> Fewest:
    """Return the fewest wheels that hold at least `differences` wheels of every mask.

    A mask of fewer wheels asks for all it has. Of several choices as small it is the first in
    written order. A search that would visit more than `most_visited` rows is cut short: then the
    choice is a good one, and `at_least` says how many wheels are proven to be needed.
    """
    rows = _telling_rows(masks, differences)
    chosen = _greedy(rows)
    search = _Search(rows, most_visited)
    least = _disjoint_demand([(demand, mask) for mask, demand in rows])
    try:
        while least < chosen.bit_count():
            found = search.complete(0, 0, least)
            if found is not None:
                chosen = found
                break
            least += 1
        chosen = search.first(chosen.bit_count())
    except _TooManyError:
        pass
    return Fewest(chosen, least, _instead(rows, chosen))


def bits_of(mask: int) -> list[int]:
    """Return the single bits of a mask, the lowest first."""
    found = []
    while mask:
        found.append(mask & -mask)
        mask &= mask - 1
    return found


def _telling_rows(masks: Iterable[int], differences: int) -> list[Row]:
    """Keep the rows that do not follow from another: one of fewer wheels that asks for as many."""
    kept: list[Row] = []
    for mask in sorted({m for m in masks if m}, key=lambda m: (m.bit_count(), m)):
        demand = min(differences, mask.bit_count())
        held = kept[:MOST_HELD_AGAINST]
        if not any(other & mask == other and asked >= demand for other, asked in held):
            kept.append((mask, demand))
    return kept


def _greedy(rows: Collection[Row]) -> int:
    """Take the wheel of most rows still short, again and again, then drop what is not needed."""
    chosen = 0
    short = list(rows)
    while short:
        wanted: dict[int, int] = {}
        for mask, _ in short:
            for bit in bits_of(mask & ~chosen):
                wanted[bit] = wanted.get(bit, 0) + 1
        chosen |= min(wanted, key=lambda bit: (-wanted[bit], bit))
        short = [row for row in short if not _is_met(row, chosen)]
    for bit in reversed(bits_of(chosen)):
        if all(_is_met(row, chosen & ~bit) for row in rows):
            chosen &= ~bit
    return chosen


def _is_met(row: Row, chosen: int) -> bool:
    mask, demand = row
    return (mask & chosen).bit_count() >= demand


def _disjoint_demand(short: Iterable[tuple[int, int]]) -> int:
    """A number of wheels that cannot be gone below: what rows without a common wheel ask for.

    `short`: how many each row still wants, and of which wheels.
    """
    used = total = 0
    for need, free in short:
        if not free & used:
            used |= free
            total += need
    return total


def _instead(rows: Iterable[Row], chosen: int) -> dict[int, int]:
    """A wheel can stand in for a chosen one if it is in every row that would fall short."""
    found = {}
    for bit in bits_of(chosen):
        others = ~chosen
        for mask, demand in rows:
            if mask & bit and (mask & chosen).bit_count() == demand:
                others &= mask
        # No chosen wheel can be spared, so at least one row narrowed this down.
        found[bit] = others
    return found


class _Search:
    """A search in depth for a choice of a given size, with what was taken and what was ruled out.

    Wheels that are in the very same rows are one kind: which of them is taken does not matter,
    so the lowest is tried and the rest of its kind ruled out with it.
    """

    def __init__(self, rows: list[Row], most_visited: int) -> None:
        self.rows = rows
        self.left_to_visit = most_visited
        places: dict[int, int] = {}
        for place, (mask, _) in enumerate(rows):
            for bit in bits_of(mask):
                places[bit] = places.get(bit, 0) | 1 << place
        kinds: dict[int, int] = {}
        for bit, rows_of_bit in places.items():
            kinds[rows_of_bit] = kinds.get(rows_of_bit, 0) | bit
        self.kind = {bit: kinds[rows_of_bit] for bit, rows_of_bit in places.items()}

    def first(self, size: int) -> int:
        """Return, of all choices of `size` wheels, the first in written order."""
        chosen = ruled_out = 0
        for bit in sorted(self.kind):
            room = size - chosen.bit_count() - 1
            if room >= 0 and self.complete(chosen | bit, ruled_out, room) is not None:
                chosen |= bit
            else:
                ruled_out |= bit
        return chosen

    def complete(self, chosen: int, ruled_out: int, room: int) -> int | None:
        """Return a choice that adds at most `room` wheels to `chosen`, or None if there is none.

        Raises _TooManyError where the bound on the work is reached.
        """
        while True:
            short, forced = self._short(chosen, ruled_out)
            if short is None:
                return None
            if not forced:
                break
            room -= forced.bit_count()
            if room < 0:
                return None
            chosen |= forced
        if not short:
            return chosen
        if _disjoint_demand(short) > room:
            return None
        need, free = min(short, key=lambda row: (row[1].bit_count() - row[0], row[1]))
        while free.bit_count() >= need:
            bit = free & -free
            found = self.complete(chosen | bit, ruled_out, room - 1)
            if found is not None:
                return found
            ruled_out |= self.kind[bit] & ~chosen
            free &= ~self.kind[bit]
        return None

    def _short(self, chosen: int, ruled_out: int) -> tuple[list[tuple[int, int]] | None, int]:
        """What each row still wants and from which wheels, and the wheels that must be taken.

        None for the rows where one of them cannot be met any more.
        """
        self.left_to_visit -= len(self.rows)
        if self.left_to_visit < 0:
            raise _TooManyError
        short, forced = [], 0
        for mask, demand in self.rows:
            need = demand - (mask & chosen).bit_count()
            if need > 0:
                free = mask & ~chosen & ~ruled_out
                spare = free.bit_count() - need
                if spare < 0:
                    return None, 0
                if spare == 0:
                    forced |= free
                short.append((need, free))
        return short, forced


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
