"""The sets that the pieces on a shelf make."""

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest

from cogtally.catalog.model import Family, RatioSet
from cogtally.gears.errors import UserError
from cogtally.shelf.kits import COUNT, VALUE, Kits, Part, Slot, currency_of, make_kits, parts_of
from cogtally.shelf.stock.book import read_items
from cogtally.shelf.stock.items import Details, Item, Money, Sale, Share
from cogtally.shelf.stock.wants import type_in
from shelf.stocked import put, stocked_book
from small_catalog import BIRCH, SMALL

#: Two sets of a box of three pieces, as one-wheel pieces so that shelves stay small.
SMALL_FAMILY = Family(
    "rowan-1",
    "two-shaft",
    sets=(
        RatioSet("one", pairs={"1": (12, 30), "2": (20, 22)}),
        RatioSet("two", pairs={"1": (12, 30), "2": (18, 24)}),
        RatioSet("three", pairs={"1": (14, 28), "2": (20, 22)}),
    ),
)
SLOTS = [
    (SMALL_FAMILY.id, known.id, piece.name)
    for known in SMALL_FAMILY.sets
    for piece in SMALL_FAMILY.pieces
]


def test_type_in_a_set():
    """What a set needs has the teeth of that set; of a set or a piece that is not there, none."""
    for known in SMALL_FAMILY.sets:
        found = [type_in(SMALL_FAMILY, known.id, piece.name) for piece in SMALL_FAMILY.pieces]
        teeth = SMALL_FAMILY.teeth_of(known)
        assert found == [tuple(teeth[w] for w in piece.wheels) for piece in SMALL_FAMILY.pieces]
    piece = SMALL_FAMILY.pieces[0].name
    gone = ((SMALL_FAMILY, "four", piece), (SMALL_FAMILY, "one", "laygear"), (None, "one", piece))
    assert [type_in(*names) for names in gone] == [None] * 3


def shelf(dice: random.Random) -> list[Part]:
    """A few parts, each of a place or two, most of them priced."""
    found = []
    for number in range(1, dice.randint(5, 11)):
        # Alike in every set, as a type that several carry; now and then of two pieces.
        places = dice.choices(SLOTS, k=dice.choice((1, 2, 2, 3)))
        price = None if dice.random() < 0.2 else Decimal(dice.randint(1, 900)) / 10
        found.append(Part(number, frozenset(places), price))
    return found


def brute(parts: list[Part], by: str) -> tuple[Decimal, int]:
    """The best (value, kits) by trying every choice of parts for every further kit."""
    best: tuple[Decimal, int] = (Decimal(0), 0)

    def key(found: tuple[Decimal, int]) -> tuple[Decimal, ...]:
        value, count = found
        return (value, Decimal(count)) if by == VALUE else (Decimal(count), value)

    def go(left: list[Part], first: int, value: Decimal, count: int) -> None:
        nonlocal best
        best = max(best, (value, count), key=key)
        for n in range(first, len(SMALL_FAMILY.sets)):
            places = [s for s in SLOTS if s[1] == SMALL_FAMILY.sets[n].id]
            fitting = [[p for p in left if place in p.slots] for place in places]
            for chosen in itertools.product(*fitting):
                if len({p.item for p in chosen}) == len(places):
                    rest = [p for p in left if p not in chosen]
                    go(rest, n, value + sum((p.value for p in chosen), Decimal(0)), count + 1)

    go(parts, 0, Decimal(0), 0)
    return best


def hold(kits: Kits, parts: list[Part]) -> None:
    """Each part is used once at most, in a place that it fits, and the rest is what is left."""
    used = [part for kit in kits.kits for _, part in kit.parts]
    assert sorted(p.item for p in [*used, *kits.left]) == sorted(p.item for p in parts)
    for kit in kits.kits:
        assert [name for name, _ in kit.parts] == [p.name for p in SMALL_FAMILY.pieces]
        for name, part in kit.parts:
            assert (kit.family, kit.set, name) in part.slots


@pytest.mark.parametrize("by", [VALUE, COUNT])
def test_as_brute_force(by):
    """On small shelves the kits are worth, and as many as, the best of all choices."""
    dice = random.Random(7)
    made = 0
    for _ in range(60):
        parts = shelf(dice)
        kits = make_kits([SMALL_FAMILY], parts, by)
        assert (kits.value, len(kits.kits)) == brute(parts, by)
        hold(kits, parts)
        made += len(kits.kits)
    assert made > 20


def whole(known: str, first: int, price: str = "1") -> list[Part]:
    """The four pieces of a set, numbered from `first`."""
    slots: list[Slot] = [s for s in SLOTS if s[1] == known]
    return [Part(first + n, frozenset({s}), Decimal(price)) for n, s in enumerate(slots)]


def test_nearly():
    """A set that lacks a piece is named with the teeth of it."""
    kits = make_kits([SMALL_FAMILY], whole("one", 1)[:3])
    assert not kits.kits
    (near,) = kits.near
    assert (near.set, near.missing) == ("one", (("2-driven", (22,)),))
    assert [part.item for _, part in near.parts] == [1, 2, 3]


def test_same_whatever_the_order():
    """The order of the shelf does not matter."""
    parts = [*whole("one", 1, "3"), *whole("three", 5, "2"), *whole("one", 9, "5.25")]
    kits = make_kits([SMALL_FAMILY], parts)
    assert len(kits.kits) == 3
    assert make_kits([SMALL_FAMILY], parts[::-1]).kits == kits.kits


def test_dear_goes_with_dear():
    """The dearest parts of a set stand in one kit, exactly priced."""
    kits = make_kits([SMALL_FAMILY], [*whole("one", 1, "0.1"), *whole("one", 5, "0.3")])
    assert [kit.value for kit in kits.kits] == [Decimal("1.2"), Decimal("0.4")]


def test_of_the_shelf(tmp_path):
    """A piece counts by its probability; a box only when it is to be broken up."""
    path = stocked_book(tmp_path)
    items = read_items(path)
    parts = parts_of(items, SMALL)
    assert [part.item for part in parts] == [1]
    assert parts[0].slots == {("birch-4", "early", "laygear")}
    broken = parts_of(items, SMALL, broken_up=True)
    assert {p.item for p in broken} >= {1, 2}
    (kit,) = make_kits([BIRCH], [p for p in broken if p.item == 2]).kits
    assert (kit.set, kit.value) == ("early", 0)


def test_type_of_several_sets(tmp_path):
    """A piece of a type that several sets carry fits each of them."""
    stocked_book(tmp_path)
    item = put(tmp_path / "own.db", "piece", ["18x2"])
    birch = {s for p in parts_of([item], SMALL) for s in p.slots if s[0] == "birch-4"}
    assert birch == {("birch-4", known, "R-idler") for known in ("early", "sport", "haul")}


def named(item: Item, *shares: tuple[str, int, float]) -> Item:
    """The item, said to be a third gear of these sets: set, teeth, probability."""
    some = tuple(Share("birch-4", (s,), p, "3-gear", (teeth,)) for s, teeth, p in shares)
    return replace(item, now=replace(item.now, shares=some))


def sets_of(parts: Sequence[Part]) -> set[str]:
    """The sets that parts fit."""
    return {slot[1] for part in parts for slot in part.slots}


def test_with_mixed(tmp_path):
    """Types alike in teeth share a piece where that is asked for; types of other teeth do not."""
    item = read_items(stocked_book(tmp_path))[0]
    alike = named(item, ("early", 24, 0.50), ("sport", 24, 0.45), ("haul", 24, 0.04))
    assert not parts_of([alike], SMALL)
    assert sets_of(parts_of([alike], SMALL, mixed=True)) == {"early", "sport"}
    other = named(item, ("early", 24, 0.50), ("sport", 21, 0.45))
    assert not parts_of([other], SMALL, mixed=True)


@pytest.mark.parametrize(("least", "counts"), [(0.90, True), (0.91, False)])
def test_least(least, counts, tmp_path):
    """A piece counts from the probability asked for on, at that value itself too."""
    item = named(read_items(stocked_book(tmp_path))[0], ("early", 24, 0.90))
    assert bool(parts_of([item], SMALL, least=least)) == counts


def test_sold(tmp_path):
    """What was sold is in no set."""
    item = replace(read_items(stocked_book(tmp_path))[0], sale=Sale("2026-01-02T03:04:05Z"))
    assert not parts_of([item], SMALL)


def test_currencies(tmp_path):
    """Prices in two currencies do not add up."""
    path = stocked_book(tmp_path)
    put(path, "piece", ["31", "27", "21", "15", "14"], Details(price=Money("9", "EUR")))
    items = read_items(path)
    with pytest.raises(UserError, match="EUR and GBP"):
        currency_of(items, parts_of(items, SMALL))
