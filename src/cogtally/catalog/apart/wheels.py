"""The fewest wheels in which every two rows of counts differ so and so often: an exact minimum.

Which sets there are, and in which wheels two of them differ, is left to `apart`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

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


class _SpentError(Exception):
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
    except _SpentError:
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

        Raises _SpentError where the bound on the work is reached.
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
            raise _SpentError
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
