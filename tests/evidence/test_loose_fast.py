"""Many loose pieces asked of one catalog: the quick way gives what the page says."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache
from math import fsum, prod

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, PieceType, RatioSet, Teeth
from cogtally.evidence.likelihood import (
    HAND_PRIOR,
    Q_OF_HAND,
    Q_UNSURE,
    TEETH_RANGE,
    UNCATALOGUED_PRIOR,
    count_law,
)
from cogtally.evidence.loose import Also, loose_posterior, places
from cogtally.evidence.loose_frames import ready_for_pieces
from cogtally.evidence.loose_weighed import WINDOWS_FOR_ARRAYS
from cogtally.evidence.rho import Rho, spread_of
from cogtally.gears.looks import SeenPiece, parse_piece
from cogtally.gears.notation import Count

CLOSE = 1e-12
#: A likelihood beside the counts, by family, type and wheels.
Beside = Callable[[Family, PieceType, tuple[int, ...]], tuple[float, float]]
#: A type by its family, its piece, its number there.
Key = tuple[str, str, int]


@cache
def large() -> Catalog:
    """Boxes enough for arrays, a few gaps in them, some types of one piece alike in teeth."""
    dice = random.Random(4)
    families = []
    for number in range(60):
        sets = []
        for index in range(5):
            teeth = sorted(dice.sample(range(13, 33), 4))
            pairs: dict[str, Teeth] = {"input": (dice.randint(15, 22), dice.randint(25, 31))}
            pairs |= {g: (t, 48 - t) for g, t in zip("1235", teeth, strict=True)}
            if dice.random() < 0.1:
                pairs["2"] = (None, pairs["2"][1])
            if sets and dice.random() < 0.3:
                pairs = dict(sets[-1].pairs)
            marks = {"laygear": (f"M {index}",)}
            sets.append(RatioSet(f"s{index}", pairs=pairs, commonness=index + 1, marks=marks))
        families.append(Family(f"box-{number}", "layshaft", sets=tuple(sets), direct="4"))
    return Catalog(tuple(families))


def law(counts: tuple[Count, ...], teeth: int, hand: int) -> float:
    return prod(
        count_law(abs(c.teeth - teeth), Q_UNSURE if c.unsure else Q_OF_HAND[hand]) ** c.times
        for c in counts
    )


def by_the_page(
    catalog: Catalog,
    seen: SeenPiece,
    role: str | None = None,
    beside: Beside = lambda family, kind, wheels: (1.0, 1.0),
    outside: tuple[float, float] = (1.0, 1.0),
) -> tuple[dict[Key, float], float, float]:
    """Every type's share, that of uncatalogued and that of a steady hand: a loop over all of it."""
    rho = Rho(catalog)
    pool: dict[int, float] = {}
    for family in catalog.families:
        for known in family.counted_sets:
            for teeth in family.teeth_of(known).values():
                if teeth is not None:
                    pool[teeth] = pool.get(teeth, 0.0) + known.commonness
    spread = dict(zip(TEETH_RANGE, spread_of(pool), strict=True))
    types = [
        ((family.id, piece.name, number), family, kind, list(places(len(piece.wheels), seen)))
        for family in catalog.families
        for piece in family.pieces
        if role in (None, piece.name)
        for number, kind in enumerate(family.types[piece.name])
    ]
    types = [one for one in types if one[3]]
    commonness = fsum(kind.weight for _, _, kind, _ in types)

    def likelihood(law_of: dict[int, float], place: int, hand: int) -> float:
        return fsum(w * law(seen.places[place], t, hand) for t, w in law_of.items())

    def of_wheel(kind: PieceType, wheel: int) -> dict[int, float]:
        teeth = kind.teeth[wheel]
        if teeth is not None:
            return {teeth: 1.0}
        return dict(zip(TEETH_RANGE, rho.of(kind.piece.wheels[wheel]), strict=True))

    weights: dict[Key, list[float]] = {}
    for key, family, kind, ways in types:
        weights[key] = [
            fsum(
                (1 - UNCATALOGUED_PRIOR)
                * kind.weight
                / commonness
                / len(ways)
                * HAND_PRIOR[hand]
                * beside(family, kind, wheels)[hand]
                * prod(likelihood(of_wheel(kind, w), i, hand) for i, w in enumerate(wheels))
                for wheels in ways
            )
            for hand in (0, 1)
        ]
    unknown = [
        (UNCATALOGUED_PRIOR if types else 1.0)
        * HAND_PRIOR[hand]
        * outside[hand]
        * prod(likelihood(spread, i, hand) for i in range(len(seen.places)))
        for hand in (0, 1)
    ]
    total = fsum([*unknown, *(w for pair in weights.values() for w in pair)])
    steady = fsum([unknown[0], *(pair[0] for pair in weights.values())])
    return (
        {key: sum(pair) / total for key, pair in weights.items()},
        sum(unknown) / total,
        steady / total,
    )


def random_piece(catalog: Catalog, dice: random.Random) -> tuple[SeenPiece, str | None]:
    """A stretch of a listed type, counted well or badly from either end, or anything at all."""
    family = dice.choice(catalog.families)
    piece = dice.choice([p for p in family.pieces if dice.random() < 0.3 or len(p.wheels) > 1])
    teeth = list(dice.choice(family.types[piece.name]).teeth)
    first = dice.choice([0, 0, dice.randrange(len(teeth))])
    last = dice.choice([len(teeth), len(teeth), dice.randint(first + 1, len(teeth))])
    words = [
        "_"
        if t is None or dice.random() < 0.1
        else f"{t + dice.choice([0, 0, 0, 1, -2])}{dice.choice(['', '', 'u', 'x3'])}"
        for t in teeth[first:last]
    ]
    if dice.random() < 0.2:
        words = [str(dice.randint(9, 60)) for _ in words]
    words = [*([".."] if first else []), *words, *([".."] if last < len(teeth) else [])]
    role = piece.name if dice.random() < 0.3 else None
    return parse_piece(words[::-1] if dice.random() < 0.5 else words), role


def keyed(catalog: Catalog, found: object) -> dict[Key, float]:
    return {
        (a.family, a.piece, catalog.by_id[a.family].types[a.piece].index(a.kind)): a.probability
        for a in found.answers  # type: ignore[attr-defined]
    }


@pytest.mark.parametrize("many", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_every_share_is_what_the_page_says(seed: int, many: bool) -> None:
    """Of a large catalog, asked once or many times, every probability agrees to 1e-12."""
    seen, role = random_piece(large(), random.Random(seed))
    shares, outside, steady = by_the_page(large(), seen, role)
    found = loose_posterior(large(), seen, role, many=many)
    assert keyed(large(), found) == pytest.approx(shares, abs=CLOSE)
    assert found.uncatalogued == pytest.approx(outside, abs=CLOSE)
    assert found.steady == pytest.approx(steady, abs=CLOSE)


def test_arrays_are_in_play() -> None:
    """The large catalog of these tests has windows enough for arrays, the demo catalog has not."""
    seen = parse_piece(["28", "19", "14", "20", "24"])
    assert len(ready_for_pieces(large()).frame(seen, None).windows) >= WINDOWS_FOR_ARRAYS
    assert len(ready_for_pieces(demo_catalog()).frame(seen, None).windows) < WINDOWS_FOR_ARRAYS


few = settings(max_examples=30, deadline=None)


@few
@given(st.integers(0, 10**9), st.booleans(), st.sampled_from([1, 3, 8, 10_000]))
def test_the_leading_are_the_first_of_all(seed: int, many: bool, most: int) -> None:
    """The leading answers are the most probable of all, those alike in teeth taken together."""
    seen, role = random_piece(large(), random.Random(seed))
    found = loose_posterior(large(), seen, role, many=many)
    together: dict[object, float] = {}
    for share in found.answers:
        key = share.family, share.piece, share.kind.teeth
        together[key] = together.get(key, 0.0) + share.probability
    expected = sorted(together.values(), reverse=True)[:most]
    leading = found.leading(most)
    assert [share.probability for share in leading] == pytest.approx(expected, abs=CLOSE)
    for share in leading[:8]:
        key = share.group.family.id, share.group.piece.name, share.group.teeth
        assert share.probability == pytest.approx(together[key], abs=CLOSE)
    least = found.leading(most, 0.01)
    assert len(least) == sum(p >= 0.01 for p in expected)


@few
@given(st.integers(0, 10**9), st.booleans())
def test_shares_of_a_piece_and_those_listed(seed: int, many: bool) -> None:
    """A piece has the shares of its types; listed are the answers that reach what was asked."""
    seen, role = random_piece(large(), random.Random(seed))
    found = loose_posterior(large(), seen, role, many=many)
    first = found.answers[0]
    whole = fsum(
        a.probability for a in found.answers if (a.family, a.piece) == (first.family, first.piece)
    )
    family = large().by_id[first.family]
    assert found.of_piece(family, first.piece) == pytest.approx(whole, abs=CLOSE)
    listed = [(a.family, a.piece, a.sets) for a in found.listed(1e-4)]
    reached = [(a.family, a.piece, a.sets) for a in found.answers if a.probability >= 1e-4]
    assert sorted(listed) == sorted(reached)


def beside(family: Family, kind: PieceType, wheels: tuple[int, ...]) -> tuple[float, float]:
    """Something seen beside the counts that hangs on type, way round and hand."""
    mark = int(kind.marks[0].split()[1]) if kind.marks else 2
    return 0.5**mark, 0.3**mark * (0.7 if wheels[0] > wheels[-1] else 0.2)


@pytest.mark.parametrize("many", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_what_else_was_seen_is_multiplied_in(seed: int, many: bool) -> None:
    """A likelihood beside the counts weighs type by type, way by way and hand by hand."""
    seen, role = random_piece(large(), random.Random(seed))
    shares, outside, steady = by_the_page(large(), seen, role, beside, (0.02, 0.01))
    also = Also(beside, uncatalogued=(0.02, 0.01))
    found = loose_posterior(large(), seen, role, also=also, many=many)
    ours = keyed(large(), found)
    assert {key: ours.get(key, 0.0) for key in shares} == pytest.approx(shares, abs=CLOSE)
    assert found.uncatalogued == pytest.approx(outside, abs=CLOSE)
    assert found.steady == pytest.approx(steady, abs=CLOSE)
    assert found.leading(1)[0].probability == pytest.approx(
        sum(p for key, p in shares.items() if _alike(key, found.leading(1)[0].group)), abs=CLOSE
    )


def _alike(key: Key, group: object) -> bool:
    family, piece, number = key
    kind = large().by_id[family].types[piece][number]
    of = group.family.id, group.piece.name, group.teeth  # type: ignore[attr-defined]
    return (family, piece, kind.teeth) == of


@pytest.mark.parametrize("many", [False, True])
def test_saying_nothing_beside_changes_nothing(many: bool) -> None:
    """A likelihood of 1 whatever the piece is leaves every probability and every worth."""
    seen = parse_piece(["27", "30", "_", "19u"])
    plain = loose_posterior(demo_catalog(), seen)
    also = Also(lambda family, kind, wheels: (1.0, 1.0))
    found = loose_posterior(demo_catalog(), seen, also=also, many=many)
    assert keyed(demo_catalog(), found) == pytest.approx(keyed(demo_catalog(), plain), abs=CLOSE)
    assert found.worth == pytest.approx(plain.worth, abs=1e-9)


@pytest.mark.parametrize("many", [False, True])
def test_a_thousand_counts_of_the_wrong_teeth(many: bool) -> None:
    """Counts that no type has, each 99 times over, leave numbers that add up to 1."""
    found = loose_posterior(large(), parse_piece(["60x99"] * 5), many=many)
    whole = found.uncatalogued + fsum(a.probability for a in found.answers)
    assert whole == pytest.approx(1.0, abs=CLOSE)
    assert found.uncatalogued > 0.99
