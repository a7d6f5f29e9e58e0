"""What makes a box whole, against brute force over all ways to change pieces."""

import random
from collections.abc import Mapping
from itertools import combinations, product

import pytest

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Family, RatioSet, Teeth
from cogtally.evidence.reading import Remedy, identify
from cogtally.evidence.reading.remedy import held_pieces, remedies
from cogtally.gears.notation import parse_seen

GEARS = ("input", "1", "2", "3")


def small_family(dice: random.Random) -> Family:
    """Return a random family of few sets, which share some of their pieces; a few gaps."""
    rows = {pair: [(dice.randint(14, 17), dice.randint(24, 27)) for _ in "ab"] for pair in GEARS}
    sets = []
    for number in range(dice.randint(2, 5)):
        pairs: dict[str, Teeth] = {pair: dice.choice(rows[pair]) for pair in GEARS}
        if dice.random() < 0.2:
            pairs["2"] = (pairs["2"][0], None)
        sets.append(RatioSet(f"s{number}", pairs=pairs, commonness=dice.choice((1, 2, 5))))
    return Family("small", "layshaft", sets=tuple(sets), direct="4")


def random_box(family: Family, dice: random.Random) -> Mapping[str, Teeth]:
    """Return what a box holds: pieces of any sets, some with other teeth, some not counted."""
    held: dict[str, Teeth] = {}
    for piece in family.pieces:
        teeth = list(dice.choice(family.types[piece.name]).teeth)
        if dice.random() < 0.2:
            teeth[dice.randrange(len(teeth))] = dice.choice((None, 30))
        if dice.random() < 0.9 and any(t is not None for t in teeth):
            held[piece.name] = tuple(teeth)
    return held


def brute_force(family: Family, held: Mapping[str, Teeth]) -> dict[str, frozenset[str]]:
    """Try every choice of pieces to change and of listed types for them; fewest for each set."""
    wheels = {piece.name: piece.wheels for piece in family.pieces}
    found: dict[str, frozenset[str]] = {}
    for many in range(len(held) + 1):
        for changed in combinations(held, many):
            kept = {name: teeth for name, teeth in held.items() if name not in changed}
            for kinds in product(*(family.types[name] for name in changed)):
                box = kept | {k.piece.name: k.teeth for k in kinds}
                counts = [
                    (w, t)
                    for name, teeth in box.items()
                    for w, t in zip(wheels[name], teeth, strict=True)
                ]
                for known in family.counted_sets:
                    has = family.teeth_of(known)
                    if all(None in (t, has[w]) or t == has[w] for w, t in counts):
                        found.setdefault(known.id, frozenset(changed))
    return found


@pytest.mark.parametrize("seed", range(200))
def test_remedies_are_what_brute_force_finds(seed):
    """For each set that is near enough the fewest pieces, and no others, are to be changed."""
    dice = random.Random(seed)
    family = small_family(dice)
    held = random_box(family, dice)
    found = remedies(family, held)
    expected = brute_force(family, held)
    if frozenset() in expected.values() or not expected:
        assert found == ()
        return
    fewest = min(map(len, expected.values()))
    near = max(fewest, len(held) // 2)
    told = {known: {c.piece for c in one.changes} for one in found for known in one.sets}
    assert told == {known: set(c) for known, c in expected.items() if len(c) <= near}
    numbers = [len(one.changes) for one in found]
    assert numbers == sorted(numbers)


def of_demo(*words: str) -> tuple[Remedy, ...]:
    """Return the remedies of a box of the demo."""
    return identify(demo_catalog(), parse_seen(words)).remedies


def test_a_foreign_gear_is_changed_for_the_own_one():
    """The 3-gear of another set comes out, with where it serves; what goes in tells its mate."""
    first = of_demo("input=17/28", "1=14/31", "2=19/26", "3=24/22x2", "R=12/20/28")[0]
    (change,) = first.changes
    assert (first.sets, change.piece, change.out, change.into) == (
        ("wide",),
        "3-gear",
        (22,),
        (21,),
    )
    assert change.mates == (("laygear", 24),)
    assert change.serves == ("late", "close")


def test_a_named_box_needs_no_remedy():
    """Where every wheel agrees nothing is to be changed."""
    assert of_demo("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28") == ()


def test_what_is_to_be_counted_again_is_changed_as_counted():
    """After a recount the remedy is of the counts as they stand; a likely type is no excuse."""
    seen = parse_seen(["input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/29"])
    answer = identify(demo_catalog(), seen)
    assert answer.verdict.kind == "recount"
    assert [c.piece for c in answer.remedies[0].changes] == ["1-gear"]
    assert answer.remedies[0].changes[0].out == (31, 29)


def test_a_piece_without_a_count_is_not_held():
    """Nothing is said of pieces that nobody counted; of a half counted one what is known."""
    family = demo_catalog().by_id["alder-4"]
    from cogtally.evidence.seen.counted import counted_wheels

    held = held_pieces(family, (), counted_wheels(parse_seen(["3=24/_"]), family))
    assert held == {"laygear": (None, 24, None, None, None)}
