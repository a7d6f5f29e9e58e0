"""A loose piece: its posterior by hand, the laws that it keeps, and what is made of it."""

import math
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings, strategies as st

from cogtally.catalog.files.reading import demo_catalog
from cogtally.catalog.model import Catalog, Family, PieceType, RatioSet
from cogtally.evidence.loose import (
    PIECE,
    RECOUNT,
    TYPE,
    UNLISTED,
    LooseAnswer,
    LoosePosterior,
    Off,
    identify_piece,
    partings,
)
from cogtally.evidence.posterior import UNCATALOGUED
from cogtally.evidence.reading import UNDECIDED
from cogtally.evidence.seen import MARK
from cogtally.gears.looks import SeenPiece, parse_piece
from small_catalog import SMALL, SORREL, pairs

CLOSE = 1e-12


@cache
def demo() -> Catalog:
    return demo_catalog()


def ask(words: str, role: str | None = None, of: Catalog | None = None) -> LoosePosterior:
    return LoosePosterior(of or demo(), parse_piece(words.split()), role)


def answer(words: str, role: str | None = None, of: Catalog | None = None) -> LooseAnswer:
    return identify_piece(of or demo(), parse_piece(words.split()), role)


def table(found: LoosePosterior) -> dict[tuple[object, ...], float]:
    return {
        (a.family, a.piece, a.kind.teeth if a.kind else None, a.sets): a.probability
        for a in found.answers()
    }


def carried(family: Family, kind: PieceType) -> tuple[str, ...]:
    return tuple(family.counted_sets[c].id for c in kind.carriers)


# -- by hand ---------------------------------------------------------------------------------


def by_the_page(count: int, teeth: int) -> list[float]:
    """p(c|t) of a steady and of a hasty hand, times the share of each."""
    return [
        share * (0.995 * (1 - q) / (1 + q) * q ** abs(count - teeth) + 0.005 / 197)
        for share, q in ((0.8, 0.01), (0.2, 0.06))
    ]


def rho_of(pool: dict[int, float]) -> dict[int, float]:
    """ρ of a wheel: 0.2 uniform over 5…99, 0.8 near each catalogued count by its commonness."""
    total = sum(pool.values())
    return {
        teeth: 0.2 / 95
        + 0.8
        * sum(
            weight / total * 0.7 ** abs(teeth - t) / sum(0.7 ** abs(n - t) for n in range(5, 100))
            for t, weight in pool.items()
        )
        for teeth in range(5, 100)
    }


def test_posterior_of_one_wheel_by_hand():
    """Two pinions, 9 and 10 teeth, and a count of 9: every share as the page works it out."""
    found = ask("9", "final-pinion", Catalog((SORREL,)))
    rho = rho_of({9: 1.0, 10: 1.0})
    seen = {t: sum(by_the_page(9, t)) for t in range(5, 100)}
    drawn = sum(rho[t] * seen[t] for t in rho)
    changed = [(drawn - rho[t] * seen[t]) / (1 - rho[t]) for t in (9, 10)]
    new = 0.25 * (seen[9] + seen[10]) / 2 + 0.75 * drawn
    alone = rho_of({9: 1.0, 41: 1.0, 10: 1.0, 37: 1.0})
    weights = [0.45 * 0.96 * seen[9], 0.45 * 0.96 * seen[10]]
    weights += [0.45 * 0.02 * sum(changed) + 0.9 * 0.02 * new]
    weights += [0.1 * sum(alone[t] * seen[t] for t in alone)]
    shares = [w / sum(weights) for w in weights]
    expected = {("low",): shares[0], ("high",): shares[1], (): shares[2]}
    assert {a.sets: a.probability for a in found.answers()} == pytest.approx(expected, abs=CLOSE)
    assert found.uncatalogued == pytest.approx(shares[3], abs=CLOSE)


def test_a_laygear_that_the_catalog_lacks():
    """A laygear one tooth off a listed one, counted three times: unlisted 0.967, wide 0.032."""
    found = ask("12x3 14x3 19x3 25x3 28x3").answers()
    assert [(a.family, a.kind is None, a.sets) for a in found[:2]] == [
        ("alder-4", True, ()),
        ("alder-4", False, ("wide",)),
    ]
    assert [round(a.probability, 3) for a in found[:2]] == [0.967, 0.032]
    once = ask("12 14 19 25 28").answers()[0]
    assert (once.sets, round(once.probability, 3)) == (("wide",), 0.949)


def test_a_piece_the_same_from_either_end_is_no_likelier():
    """The share of a type is split over its places: a mirrored piece gains nothing by it."""
    sets = (
        RatioSet("mirror", pairs=pairs(g1="20/40", g2="21/39")),
        RatioSet("other", pairs=pairs(g1="20/40", g2="30/39")),
    )
    family = Family(
        "shaft", "two-shaft", sets=sets, given_pieces={"shaft": ("1.driver", "2.driver")}
    )
    found = ask("_ _", "shaft", Catalog((family,)))
    listed = [0.45 * 0.96, 0.45 * 0.96]
    assert [a.probability for a in found.answers()] == pytest.approx([*listed, 0.036], abs=CLOSE)


def test_commonness_is_the_prior():
    """With nothing counted each type has its summed commonness of 0.90, the rest is 0.10."""
    found = ask("_", "input-shaft", SMALL)
    assert [a.probability for a in found.answers()] == pytest.approx(
        [0.864 * 3 / 6, 0.864 * 2 / 6, 0.864 * 1 / 6, 0.036], abs=CLOSE
    )
    assert found.uncatalogued == pytest.approx(0.1, abs=CLOSE)


def test_a_role_leaves_its_pieces_alone():
    """With a role named only that piece is a candidate, in every family that has it."""
    found = ask("20", "3-gear")
    assert {a.piece for a in found.answers()} == {"3-gear"}
    assert {a.family for a in found.answers()} == {
        "alder-4",
        "elder-5",
        "hornbeam-4",
        "rowan-5",
        "willow-4",
    }


def test_worth_of_the_place_that_parts():
    """The place not counted, in which the two that fit differ, is worth most."""
    worth = ask("28 24 19 _ 12").worth
    assert max(range(5), key=lambda i: worth[i]) == 3


def test_lengths_that_no_piece_has():
    """Pieces longer than any of the catalog, one after the other, are each of none."""
    for length in (30, 31, 29):
        seen = parse_piece([*map(str, range(20, 20 + length))])
        assert identify_piece(SMALL, seen).posterior.uncatalogued == pytest.approx(1.0)


def test_a_thousand_counts_do_not_underflow():
    """Each of five wheels counted 99 times over is an answer still, and the right one."""
    found = ask("28x99 24x99 19x99 14x99 12x99")
    assert found.answers()[0].sets == ("wide",)
    assert found.answers()[0].probability > 0.999


# -- laws ------------------------------------------------------------------------------------

counts = st.builds(
    lambda teeth, mark: f"{teeth}{mark}", st.integers(9, 48), st.sampled_from(["", "u", "x2"])
)
places = st.lists(st.one_of(counts, counts, st.just("_")), min_size=1, max_size=7)
ends = st.booleans()
few = settings(max_examples=25, deadline=None)


def written(inner: list[str], start: bool, end: bool) -> str:
    return " ".join([*([".."] if start else []), *inner, *([".."] if end else [])])


@few
@given(places, ends, ends)
def test_adds_up_to_one(inner, start, end):
    """The answers of any piece and uncatalogued add up to 1, none outside 0…1, falling."""
    found = ask(written(inner, start, end))
    shares = [a.probability for a in found.answers()]
    assert math.isclose(sum(shares) + found.uncatalogued, 1, abs_tol=CLOSE)
    assert all(0 <= share <= 1 + CLOSE for share in [*shares, found.uncatalogued, found.steady])
    assert shares == sorted(shares, reverse=True)


@few
@given(places, ends, ends)
def test_either_way_round_is_the_same(inner, start, end):
    """A piece counted from its other end is the same piece, and each place worth the same."""
    one, other = ask(written(inner, start, end)), ask(written(inner[::-1], end, start))
    before, after = table(one), table(other)
    assert before.keys() == after.keys()
    assert all(math.isclose(before[k], after[k], rel_tol=1e-9, abs_tol=CLOSE) for k in before)
    assert other.worth == pytest.approx(one.worth[::-1], abs=1e-8)


@few
@given(st.data())
def test_an_open_end_never_excludes_the_longer_piece(data):
    """Any stretch of any type, with `..` where wheels were left out, has that type as answer."""
    family = data.draw(st.sampled_from(demo().families))
    piece = data.draw(st.sampled_from(family.pieces))
    kind = data.draw(st.sampled_from(family.types[piece.name]))
    size = len(kind.teeth)
    first = data.draw(st.integers(0, size - 1))
    last = data.draw(st.integers(first + 1, size))
    inner = ["_" if t is None else str(t) for t in kind.teeth[first:last]]
    found = table(ask(written(inner, first > 0, last < size)))
    assert found[family.id, piece.name, kind.teeth, carried(family, kind)] > 0


@few
@given(st.integers(1, 6), ends, ends)
def test_a_place_not_counted_speaks_for_nothing(size, start, end):
    """`_` has the piece reach so far and says no more: all `_` leave every share at its prior."""
    found = ask(written(["_"] * size, start, end))
    beyond = start + end
    fitting: dict[tuple[object, ...], float] = {
        (family.id, piece.name, kind.teeth, carried(family, kind)): kind.weight
        for family in demo().families
        for piece in family.pieces
        for kind in family.types[piece.name]
        if (len(piece.wheels) >= size + beyond if beyond else len(piece.wheels) == size)
    }
    total = sum(fitting.values())
    expected = {key: 0.864 * weight / total for key, weight in fitting.items()}
    for (family, piece, _, _), weight in fitting.items():
        key = family, piece, None, ()
        expected[key] = expected.get(key, 0.0) + 0.036 * weight / total
    assert table(found) == pytest.approx(expected, abs=CLOSE)
    assert found.uncatalogued == pytest.approx(0.1 if fitting else 1.0, abs=CLOSE)


@few
@given(places)
def test_a_repeat_is_two_counts(inner):
    """`24x2` says what 24 said twice says."""
    once = parse_piece(
        [f"{word.partition('x')[0].rstrip('u')}x2" if word != "_" else word for word in inner]
    )
    twice = SeenPiece(
        tuple(tuple(replace(c, times=1) for c in counts) * 2 for counts in once.places)
    )
    before, after = LoosePosterior(demo(), once), LoosePosterior(demo(), twice)
    assert table(after) == pytest.approx(table(before), abs=CLOSE)
    assert after.uncatalogued == pytest.approx(before.uncatalogued, abs=CLOSE)


@few
@given(places)
def test_a_role_changes_no_odds_within_the_piece(inner):
    """Naming the piece takes the others away and leaves those of that piece as they stood."""
    free, named = table(ask(" ".join(inner))), table(ask(" ".join(inner), "laygear"))
    assert all(key[1] == "laygear" for key in named)
    for key, share in named.items():
        first = next(iter(named))
        assert share * free[first] == pytest.approx(free[key] * named[first], abs=CLOSE)


# -- views -----------------------------------------------------------------------------------


def test_types_alike_in_teeth_are_one_group():
    """Two types of the same teeth, told apart by a hand, are one group with both shares."""
    found = answer("29 25 20 15 13")
    lead = found.groups[0]
    assert (found.verdict.kind, len(lead.shares)) == (TYPE, 2)
    assert lead.sets == ("ten-spline", "twenty-three-spline", "other-hand")
    assert lead.probability == pytest.approx(sum(s.probability for s in lead.shares))


def test_places_are_the_wheels_that_fit_best():
    """Counted from the reverse end, place 1 is the last wheel; what is off is told by place."""
    lead = answer("12 14 19 24 27").groups[0]
    assert lead.sets == ("late-touring",)
    assert lead.wheels == (4, 3, 2, 1, 0)
    other = next(g for g in answer("12 14 19 24 27").groups if g.sets == ("wide",))
    assert other.off == (Off(5, 27, 28),)


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("28 24 19 14 12", TYPE),
        ("28 24 20 14 12", RECOUNT),
        ("28x3 25x3 19x3 14x3 12x3", UNLISTED),
        ("28 24 19 _ 12", PIECE),
        ("20", UNDECIDED),
        ("24 28 24 19 14 12", UNDECIDED),
        ("40 41 60", UNCATALOGUED),
    ],
)
def test_verdict(words, kind):
    """One type, a count of it to be done again, no listed type, and so on, from 0.90 on."""
    assert answer(words).verdict.kind == kind


def test_mates_by_set():
    """Where the sets that a piece completes differ in a mate, each number has its sets."""
    lead = answer("38", "final-crown").groups[0]
    (mate,) = lead.mates()
    assert (mate.mate, mate.teeth) == ("final.driver", ((7, ("7-38",)), (8, ("8-38",))))


def test_mates_of_an_idler_and_of_a_wheel_with_two_names():
    """An idler has two mates; a wheel with two names mates under both."""
    idler = answer("20", "R-idler").groups[0]
    assert [(m.mate, m.teeth[0][0]) for m in idler.mates()] == [("R.driver", 12), ("R.driven", 28)]
    first = answer("30", "1-gear").groups
    tarnholt = next(g for g in first if g.family.id == "tarnholt-3" and not g.off)
    assert {m.mate for m in tarnholt.mates()} == {"1.driver", "R2.driver"}


def test_a_dog_ring_is_found():
    """A ring too many: the place without which the rest is a listed piece is named."""
    ((place, kind),) = answer("24 28 24 19 14 12").rings
    assert (place, *kind[1:]) == (1, "alder-4", "laygear", ("wide",))
    assert answer("28 24 19 14 12").rings == ()


def test_a_part_of_a_longer_piece_is_told():
    """Counts that no piece has alone are told as part of one, with the open end to write."""
    kind, words = answer("28 24 19").longer
    assert (*kind[1:], words) == ("alder-4", "laygear", ("wide",), ("28", "24", "19", ".."))
    assert answer("14 19 24").longer == (kind, ("..", "14", "19", "24", ".."))
    assert answer("28 24 19 14 12").longer is None


def test_another_role_with_these_teeth():
    """Where no piece of the role has the teeth, the commonest other piece with them is told."""
    kind = answer("28 24 19 14 12", "3-gear").other_role
    assert kind[1:] == ("alder-4", "laygear", ("wide",))
    assert answer("22", "3-gear").other_role is None


def test_a_count_far_from_all_that_is_listed():
    """Three teeth and more beyond every listed wheel of the role is told with the limit."""
    assert answer("80").beyond == (Off(1, 80, 66),)
    assert answer("68").beyond == ()
    assert [far.place for far in answer("24 60", "laygear").beyond] == [2]


def test_a_family_alone():
    """With a family named only its pieces are candidates, at the same odds among them."""
    free, named = (
        table(ask("22")),
        table(LoosePosterior(demo(), parse_piece(["22"]), family="alder-4")),
    )
    assert {key[0] for key in named} == {"alder-4"}
    first, *others = named
    for key in others:
        assert named[key] * free[first] == pytest.approx(free[key] * named[first], abs=CLOSE)


# -- what parts them -------------------------------------------------------------------------


def test_what_parts_types_alike_in_teeth():
    """Of three shafts with 19 teeth the splines part two, then the hand the third."""
    (first, second) = partings([answer("19x5", "input-shaft").groups[0]])
    assert (first.what, first.place) == ("splines", None)
    assert first.values == ((10, ((0, 0), (0, 2))), (23, ((0, 1),)))
    assert second.what == "hand"


def test_the_hand_of_one_wheel_is_named_by_its_place():
    """A feature of a wheel stands at the place as written; one that is the same parts nothing."""
    (found,) = partings([answer("13 15 20 25 29").groups[0]])
    assert (found.what, found.place) == ("hand", 3)
    assert {value for value, _ in found.values} == {"left", "right"}


def test_marks_part_crown_wheels():
    """Where only the mark differs, the mark is what to look at."""
    (found,) = partings([answer("38x3", "final-crown").groups[0]])
    assert found.what == MARK
    assert {value for value, _ in found.values} == {"C 738", "C 838"}


def one_shaft(*bores: float) -> Catalog:
    return Catalog(
        (
            Family(
                "shaft",
                "axle",
                sets=tuple(
                    RatioSet(
                        f"s{i}",
                        pairs=pairs(final="9/41"),
                        features={"final-pinion": {"bore_mm": bore}},
                    )
                    for i, bore in enumerate(bores)
                ),
            ),
        )
    )


@pytest.mark.parametrize(("apart", "parts"), [(0.19, 0), (0.2, 1)])
def test_a_measure_parts_from_two_tenths_on(apart, parts):
    """Two bores part from 0.2 mm on, for no callipers tell less on a worn piece."""
    catalog = one_shaft(20.0, 20.0 + apart)
    assert len(partings([answer("9", "final-pinion", catalog).groups[0]])) == parts


def test_what_is_not_known_parts_nothing():
    """A feature that only one of two types gives parts them not."""
    catalog = Catalog(
        (
            Family(
                "shaft",
                "axle",
                sets=(
                    RatioSet("a", pairs=pairs(final="9/41"), marks={"final-pinion": ("A",)}),
                    RatioSet("b", pairs=pairs(final="9/41"), marks={"final-pinion": ("B",)}),
                    RatioSet("c", pairs=pairs(final="9/43")),
                ),
            ),
        )
    )
    lead = answer("9", "final-pinion", catalog).groups[0]
    (found,) = partings([lead])
    assert len(lead.shares) == 3
    assert [len(types) for _, types in found.values] == [1, 1]
