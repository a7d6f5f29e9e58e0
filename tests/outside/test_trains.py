"""Trains of gears whose ratios were published, or are common knowledge of the trade.

Each case names its source. `from memory`: source and value were not opened when the case was
written, the arithmetic was done again.
"""

from fractions import Fraction

import pytest

from cogtally.gears.notation import parse_path, parse_seen
from cogtally.gears.ratios import RatioTable, ratio_table
from cogtally.gears.trains import epicyclic, pair_ratio, tooth_sums, train_ratio


def box(*words: str, direct: str | None = None, path: str | None = None) -> RatioTable:
    """Return the table of a box in which no wheel was counted twice."""
    paths = () if path is None else (parse_path(path),)
    return ratio_table(
        parse_seen(words), lambda counts: counts[0].teeth, direct=direct, paths=paths
    )


def ratios_of(table: RatioTable) -> dict[str, Fraction | None]:
    """Return the ratio of each gear."""
    return {gear.name: gear.ratio for gear in table.gears}


def test_first_gear_of_a_four_speed_in_line_box():
    """18 drives 26, then 13 drives 31: 31/9, and one turn in gives about a quarter out.

    Common practice, no source.
    """
    table = box("input=18/26", "1=13/31")
    ratio = table.gears[0].ratio
    assert ratio == Fraction(31, 9)
    assert round(float(1 / ratio), 2) == 0.29
    assert [pair.sums for pair in table.pairs] == [(44,), (44,)]


@pytest.mark.parametrize(("gear", "quarters"), [("1", 1), ("2", 2), ("3", 3), ("4", 4)])
def test_quarters_of_a_turn(gear, quarters):
    """The gears of a four-speed in-line box give about 1/4, 2/4, 3/4 and 4/4 of a turn.

    Common practice, no source; the pairs behind first gear are invented to the same sum of 44.
    """
    table = box("input=18/26", "1=13/31", "2=18/26", "3=23/21", direct="4")
    ratio = ratios_of(table)[gear]
    assert round(4 / ratio) == quarters


def test_overdrive_gives_five_quarters():
    """With overdrive in top one turn in gives about 5/4 of a turn out.

    Common practice, no source.
    """
    assert round(4 / epicyclic(24, 84).overdrive) == 5


@pytest.mark.parametrize(
    ("pairs", "ratio", "sums"),
    [
        pytest.param(
            [(16, 96), (16, 80)],
            30,
            None,
            id="Shigley, Mechanical Engineering Design, ch. 13, exact 30:1 (from memory)",
        ),
        pytest.param(
            [(18, 108), (21, 105)],
            30,
            126,
            id="Shigley, Mechanical Engineering Design, ch. 13, reverted 30:1 (from memory)",
        ),
        pytest.param(
            [(21, 63), (12, 72)],
            18,
            84,
            id="Norton, Design of Machinery, ch. 9, reverted 18:1 (from memory)",
        ),
        pytest.param(
            [(14, 84), (14, 84), (14, 70)],
            180,
            None,
            id="Norton, Design of Machinery, ch. 9, three stages 180:1 (from memory)",
        ),
    ],
)
def test_textbook_trains(pairs, ratio, sums):
    """Compound trains of textbooks have exactly their ratio; reverted ones equal sums."""
    assert train_ratio(pairs) == ratio
    if sums is not None:
        assert {tooth_sums(pair) for pair in pairs} == {(sums,)}


def test_lunar_train_of_the_antikythera_mechanism():
    """64/38 × 48/24 × 127/32 is 254/19, the sidereal months of a 19-year cycle.

    Freeth et al., Nature 444 (2006) 587 (from memory).
    """
    ratio = train_ratio([(38, 64), (24, 48), (32, 127)])
    assert ratio == Fraction(254, 19)


def test_a_published_automobile_gearbox_problem():
    """Targets 4, 2.24, 1.38, 1 and reverse 4.2 are met as the published solution meets them.

    A published automobile gearbox problem, opened: constant pair 20/40, first 20/40, third 36 on
    the layshaft and 24 on the main shaft, all sums 60, reverse 18 through an idler to 38. The
    idler's count of 20 is ours; it changes no ratio.
    """
    table = box("input=20/40", "1=20/40", "3=36/24", "R=18/20/38", direct="4")
    assert ratios_of(table) == {
        "1": Fraction(4),
        "3": Fraction(4, 3),
        "4": Fraction(1),
        "R": Fraction(38, 9),
    }
    assert {pair.sums for pair in table.pairs if pair.name != "R"} == {(60,)}
    assert box("input=20/40", "3=35/25").gears[0].ratio == Fraction(10, 7)


def test_reverse_of_the_published_problem_by_a_spelled_path():
    """The same reverse written as two pairs, idler as driven and as driver, is 38/9 too."""
    table = box("input=20/40", "Ra=18/20", "Rb=20/38", path="R=input,Ra,Rb")
    assert ratios_of(table) == {"R": Fraction(38, 9)}


def test_lathe_change_gears():
    """127 over 5 turns inches into millimetres exactly: 25.4 (from memory)."""
    assert pair_ratio((5, 127)) == Fraction("25.4")


@pytest.mark.parametrize(
    ("sun", "annulus", "ratio"), [(24, 84, Fraction(7, 9)), (18, 82, Fraction(41, 50))]
)
def test_overdrive_with_the_sun_held(sun, annulus, ratio):
    """Sun held, carrier in, annulus out: in/out = 1/(1 + S/A), the formula opened."""
    assert epicyclic(sun, annulus).overdrive == ratio == 1 / (1 + Fraction(sun, annulus))
