"""The table of ratios: steps, overall ratios, overdrive, what is missing, what cannot be meant."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, strategies as st

from cogtally.gears.errors import UserError
from cogtally.gears.notation import Count, parse_path, parse_seen
from cogtally.gears.ratios import (
    Gear,
    RatioTable,
    default_layout,
    parse_axle,
    parse_overdrive,
    ratio_table,
)

TEETH = st.integers(4, 200)
BOX = ("input=17/28", "1=14/31", "2=19/26", "3=24/21", "R=12/20/28")


def last(counts: Sequence[Count]) -> int:
    """Stand in for the law of the evidence: the count written last."""
    return counts[-1].teeth


def table_of(*words: str, **said: Any) -> RatioTable:
    """Return the table of written words and of options as they are written."""
    if "paths" in said:
        said["paths"] = [parse_path(text) for text in said["paths"]]
    if "axle" in said:
        said["axle"] = parse_axle(said["axle"])
    if "overdrive" in said:
        said["overdrive"] = parse_overdrive(said["overdrive"])
    return ratio_table(parse_seen(words), last, **said)


def gear_of(table: RatioTable, name: str) -> Gear:
    """Return the gear of that name."""
    return next(gear for gear in table.gears if gear.name == name)


def test_a_four_speed_box():
    """Input pair, own pairs, direct on top and a reverse with an idler: exact ratios and steps."""
    table = table_of(*BOX, direct="4")
    assert {gear.name: gear.ratio for gear in table.gears} == {
        "1": Fraction(62, 17),
        "2": Fraction(728, 323),
        "3": Fraction(49, 34),
        "4": Fraction(1),
        "R": Fraction(196, 51),
    }
    steps = {gear.name: (gear.step_from, gear.step) for gear in table.gears}
    assert steps["1"] == steps["R"] == (None, None)
    assert steps["2"] == ("1", Fraction(62, 17) / Fraction(728, 323))
    assert steps["4"] == ("3", Fraction(49, 34))


@given(pair=st.tuples(TEETH, TEETH), entry=st.tuples(TEETH, TEETH), final=st.tuples(TEETH, TEETH))
def test_overall_is_the_product(pair, entry, final):
    """The overall ratio is the gear's ratio times the axle's, whatever the counts."""
    words = [f"input={entry[0]}/{entry[1]}", f"1={pair[0]}/{pair[1]}"]
    gear = gear_of(table_of(*words, axle=f"{final[0]}/{final[1]}"), "1")
    assert gear.ratio == Fraction(entry[1] * pair[1], entry[0] * pair[0])
    assert gear.overall == gear.ratio * Fraction(final[1], final[0])


@given(first=st.tuples(TEETH, TEETH), pairs=st.lists(st.tuples(TEETH, TEETH), min_size=2))
def test_steps_multiply_to_the_spread(first, pairs):
    """All steps together are the ratio of the lowest gear over that of the highest."""
    words = [f"{n}={a}/{b}" for n, (a, b) in enumerate(pairs, start=1)]
    table = table_of(f"input={first[0]}/{first[1]}", *words)
    product = Fraction(1)
    for gear in table.gears[1:]:
        product *= gear.step
    lowest, highest = table.gears[0].ratio, table.gears[-1].ratio
    assert product == lowest / highest


@given(order=st.permutations(BOX))
def test_the_order_of_the_words_changes_no_gear(order):
    """The words may come in any order."""
    assert table_of(*order, direct="4").gears == table_of(*BOX, direct="4").gears


def test_wheels_written_alone_are_a_pair():
    """A driver and a driven wheel written one by one are the pair of that name."""
    table = table_of("1.driven=31", "1.driver=14", "R.idler=20")
    assert [pair.teeth for pair in table.pairs] == [(14, 31), (None, 20, None)]
    assert gear_of(table, "1").ratio == Fraction(31, 14)
    (joined,) = table_of("R=12/28", "R.idler=20").pairs
    assert (joined.teeth, joined.sums) == ((12, 20, 28), (32, 48))


def test_a_gear_says_which_wheel_is_missing():
    """Without a count there is no ratio, and the wheels wanted are named; an idler is not."""
    table = table_of("input=17/28", "1=14/_", "2=_/_", "3.driver=_", "R=12/_/28")
    assert gear_of(table, "1").missing == ("1.driven",)
    assert gear_of(table, "2").missing == ("2.driver", "2.driven")
    assert gear_of(table, "3").missing == ("3.driver", "3.driven")
    assert gear_of(table, "R").missing == ()
    assert [gear.ratio for gear in table.gears[:3]] == [None, None, None]
    unwritten = gear_of(table_of("1=14/31", layout="layshaft"), "1")
    assert unwritten.missing == ("input.driver", "input.driven")


def test_a_step_needs_no_pair_that_both_gears_share():
    """With the input pair not counted the steps between gears are known all the same."""
    known, unknown = table_of(*BOX), table_of("input=_/28", *BOX[1:])
    assert gear_of(unknown, "2").ratio is None
    assert gear_of(unknown, "2").step == gear_of(known, "2").step


def test_no_step_across_a_gear_that_is_not_written():
    """From first to third is no step of the lever, nor is one to a gear without a number."""
    table = table_of("1=14/31", "3=24/21", "crawler=12/40", "R=12/20/28")
    assert [gear.step for gear in table.gears] == [None] * 4


@pytest.mark.parametrize(
    ("pairs", "layout"),
    [
        (("input", "1"), "layshaft"),
        (("1", "output"), "sleeve"),
        (("1", "output", "input"), "layshaft"),
        (("1", "final"), "two-shaft"),
        (("1",), "two-shaft"),
        (("final",), "axle"),
    ],
)
def test_names_speak_for_a_layout(pairs, layout):
    """Input speaks for a layshaft, output for a sleeve, final alone for an axle."""
    assert default_layout(pairs) == layout


def test_a_layout_that_was_named_goes_before_the_names():
    """Two-shaft if so said, though an input pair is written; that pair carries nothing then."""
    table = table_of("input=17/28", "1=14/31", layout="two-shaft")
    assert gear_of(table, "1").ratio == Fraction(31, 14)
    assert (table.unused, table.assumed) == (("input",), False)


def test_written_final_is_the_axle_behind_the_box():
    """A pair named final is no gear of a box and gives the overall ratios, as an axle given so."""
    written = table_of("1=14/31", "2=19/26", "final=9/41")
    assert [gear.name for gear in written.gears] == ["1", "2"]
    assert written.axle_ratio == Fraction(41, 9)
    assert written == table_of("1=14/31", "2=19/26", axle="9/41")


def test_final_on_a_spelled_path_is_a_pair_like_others():
    """A path that names final carries it itself, and nothing stands behind the box."""
    table = table_of("1=14/31", "final=9/41", paths=["1=1,final"])
    assert gear_of(table, "1").ratio == Fraction(31, 14) * Fraction(41, 9)
    assert table.axle is None


def test_axle_half_counted_gives_no_overall_ratio():
    """With the crown wheel not counted the gears have their ratios and no overall ones."""
    table = table_of("1=14/31", "final=9/_")
    assert gear_of(table, "1").ratio == Fraction(31, 14)
    assert gear_of(table, "1").overall is None
    assert table.axle.missing == ("final.driven",)


def test_overdrive_is_on_forward_gears():
    """Sun held, carrier in, annulus out: 24/84 turns every forward ratio into 7/9 of it."""
    table = table_of(*BOX, direct="4", axle="9/41", overdrive="24/84")
    for gear in table.gears:
        if gear.name == "R":
            assert (gear.overdrive, gear.overdrive_overall) == (None, None)
        else:
            assert gear.overdrive == gear.ratio * Fraction(7, 9)
            assert gear.overdrive_overall == gear.overdrive * Fraction(41, 9)


def test_different_counts_are_settled_by_the_law_that_was_given():
    """Where counts differ the law settles the teeth and the wheel is marked; alike, it is not."""
    table = table_of("3=24/21", "3=22u/21", "3.driver=25x2")
    wheel = table.pairs[0].wheels[0]
    assert (wheel.teeth, wheel.is_disputed, wheel.is_unsure) == (25, True, False)
    assert [w.name for w in table.disputed] == ["3.driver"]
    assert gear_of(table, "3").ratio == Fraction(21, 25)


def test_unsure_is_a_wheel_with_no_sure_count_of_its_teeth():
    """One sure count of the same teeth takes the doubt away."""
    assert table_of("1=14u/31").pairs[0].wheels[0].is_unsure
    assert not table_of("1=14u/31", "1.driver=14").pairs[0].wheels[0].is_unsure
    assert not table_of("1=_/31").pairs[0].wheels[0].is_unsure


def test_turn_tests_change_nothing():
    """A turn test among the words leaves the table as it is."""
    assert table_of(*BOX, "1@4:1.1", "5@4:4.7") == table_of(*BOX)


def test_a_gear_no_higher_than_the_one_below_is_named():
    """A pair written the wrong way round shows as a step that does not fall."""
    assert [gear.name for gear in table_of(*BOX).rising] == []
    assert [gear.name for gear in table_of("1=14/31", "2=26/19", "3=24/21").rising] == ["3"]
    assert [gear.name for gear in table_of("1=14/31", "2=14/31").rising] == ["2"]


@pytest.mark.parametrize(
    ("third", "named"), [("24/24", ()), ("24/25", ("input", "1", "2", "3")), ("24/_", ())]
)
def test_sums_too_far_apart_are_named(third, named):
    """Sums 3 apart may be right, 4 apart are named; reverse and what is not counted are not."""
    words = ("input=17/28", "1=14/31", "2=19/26", f"3={third}", "R=12/22")
    assert table_of(*words).sums_apart == named


@pytest.mark.parametrize(
    ("words", "said", "sentence"),
    [
        (("final=9/41",), {"direct": "4"}, "axle locks input to output"),
        (BOX, {"direct": "3"}, "3 has a pair"),
        (BOX, {"direct": "input"}, "input has a pair"),
        (BOX, {"direct": "final"}, "is no gear"),
        (BOX, {"direct": "5", "paths": ["5=input,3"]}, "5 has a pair or a path"),
        (BOX, {"paths": ["R=input,R1"]}, "R1 is not written"),
        (BOX, {"paths": ["R=input,1,1"]}, "1 stands twice"),
        (BOX, {"paths": ["R=input,1", "R=input,2"]}, "R has two paths"),
        (BOX, {"paths": ["input=1,2"]}, "no gear"),
        ((*BOX, "final=9/41"), {"axle": "8/39"}, "final too"),
        (("final=9/41",), {"axle": "8/39"}, "what the words describe"),
        (("final=9/41",), {"overdrive": "24/84"}, "no overdrive"),
    ],
)
def test_what_cannot_be_meant_is_refused(words, said, sentence):
    """Parts that contradict each other are refused with what to write instead."""
    with pytest.raises(UserError, match=sentence) as caught:
        table_of(*words, **said)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("read", "option", "texts"),
    [
        (parse_axle, "--axle", ["9", "9/_", "9/20/41", "41", "4.56", "9/410", "nine/41", ""]),
        (
            parse_overdrive,
            "--overdrive",
            ["24", "24/_", "24/30/84", "84/24", "24/24", "24/25", "24:84"],
        ),
    ],
)
def test_an_axle_and_an_overdrive_are_two_counted_wheels(read, option, texts):
    """Two counts, an annulus larger than its sun, and nothing else; the option is named."""
    for text in texts:
        with pytest.raises(UserError) as caught:
            read(text)
        assert caught.value.place.startswith(f"{option} {text}".rstrip())
        assert caught.value.mend
