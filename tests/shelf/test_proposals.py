"""What is asked next at the bench, and when a session ends by itself."""

from collections.abc import Mapping

import pytest

from cogtally.catalog.model import Catalog
from cogtally.evidence.advice import SMALL_WORTH, Advice, LookWorth, Worth
from cogtally.evidence.reading import identify
from cogtally.shelf.session.bench import MARK, NAME, SEEN, SKIP, SURE, TAKE, Bench, Step
from cogtally.shelf.session.proposals import (
    ALL_AGAIN,
    ALL_COUNTED,
    NAMED,
    PIECE,
    RECOUNT,
    SPENT,
    TIPPED,
    WANTED,
    WORTH,
    View,
    best_turn,
    look,
)
from small_catalog import EARLY, SMALL

NOTHING: Mapping[str, float] = {}


def seen(*words: str, end: str = NAME) -> Bench:
    return Bench(end, tuple(Step(SEEN, (word,)) for word in words))


def advice(
    wheels: Mapping[str, float] = NOTHING,
    turns: Mapping[str, float] = NOTHING,
    all_again: bool = False,
    looks: Mapping[str, float] = NOTHING,
) -> Advice:
    return Advice(
        wheels=tuple(Worth(bits, wheel=wheel) for wheel, bits in wheels.items()),
        turns=tuple(Worth(bits, gear=gear, turns=7) for gear, bits in turns.items()),
        at_most=5.0,
        count_all_again=all_again,
        looks=tuple(LookWorth(bits, owner, MARK, ()) for owner, bits in looks.items()),
    )


def view(
    bench: Bench,
    wheels: Mapping[str, float] = NOTHING,
    turns: Mapping[str, float] = NOTHING,
    all_again: bool = False,
    catalog: Catalog = SMALL,
    looks: Mapping[str, float] = NOTHING,
) -> View:
    def advise(with_turns: bool) -> Advice:
        return advice(wheels, turns if with_turns else NOTHING, all_again, looks)

    return look(bench, identify(catalog, bench.seen), advise)


def asked(found: View) -> tuple[str, str]:
    return found.question.asked, found.question.why


START, SLIGHT = seen("R.driver=14"), SMALL_WORTH / 2
BOTH = {"2.driven": 1.2, "1.driven": 0.4}


@pytest.mark.parametrize(
    ("bench", "wheels", "turns", "question"),
    [
        pytest.param(START, BOTH, {}, ("2.driven", WORTH), id="the wheel worth most"),
        pytest.param(
            START.after(Step(SKIP, of="2.driven")), BOTH, {}, ("1.driven", WORTH), id="skipped"
        ),
        pytest.param(START, {"1.driven": SMALL_WORTH}, {}, ("1.driven", WORTH), id="the least"),
        pytest.param(seen().after(Step(TAKE, of="2@9")), BOTH, {}, ("2@9", WANTED), id="a wish"),
        pytest.param(
            START, {"1.driven": SLIGHT}, {"3": 0.3}, ("3@7", WORTH), id="no wheel is worth it"
        ),
        pytest.param(
            seen("1@10:2.6"), BOTH, {"2": 0.3}, ("2@7", WORTH), id="a shut box is turned again"
        ),
        pytest.param(
            seen("1@10:2.6", "R.driver=14"), BOTH, {"2": 0.3}, ("2.driven", WORTH), id="opened"
        ),
        pytest.param(
            seen().after(Step(SKIP, of="1.driven")),
            {"1.driven": 1.0},
            {"2": 0.3},
            ("2@7", WORTH),
            id="with every wheel left out a turn",
        ),
    ],
)
def test_what_is_asked_for(bench, wheels, turns, question):
    """Before the end that is asked for which tells most of what can be done, wishes first."""
    found = view(bench, wheels, turns)
    assert (asked(found), found.ending) == (question, "")


@pytest.mark.parametrize(
    ("bench", "wheels", "turns", "ending"),
    [
        pytest.param(seen(*EARLY), {"1.driven": 1.0}, {}, NAMED, id="0.90 for one set"),
        pytest.param(seen(*EARLY, end=SURE), {"1.driven": 1.0}, {}, ALL_COUNTED, id="every piece"),
        pytest.param(START, {"1.driven": SLIGHT}, {"1": SLIGHT}, SPENT, id="nothing is worth it"),
        pytest.param(
            seen("input.driver=66").after(Step(SKIP, of="input.driver")),
            {"1.driven": 0.2},
            {},
            NAMED,
            id="a recount that cannot be made",
        ),
        pytest.param(
            seen().after(Step(SKIP, of="1.driven")).after(Step(SKIP, of="2@")),
            {"1.driven": 1.0},
            {"2": 0.3},
            "",
            id="of which nothing was seen",
        ),
    ],
)
def test_the_end(bench, wheels, turns, ending):
    """A session ends with a name, every piece, or nothing worth a count; unseen, it never does."""
    assert view(bench, wheels, turns).ending == ending


def test_someone_who_goes_on_is_asked_something_still():
    """Behind the end there is a question, with its piece, as long as a wheel can be seen."""
    found = view(seen(*EARLY), {"1.driver": 0.0})
    assert (asked(found), found.question.piece) == (("1.driver", WORTH), "laygear")
    assert view(seen(*EARLY)).question is None


def test_a_look_worth_more_than_the_count_is_offered_beside_it():
    """The count stays the question; a look of less worth is not offered, nor one left out."""
    bench = seen("R.driver=14")
    found = view(bench, {"2.driven": 0.4}, looks={"laygear": 0.5, "3-gear": 0.3})
    assert asked(found) == ("2.driven", WORTH)
    assert found.look.owner == "laygear"
    assert view(bench, {"2.driven": 0.6}, looks={"laygear": 0.5}).look is None
    left_out = bench.after(Step(SKIP, of="laygear.mark"))
    assert view(left_out, {"2.driven": 0.4}, looks={"laygear": 0.5}).look is None


def test_a_look_is_asked_for_where_no_count_tells_more():
    """While a box has no name the look is the question once no count or turn is worth the while."""
    bench = seen("R.driver=14")
    found = view(bench, {"2.driven": 0.0}, looks={"laygear": SMALL_WORTH})
    assert asked(found) == ("laygear.mark", WORTH)
    assert (found.ending, found.look is not None) == ("", True)
    spent = view(bench.after(Step(SKIP, of="laygear.mark")), looks={"laygear": SMALL_WORTH})
    assert (spent.question, spent.ending) == (None, SPENT)


def test_in_a_shut_box_nothing_is_looked_at():
    """Where a box was turned and nothing in it was seen, no look is asked for."""
    found = view(seen("1@4:1.66"), looks={"laygear": 2.0})
    assert found.question is None or not found.question.feature


def test_a_mark_that_comes_last_in_a_strange_box_is_read_again():
    """What was read last is looked at again, once, and then the count before it."""
    mark = Step(MARK, ("laygear:B 1",))
    once = view(seen("input.driver=66").after(mark))
    assert once.answer.verdict.kind == "uncatalogued"
    assert (asked(once), once.ending, once.look) == (("laygear.mark", TIPPED), "", None)
    assert asked(view(once_more := seen("input.driver=66").after(mark).after(mark)))[1] == TIPPED
    left_out = seen("input.driver=66").after(mark).after(Step(SKIP, of="laygear.mark"))
    assert asked(view(left_out)) == asked(view(once_more)) == ("input.driver", TIPPED)


def test_turn_tests_are_not_weighed_while_a_wheel_is_worth_a_count():
    """The advice is not asked for turn tests where a wheel is asked for."""

    def advise(with_turns: bool) -> Advice:
        assert not with_turns
        return advice({"1.driven": 1.0})

    bench = seen("R.driver=14")
    assert asked(look(bench, identify(SMALL, bench.seen), advise)) == ("1.driven", WORTH)


def test_a_named_box_does_not_end_a_session_that_is_to_be_sure():
    """To be sure, a piece without a count is asked for though the set has a name."""
    found = view(seen(*EARLY[:4], end=SURE), {"1.driven": 1.0, "R.driven": 0.01, "R.idler": 0.2})
    assert found.answer.verdict.probability > 0.9
    assert asked(found) == ("R.idler", PIECE)
    assert found.ending == ""
    assert found.uncounted == ("R-idler", "R-gear")


def test_a_piece_that_cannot_be_seen_does_not_hold_up_the_end():
    """A piece of which every wheel was skipped counts as done, and is told apart."""
    bench = seen(*EARLY[:4], end=SURE)
    for wheel in ("R.idler", "R.driven"):
        bench = bench.after(Step(SKIP, of=wheel))
    found = view(bench, {"1.driven": 0.001})
    assert found.ending == ALL_COUNTED
    assert found.unreachable == ("R-idler", "R-gear")


def test_a_count_that_tips_the_answer_to_a_strange_box_is_asked_again():
    """One count that makes a box uncatalogued does not end the session before it was recounted."""
    once = view(seen("input.driver=66"), {"1.driven": 0.2})
    assert once.answer.verdict.kind == "uncatalogued"
    assert (asked(once), once.ending) == (("input.driver", TIPPED), "")
    assert view(seen("input.driver=66x2"), {"1.driven": 0.2}).ending == NAMED


def test_a_turn_test_that_tips_the_answer_to_a_strange_box_is_made_again():
    """One turn test that makes a box a variant is made again, unless that cannot be done."""
    words = ("input=20/31", "1=15/36", "2=21/30", "3=27/24", "R=14/18/32", "7@10:12")
    once = view(seen(*words))
    assert once.answer.verdict.kind == "variant"
    assert (asked(once), once.ending) == (("7@10", TIPPED), "")
    assert view(seen(*words, "7@10:12")).ending == NAMED
    assert view(seen(*words).after(Step(SKIP, of="7@"))).ending == NAMED


def test_a_count_that_alone_stands_in_the_way_is_asked_for_once_more():
    """To be sure, a single count that the named set does not have is counted again, once."""
    words = ("input=20/31", "1=15/36", "2=21/30", "3=27/22", "R=14/18/32")
    once = view(seen(*words, end=SURE))
    assert [recount.wheel for recount in once.answer.recounts] == ["3.driven"]
    assert asked(once) == ("3.driven", RECOUNT)
    assert view(seen(*words, "3.driven=24", end=SURE)).ending == ALL_COUNTED


def test_hasty_counting_is_counted_again_wheel_by_wheel():
    """Where all is to be counted again, the wheels counted least often come first, up to three."""
    bench = seen("R.driver=14", "R.idler=18x3")
    found = view(bench, {"1.driven": 0.01}, all_again=True)
    assert asked(found) == ("R.driver", ALL_AGAIN)
    assert view(seen("R.driver=14x3"), {"1.driven": 0.01}, all_again=True).ending == SPENT


def test_an_empty_catalog_has_nothing_to_ask():
    """Without a family there is neither a question nor a piece to count."""
    found = view(seen("1.driven=31x2"), catalog=Catalog(()))
    assert found.question is None
    assert found.uncounted == ()


def test_the_best_turn_test_is_the_first_that_is_not_left_out():
    """Turn tests of a skipped gear, and those worth nothing, are passed over."""
    turns = advice(turns={"1": 0.9, "2": 0.3, "4": 0.0})
    skipped = seen().after(Step(SKIP, of="1@"))
    first = best_turn(seen(), turns)
    second = best_turn(skipped, turns)
    assert (first.asked, second.asked) == ("1@7", "2@7")
    assert best_turn(skipped.after(Step(SKIP, of="2@")), turns) is None
