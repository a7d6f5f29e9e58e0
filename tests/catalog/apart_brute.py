"""What `apart` finds, found by trying everything: all choices of wheels, all keys, all boxes.

Only for families of a few sets and wheels; nothing of the searches is used here.
"""

from collections.abc import Iterator
from fractions import Fraction
from itertools import combinations, product

from hypothesis import strategies as st

from cogtally.catalog.apart.key import Branch, Key
from cogtally.catalog.model import Family, RatioSet

Rows = tuple[tuple[int | None, ...], ...]

#: A count that no set of these families has.
STRANGE = 99


def family_of(rows: Rows, commonness: tuple[float, ...] | None = None) -> Family:
    """Return a two-shaft family whose set `s0`, `s1`, … has a row, two wheels to a pair."""
    shares = commonness or (1.0,) * len(rows)
    sets = tuple(
        RatioSet(
            f"s{number}",
            pairs={str(p // 2 + 1): row[p : p + 2] for p in range(0, len(row), 2)},
            commonness=share,
        )
        for number, (row, share) in enumerate(zip(rows, shares, strict=True))
    )
    return Family("small", "two-shaft", sets=sets)


def wheels_of(rows: Rows) -> tuple[str, ...]:
    return tuple(f"{p // 2 + 1}.{('driver', 'driven')[p % 2]}" for p in range(len(rows[0])))


@st.composite
def all_rows(draw: st.DrawFn, most_sets: int = 6, most_wheels: int = 6, gaps: bool = True) -> Rows:
    """Draw rows of few counts, so that sets are often alike; each set has some count."""
    wheels = draw(st.sampled_from(range(2, most_wheels + 1, 2)))
    counts = st.sampled_from([20, 21, 22, None] if gaps else [20, 21, 22])
    row = st.tuples(*[counts] * wheels).filter(lambda r: any(t is not None for t in r))
    return tuple(draw(st.lists(row, min_size=2, max_size=most_sets)))


def differing(rows: Rows, a: int, b: int) -> set[int]:
    return {
        w
        for w, (x, y) in enumerate(zip(rows[a], rows[b], strict=True))
        if x is not None and y is not None and x != y
    }


def is_enough(rows: Rows, chosen: set[int], differences: int) -> bool:
    """Whether two sets always differ so often in the chosen wheels, or in all they differ in."""
    for a, b in combinations(range(len(rows)), 2):
        found = differing(rows, a, b)
        if len(found & chosen) < min(differences, len(found)):
            return False
    return True


def first_choice(rows: Rows, differences: int) -> tuple[int, ...]:
    """Return the smallest choice that is enough, the first in written order."""
    places = range(len(rows[0]))
    return next(
        chosen
        for size in range(len(rows[0]) + 1)
        for chosen in combinations(places, size)
        if is_enough(rows, set(chosen), differences)
    )


Box = tuple[int, tuple[int | None, ...], Fraction]


def boxes(rows: Rows, commonness: tuple[float, ...]) -> list[Box]:
    """Return every box that there can be: its set, its teeth, its share.

    A gap is filled with each count listed for its wheel, by the commonness of the sets with it;
    a wheel that nobody counted is left alone.
    """
    found: list[Box] = []
    for number, row in enumerate(rows):
        fillings: list[list[tuple[int | None, Fraction]]] = []
        for wheel, teeth in enumerate(row):
            listed = [(r[wheel], Fraction(c)) for r, c in zip(rows, commonness, strict=True)]
            known = [(t, c) for t, c in listed if t is not None]
            total = sum((c for _, c in known), Fraction(0))
            if teeth is not None or not known:
                fillings.append([(teeth, Fraction(1))])
            else:
                fillings.append([(t, c / total) for t, c in known])
        for filling in product(*fillings):
            share = Fraction(commonness[number])
            for _, part in filling:
                share *= part
            found.append((number, tuple(t for t, _ in filling), share))
    return found


def fewest_counts(rows: Rows, drawn: list[Box]) -> Fraction:
    """Return the least sum of share times counts of any key, by trying every wheel everywhere."""
    left = {number for number, _, _ in drawn}
    useful = set().union(*(differing(rows, a, b) for a, b in combinations(left, 2)))
    total = sum((share for _, _, share in drawn), Fraction(0))
    if not useful:
        return Fraction(0)
    tries = []
    for wheel in useful:
        parts: dict[int | None, list[Box]] = {}
        for box in drawn:
            parts.setdefault(box[1][wheel], []).append(box)
        tries.append(total + sum(fewest_counts(rows, part) for part in parts.values()))
    return min(tries)


def ends(key: Key, wheels: tuple[str, ...], teeth: tuple[int | None, ...]) -> Iterator[Branch]:
    """Follow a key with the teeth of a box, a gap as a strange count; yield each branch taken."""
    number: int | None = 0
    while number is not None:
        node = key.nodes[number]
        count = teeth[wheels.index(node.wheel)]
        branches = {b.teeth: b for b in node.branches}
        branch = branches[count] if count in branches else branches[None]
        yield branch
        number = branch.node
