"""Whole answers of the model: strangers, miscounts, turned pairs, and the views beside them."""

from fractions import Fraction

import pytest
from hypothesis import given, strategies as st

from cogtally.catalog.model import Catalog, written_pair
from cogtally.evidence.engine import posterior
from cogtally.evidence.posterior import MATCHED, MIXED, NEW, UNCATALOGUED, VARIANT
from cogtally.evidence.reading import NARROWED, RECOUNT, Answer, identify, judge
from cogtally.evidence.reading.hints import may_be_named, turned_round
from cogtally.evidence.seen import counted_wheels
from cogtally.gears.notation import parse_seen
from small_catalog import ALL_TURNED, EARLY, SMALL


def asked(*words: str, family: str | None = None, expect: tuple[str, str] | None = None) -> Answer:
    """Return the answer of the small catalog."""
    return identify(SMALL, parse_seen(words), family=family, expect=expect)


def with_third(*words: str) -> tuple[str, ...]:
    """Return the counts of `early` with other words for its third."""
    return (*EARLY[:3], *words, *EARLY[4:])


def test_full_agreement_is_matched_and_raises_no_question():
    """Counts that a set has all of are matched to it, with nothing to count again."""
    answer = asked(*EARLY)
    assert (answer.verdict.kind, answer.verdict.sets) == (MATCHED, ("early",))
    assert (answer.recounts, answer.turned, answer.verdict.not_counted) == ((), None, ())
    assert all(not line.differs and not line.off for line in answer.lines)


def test_one_miscount_reads_as_the_right_set_and_names_the_wheel():
    """One count a tooth off leaves the set named, not matched, and asks for that wheel again."""
    answer = asked(*with_third("3=27/25"))
    assert (answer.verdict.kind, answer.verdict.sets) == (RECOUNT, ("early",))
    (recount,) = answer.recounts
    assert (recount.wheel, recount.counted, recount.listed) == ("3.driven", 25, 24)


def test_a_foreign_piece_counted_once_asks_for_a_recount():
    """While one count alone speaks for a stranger, that wheel is to be counted again."""
    answer = asked(*with_third("3=27/21"))
    assert not answer.verdict.is_clean
    (recount,) = answer.recounts
    assert (recount.wheel, recount.listed) == ("3.driven", 24)
    assert recount.without is not None
    assert (recount.without.kind, recount.without.sets) == (MATCHED, ("early",))


def test_no_box_is_left_unasked_that_would_be_named():
    """Of more and more counts of every set, those that name it are told beforehand, without all."""
    boxes = [
        parse_seen([f"{pair}={written_pair(teeth)}" for pair, teeth in pairs[:many]])
        for family in SMALL.families
        for known in family.counted_sets
        for pairs in [[*known.pairs.items(), ("1", (14, 36))]]
        for many in range(1, len(pairs) + 1)
    ]
    told = [seen for seen in boxes if may_be_named(SMALL, seen)]
    named = [seen for seen in boxes if judge(SMALL, posterior(SMALL, seen), seen).is_clean]
    assert 0 < len(named) <= len(told) < len(boxes)
    assert [seen for seen in named if seen not in told] == []


@pytest.mark.parametrize("third", [("3=27/21x2",), ("3=27/21", "3.driven=21")])
def test_a_foreign_piece_counted_twice_is_mixed(third):
    """A piece of another set, counted twice, is named with its set, and its mesh is marked."""
    answer = asked(*with_third(*third))
    assert (answer.verdict.leaning, answer.verdict.sets) == (MIXED, ("early",))
    (foreign,) = answer.verdict.foreign
    assert (foreign.piece, foreign.teeth, foreign.from_sets) == ("3-gear", (21,), ("sport",))
    assert answer.recounts == ()
    off = [m for m in answer.meshes if m.agrees is False]
    assert [(m.wheels, m.sum, m.expected_sums, m.off) for m in off] == [
        (("3.driver", "3.driven"), 48, (51,), -3)
    ]
    line = next(line for line in answer.lines if line.name == "3")
    assert line.parted == (("laygear", "3-gear"),)


def test_a_laygear_with_one_other_wheel_counted_three_times_is_of_no_listed_set():
    """A laygear that no set has, the wheel counted three times, is unlisted: new, or a variant."""
    answer = asked(*with_third("3=29x3/24"))
    assert answer.verdict.leaning == NEW
    assert answer.posterior.of_kind(NEW) + answer.posterior.of_kind(VARIANT) > 0.99
    (laygear,) = (p for p in answer.posterior.pieces if p.piece == "laygear" and p.teeth is None)
    assert laygear.probability > 0.99


def test_a_fifth_pair_is_never_matched():
    """Full four-speed counts and a fifth pair are a variant with a pair that nobody lists."""
    answer = asked(*EARLY, "5=30/21")
    assert answer.verdict.kind == VARIANT
    assert [(t.kind, t.name) for t in answer.verdict.lacking] == [("pair", "5")]
    assert not [a for a in answer.posterior.answers if a.kind == MATCHED and a.probability > 1e-12]
    assert next(line for line in answer.lines if line.name == "5").lacking


def test_a_box_of_no_family_is_uncatalogued_with_the_nearest_set_beside_it():
    """A box that no family fits says so, and shows the nearest set without calling it its own."""
    answer = asked("input=40/41", "1=33/60", "2=50/20")
    assert (answer.verdict.kind, answer.verdict.family, answer.verdict.sets) == (
        UNCATALOGUED,
        "",
        (),
    )
    assert [known.id for known in answer.beside] == [answer.nearest[0].set]
    assert all(mesh.agrees is None for mesh in answer.meshes)


def test_one_pair_turned_round_is_asked_about():
    """A pair that fits far better the other way round is shown as it may have been meant."""
    answer = asked(*with_third("3=24/27"))
    assert answer.turned is not None
    assert (answer.turned.read, answer.turned.meant) == (("3=24/27",), ("3=27/24",))
    assert not answer.turned.all
    assert answer.turned.verdict.sets == ("early",)


def test_all_pairs_turned_round_are_asked_about():
    """Where all pairs are turned round, all of them are asked about at once."""
    answer = asked(*ALL_TURNED)
    assert answer.turned is not None
    assert answer.turned.all
    assert answer.turned.meant == EARLY[:4]


def test_a_sound_answer_is_not_asked_again(monkeypatch):
    """Where every count agrees the model is asked once."""
    from cogtally.evidence.reading import answer as room

    times = []
    plain = room.posterior

    def counting(*args: object, **named: object) -> object:
        times.append(1)
        return plain(*args, **named)

    monkeypatch.setattr(room, "posterior", counting)
    asked(*EARLY)
    assert len(times) == 1


def test_sets_alike_so_far_are_narrowed():
    """Where the counts fit several sets alike, all of them are named."""
    answer = asked("1=13/40", "2=20/33")
    assert (answer.verdict.kind, answer.verdict.sets) == (NARROWED, ("a", "b"))
    third = next(line for line in answer.lines if line.name == "3")
    assert third.listed == ((26, 27), (28, 25))
    assert third.listed_ratio is None


def test_gears_are_exact_ratios_along_their_paths():
    """A gear's ratio is the exact product of its path, 1 for the direct one."""
    answer = asked(*EARLY)
    assert {g.gear: g.ratio for g in answer.gears} == {
        "1": Fraction(31 * 36, 20 * 15),
        "2": Fraction(31 * 30, 20 * 21),
        "3": Fraction(31 * 24, 20 * 27),
        "4": Fraction(1),
        "R": Fraction(31 * 32, 20 * 14),
    }


def test_a_pair_that_the_family_lacks_runs_behind_the_counted_input():
    """The gear of a pair that the family lacks is taken through the input pair and its own."""
    answer = asked(*EARLY, "5=30/21")
    assert {g.gear: g.ratio for g in answer.gears}["5"] == Fraction(31 * 21, 20 * 30)


def test_meshes_of_an_idler_are_two():
    """A chain with an idler has two meshes, each with its own sums."""
    meshes = {m.wheels: (m.sum, m.expected_sums, m.agrees) for m in asked(*EARLY).meshes}
    assert meshes["R.driver", "R.idler"] == (32, (32,), True)
    assert meshes["R.idler", "R.driven"] == (50, (50,), True)


def test_the_nearest_sets_are_ordered_by_teeth_then_ratio_with_printed_ones_last():
    """Fewer teeth apart comes first; a set known by printed ratios only comes behind."""
    near = asked("1=13/40", "2=20/33", family="twin-2").nearest
    assert [n.set for n in near] == ["a", "b", "print"]
    assert [n.tooth_differences for n in near] == [0, 0, None]
    assert near[0].worst_ratio_error == 0
    assert near[2].worst_ratio_error == pytest.approx(1 - 40 / 13 / 3.10)


def test_a_wheel_that_a_set_lacks_counts_whole_and_a_gap_not_at_all():
    """In the distance a wheel that the set lacks counts all its teeth."""
    near = {n.set: n for n in asked("1=15/36", "5=30/_").nearest}
    assert near["early"].tooth_differences == 30


def test_restricted_to_a_family_no_other_is_named():
    """Asked about one family, the answer is of it or of none."""
    answer = asked(*EARLY, family="twin-2")
    assert answer.verdict.kind == UNCATALOGUED
    assert {n.family for n in answer.nearest} == {"twin-2"}


def test_an_empty_catalog_has_no_set_to_name():
    """Where nothing is catalogued the box is not in the catalog."""
    answer = identify(Catalog(()), parse_seen(EARLY))
    assert (answer.verdict.kind, answer.family, answer.beside, answer.nearest) == (
        UNCATALOGUED,
        None,
        (),
        (),
    )


def test_several_results_give_the_likeliest_and_the_lower_on_a_tie():
    """Of different results the likeliest from a steady hand counts, the lower on a tie."""
    counted = counted_wheels(
        parse_seen(["3.driven=22", "3.driven=21x2", "2.driven=30", "2.driven=29"])
    )
    assert (counted["3.driven"].teeth, counted["3.driven"].results) == (21, (22, 21))
    assert counted["2.driven"].teeth == 29


PAIR = st.tuples(
    st.sampled_from(["1", "2", "R"]), st.lists(st.integers(4, 200), min_size=2, max_size=3)
).map(lambda p: f"{p[0]}={'/'.join(map(str, p[1]))}")


@given(st.lists(PAIR, min_size=1, max_size=4), st.sampled_from([None, "1", "2", "R"]))
def test_turning_twice_changes_nothing(words, pair):
    """Turned round twice, a box was counted as it was written."""
    seen = parse_seen(words)
    twice = turned_round(turned_round(seen, pair), pair)
    assert [sorted(w.counts, key=str) for w in twice.words] == [
        sorted(w.counts, key=str) for w in seen.words
    ]
