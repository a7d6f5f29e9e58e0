"""A session as a state: what each entry makes of it, and that back undoes it."""

import pytest
from hypothesis import given, strategies as st

from cogtally.evidence.reading import identify
from cogtally.evidence.seen import counted_wheels
from cogtally.gears.errors import UserError
from cogtally.gears.notation import Seen
from cogtally.shelf.session.bench import (
    BACK,
    FEATURE,
    HELP,
    HOW,
    MARK,
    QUIT,
    SEEN,
    SKIP,
    SURE,
    TAKE,
    Bench,
    Outcome,
    Question,
    Step,
    enter,
)
from small_catalog import SMALL

ASKED = Question(wheel="3.driven")
ON_PIECE = Question(wheel="3.driven", piece="3-gear")
TEST = Question(gear="1", turns=7)

steps = st.one_of(
    st.builds(
        lambda wheel, teeth: Step(SEEN, (f"{wheel}={teeth}",)),
        st.sampled_from(["1.driver", "2.driven", "R.idler"]),
        st.integers(4, 200),
    ),
    st.builds(lambda of: Step(SKIP, of=of), st.sampled_from(["1.driver", "2.driven", "1@"])),
    st.builds(lambda read: Step(MARK, (f"laygear:{read}",)), st.sampled_from(["LG 3?02", "*02"])),
    st.builds(lambda n: Step(FEATURE, (f"laygear.splines={n}",)), st.integers(1, 30)),
    st.builds(lambda of: Step(TAKE, of=of), st.sampled_from(["1.driver", "2.driven", "1@7"])),
)


def no_turn() -> Question | None:
    return None


def typed(bench: Bench, *lines: str, question: Question | None = ASKED) -> Bench:
    for line in lines:
        bench = enter(bench, question, line, no_turn).bench
    return bench


def test_a_count_is_seen_under_the_wheel_asked_for():
    """A bare count is kept as a word that says by itself what was counted."""
    outcome = enter(Bench(), ASKED, "24u", no_turn)
    made = Step(SEEN, ("3.driven=24u",))
    assert outcome == Outcome(Bench(steps=(made,)), SEEN, made, made)
    assert outcome.bench.seen.counts[0].unsure


def test_back_takes_the_last_entry_out():
    """After back a session stands as it stood before the last entry, whatever that was."""
    bench = typed(Bench(), "24")
    for line in ("25", "skip", "1.driver", "1@4:1.1"):
        outcome = enter(typed(bench, line), ASKED, "back", no_turn)
        assert outcome.bench == bench
        assert outcome.step == Step(BACK)
    assert enter(typed(Bench(), "24", "skip"), ASKED, "back", no_turn).about.of == "3.driven"


@given(st.lists(steps, max_size=6), steps)
def test_a_step_and_back_leave_a_session_as_it_was(before, step):
    """Any step followed by back changes nothing that a session tells."""
    bench = Bench(SURE)
    for each in before:
        bench = bench.after(each)
    again = bench.after(step).after(Step(BACK))
    assert again == bench
    assert (again.seen, again.skipped, again.wanted) == (bench.seen, bench.skipped, bench.wanted)


@pytest.mark.parametrize(
    ("question", "skipped", "seen"),
    [(ASKED, "3.driven", "3=_/22"), (TEST, "1@", "1@3:0.9")],
    ids=["wheel", "turn tests of a gear"],
)
def test_what_is_skipped_is_left_out_until_it_is_seen(question, skipped, seen):
    """A wheel, or the turn tests of a gear, left out is skipped until it is entered after all."""
    bench = typed(Bench(), "skip", question=question)
    assert bench.skipped == {skipped}
    assert typed(bench, seen, question=question).skipped == frozenset()


def test_looks_are_kept_with_the_names_of_the_catalog():
    """A mark and a feature are kept as one thing each, which says what it is of."""
    bench = typed(Bench(), "24", "mark LG\t3?02", "feature laygear.Splines= 10u", question=ON_PIECE)
    assert [s.kind for s in bench.steps] == [SEEN, MARK, FEATURE]
    assert (bench.marks, bench.features) == (("3-gear:LG3?02",), ("laygear.splines=10u",))
    assert bench.words == ("3.driven=24",)
    (mark, splines) = bench.seen.looks
    assert (mark.text, splines.text) == ("3-gear:LG3?02", "laygear.splines=10u")


def test_a_look_that_the_catalog_refuses_changes_nothing():
    """What the names of the catalog refuse is the error of the entry."""

    def refuse(seen: Seen) -> Seen:
        raise UserError(f"no {seen.looks[0].text}")

    with pytest.raises(UserError, match=r"no laygaer:LG"):
        enter(Bench(), ON_PIECE, "mark laygaer:LG", no_turn, refuse)


def test_a_look_is_skipped_until_it_was_taken():
    """A mark or feature left out is skipped until it is entered all the same."""
    for owner, feature, line in [("laygear", MARK, "mark laygear:7"), ("a.driver", "hand", "left")]:
        question = Question(owner=owner, feature=feature, piece="laygear")
        skipped = typed(Bench(), "skip", question=question)
        assert skipped.skipped == {f"{owner}.{feature}"}
        assert typed(skipped, line, question=question).skipped == frozenset()


def test_a_wish_holds_until_the_next_entry():
    """A wheel wished for, the last counted or the best turn test is wanted until an entry."""
    wished = typed(Bench(), "2.driver")
    assert wished.wanted == "2.driver"
    assert typed(wished, "19").wanted == ""
    assert typed(Bench(), "1.driver=14", "3=24/21", "again").wanted == "3.driven"
    outcome = enter(Bench(), ASKED, "turn", lambda: TEST)
    assert (outcome.kind, outcome.bench.wanted) == (TAKE, "1@7")


@pytest.mark.parametrize(("line", "kind"), [("how", HOW), ("?", HELP), ("quit", QUIT)])
def test_questions_of_the_person_change_nothing(line, kind):
    """How, help and quit leave nothing to be kept."""
    bench = typed(Bench(), "24")
    assert enter(bench, ASKED, line, no_turn) == Outcome(bench, kind)


@pytest.mark.parametrize(
    ("line", "question", "said"),
    [
        ("back", ASKED, "nothing was entered yet"),
        ("again", ASKED, "nothing was counted yet"),
        ("skip", None, "nothing was asked that could be skipped"),
        ("turn", ASKED, "no turn test would tell more"),
    ],
)
def test_what_cannot_be_done_is_said(line, question, said):
    """A word of the session that makes no sense now is refused in one line."""
    with pytest.raises(UserError, match=said):
        enter(Bench(), question, line, no_turn)


def test_counting_again_says_the_same_in_fewer_words():
    """Equal counts taken together give the answer of all of them one by one, and fewer words."""
    lines = ("3=24/21", "1.driven=36", "1@4:1.1", "3=24/21", *["1.driven=36x2"] * 5, "1.driven=36u")
    bench = typed(Bench(), *lines, "1.driven=36", "3=24/21")
    one_by_one, joined = identify(SMALL, bench.seen), identify(SMALL, bench.together)
    assert len(joined.seen.words) < len(one_by_one.seen.words)
    assert joined.seen.words[-1] == one_by_one.seen.words[-1]
    assert joined.verdict.probability == pytest.approx(one_by_one.verdict.probability, abs=1e-9)
    assert counted_wheels(joined.seen) == counted_wheels(one_by_one.seen)
