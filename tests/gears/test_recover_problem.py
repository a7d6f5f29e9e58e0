import pytest

from cogtally.gears.errors import UserError
from cogtally.gears.recover.problem import Span, pose

FOUR = {"1": "3.65", "2": "2.25", "3": "1.44", "4": "1.00"}


def test_wheels_stand_in_the_usual_notation():
    """A layshaft box seeks the input pair first, then the gears as written, reverse last."""
    problem = pose({"R": "3.90", "2": "2.25", "1": "3.65"})
    assert problem.pairs == ("input", "2", "1", "R")
    assert problem.wheels[:3] == ("input.driver", "input.driven", "2.driver")
    assert problem.reference == "input"


def test_a_direct_gear_has_no_pair():
    """A 1.00 named direct is no pair; one not named counts as a pair."""
    assert pose(FOUR, direct="4").pairs == ("input", "1", "2", "3")
    assert pose(FOUR).pairs == ("input", "1", "2", "3", "4")


def test_ranges_are_the_usual_ones_of_the_layout():
    """Drivers are 11 to 40 and driven 15 to 50; pinions 5 to 20 and crown wheels 20 to 90."""
    box, axle = pose(FOUR), pose({"1": "3.90"}, layout="axle")
    assert box.spans["input.driver"] == box.spans["1.driver"] == Span(11, 40)
    assert box.spans["1.driven"] == Span(15, 50)
    assert axle.pairs == ("final",)
    assert axle.spans == {"final.driver": Span(5, 20), "final.driven": Span(20, 90)}


def test_a_counted_wheel_stands_even_outside_the_range():
    """A count is a fact: it replaces the range of that wheel and of no other."""
    problem = pose(FOUR, drivers=Span(14, 30), counted={"1.driver": 12})
    assert problem.spans["1.driver"] == Span(12, 12)
    assert problem.spans["2.driver"] == Span(14, 30)
    assert problem.counted == ("1.driver",)


def test_a_counted_idler_changes_nothing():
    """An idler is in no ratio, so its count is taken and leaves the problem as it was."""
    gears = {**FOUR, "R": "3.90"}
    assert pose(gears, counted={"R.idler": 20}) == pose(gears)


def test_the_reference_is_the_lowest_gear_where_no_input_sum_counts():
    """Two-shaft boxes and free input pairs measure sums by the lowest-numbered gear."""
    gears = {"3": "1.44", "1": "3.65", "2": "2.25"}
    assert pose(gears, layout="two-shaft").reference == "1"
    assert pose(gears, free_input=True).reference == "1"
    assert pose({"low": "3.65", "high": "2.25"}, layout="two-shaft").reference == "low"


def test_one_forward_gear_is_no_ranking():
    """Reverse and direct do not make up for a second gear with a pair of its own."""
    assert not pose({"1": "3.65", "4": "1.00", "R": "3.90"}, direct="4").ranked
    assert pose({"1": "3.65", "2": "2.25"}).ranked
    assert not pose({"1": "3.90"}, layout="axle").ranked


@pytest.mark.parametrize(
    ("gears", "options", "sentence"),
    [
        ({"R": "3.90"}, {}, "no forward gear with a pair of its own was read"),
        ({"4": "1.00"}, {"direct": "4"}, "no forward gear with a pair of its own was read"),
        (
            FOUR,
            {"direct": "4", "layout": "two-shaft"},
            "only a layshaft or sleeve box has a direct gear",
        ),
        (FOUR, {"layout": "overdrive"}, "an overdrive has one ratio"),
        (FOUR, {"spread": -1}, "a spread of -1 was read"),
        (FOUR, {"driven": Span(3, 10)}, "driven 3 to 10 is no range"),
        (FOUR, {"driven": Span(15, 201)}, "driven 15 to 201 is no range"),
        (FOUR, {"sums": Span(0, 60)}, "tooth sums 0 to 60 is no range"),
        (FOUR, {"counted": {"input.driver": 3}}, "3 teeth were read"),
        (FOUR, {"counted": {"input.idler": 30}}, "no such wheel is sought here"),
        (FOUR, {"counted": {"R.driver": 14}}, "no such wheel is sought here"),
        (
            {"1": "3.9"},
            {"layout": "axle", "sums": Span(20, 60)},
            "no tooth sum is known of an axle",
        ),
    ],
)
def test_what_cannot_be_asked_is_refused(gears, options, sentence):
    """A question that makes no sense is refused in one line that begins with its sentence."""
    with pytest.raises(UserError) as refused:
        pose(gears, **options)
    assert refused.value.sentence.startswith(sentence)
    assert "\n" not in str(refused.value)
