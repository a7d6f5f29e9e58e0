"""What a session says: the question, how the answer moved, how it begins and ends."""

from dataclasses import replace

import pytest

from cogtally.catalog.model import Catalog, Family, RatioSet
from cogtally.evidence.advice import Advice, LookWorth, Worth
from cogtally.evidence.reading import Answer, identify
from cogtally.gears.notation import parse_seen
from cogtally.shelf.session.bench import (
    BACK,
    MARK,
    NAME,
    SEEN,
    SKIP,
    SURE,
    TAKE,
    Bench,
    Outcome,
    Question,
    Step,
)
from cogtally.shelf.session.files import Asked, Session
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
    look,
)
from cogtally.show.session import (
    answer_line,
    command_line,
    end_line,
    entered_line,
    first_lines,
    how_lines,
    list_lines,
    prompt,
    question_lines,
    resumed_lines,
    turned_line,
)
from small_catalog import ALL_TURNED, EARLY, SMALL, pairs

SLIDING = Family(
    id="slide-3",
    layout="layshaft",
    direct="3",
    given_pieces={"1-gear": ("1.driven", "R.driven")},
    same={"R.driver": "1.driver"},
    sets=(
        RatioSet("a", pairs=pairs(input="17/28", g1="14/31", g2="19/26", R="14/20/28")),
        RatioSet("b", pairs=pairs(input="18/27", g1="14/31", g2="21/24", R="14/20/28")),
    ),
)

LOOK = LookWorth(0.9, "laygear", MARK, (("B 1", ("early",)), ("B 2", ("sport", "unlikely"))))
LOOK_WORDS = "the mark of the birch-4 laygear (B 1: early; B 2: sport)"


def answer(*words: str, catalog: Catalog = SMALL) -> Answer:
    return identify(catalog, parse_seen(words))


def view(
    question: Question | None, *words: str, catalog: Catalog = SMALL, ending: str = ""
) -> View:
    return View(answer(*words, catalog=catalog), question, ending)


def asks(question: Question, *words: str, catalog: Catalog = SMALL) -> str:
    (line,) = question_lines(view(question, *words, catalog=catalog))
    return line


def test_a_question_says_where_the_wheel_is_and_what_it_is_worth():
    """A wheel on a piece of several is named with its place, one alone with its piece."""
    laygear = Question("2.driver", bits=1.4, why=WORTH)
    assert asks(laygear, *EARLY[:1]) == "Count 2.driver: laygear, wheel 3 of 5; worth most."
    gear = Question("2.driven", bits=0.001, why=WORTH)
    assert asks(gear, *EARLY[:1]) == "Count 2.driven: 2-gear; worth most."


def test_a_question_names_the_other_name_of_a_wheel():
    """A wheel with two names is asked for with both."""
    only = Catalog((SLIDING,))
    question = Question("1.driver", why=WANTED)
    assert asks(question, "2.driven=26", catalog=only) == (
        "Count 1.driver: also R.driver, laygear, wheel 3 of 3."
    )


def test_a_question_says_that_the_family_lacks_a_wheel():
    """A wheel that somebody wished for and the leading family does not have is said to be so."""
    line = asks(Question("5.driver", why=WANTED), *EARLY[:1])
    assert line == "Count 5.driver: birch-4 has no such wheel."


@pytest.mark.parametrize(
    ("why", "words", "line"),
    [
        (WORTH, ("3.driven=24x2",), "Count 3.driven again (24 so far): 3-gear; worth most."),
        (
            RECOUNT,
            (*EARLY[:3], "3=27/22"),
            "Count 3.driven again (22 so far): 3-gear; early has 24 there.",
        ),
        (
            TIPPED,
            ("R.driver=14", "3.driven=66"),
            "Count 3.driven again (66 so far): 3-gear; this count alone tipped the answer.",
        ),
        (
            ALL_AGAIN,
            ("3.driven=24", "3.driven=26"),
            "Count all of it again, now 3.driven (24 and 26 so far): 3-gear; "
            "the counting looks hasty.",
        ),
        (PIECE, ("1.driven=36",), "Count 3.driven: 3-gear; the last piece to count."),
    ],
)
def test_a_question_gives_its_reason(why, words, line):
    """Each reason to ask is said, with what was counted before."""
    found = replace(view(Question("3.driven", bits=0.5, why=why), *words), uncounted=("3-gear",))
    assert question_lines(found) == [line]


def test_a_turn_test_is_asked_for_in_whole_turns():
    """A turn test is a gear, so many turns in, and a reading of the output."""
    many = Question(gear="2", turns=7, bits=1.2, why=WORTH)
    assert asks(many) == ("In gear 2 turn the input 7 whole turns and read the output; worth most.")
    assert "turn the input one whole turn and" in asks(Question(gear="R", turns=1, why=WANTED))
    again = asks(Question(gear="2", turns=7, why=TIPPED))
    assert again.endswith("read the output again; this test alone tipped the answer.")
    assert prompt(many) == "2@7> "


def test_with_nothing_left_the_person_is_not_left_alone():
    """Without a question it is said what can still be done."""
    assert question_lines(view(None)) == [
        "Nothing is left to ask. Write what else you counted, or quit."
    ]
    assert prompt(None) == "> "


@pytest.mark.parametrize(
    ("words", "label"),
    [
        (EARLY, "birch-4/early, "),
        (("R.driver=14",), "birch-4, early, sport or haul, "),
        (("input=20/31", "1=15/36", "2=21/30", "3=27x2/21x2"), "a mixture, birch-4/early but for "),
        ((*EARLY, "5=12/40x2"), "a variant of birch-4/early, "),
        (("1.driven=77x3",), "not in the catalog, "),
        ((), "nothing is counted yet"),
    ],
)
def test_every_kind_of_answer_has_a_short_name(words, label):
    """In one line an answer is named by ids, a stranger among the pieces by its piece."""
    assert answer_line(answer(*words)).startswith(label)


def test_the_line_tells_how_the_answer_moved():
    """Up, down, as before, or from another answer, each with what it was."""
    some, more = answer("input=20/31u"), answer("input=20/31u", "1.driven=36")
    strange = answer("1.driven=77x3")
    rose = answer_line(more, some)
    assert " %, up from " in rose
    assert " %, down from " in answer_line(some, more)
    assert answer_line(some, some).endswith(", as before")
    assert answer_line(some, answer()).endswith("; nothing was counted before")
    assert answer_line(some, strange).partition("; was ")[2].startswith("not in the catalog, ")


def test_what_an_entry_did_is_said():
    """Seen, left out and taken back are said; a wish is not, for the question follows it."""
    before, after = answer(), answer("R.driver=14")
    seen = Step(SEEN, ("R.driver=14",))
    bench = Bench(steps=(seen,))
    assert entered_line(Outcome(bench, SEEN, seen, seen), before, after).startswith(
        "R.driver=14: birch-4, "
    )
    assert entered_line(Outcome(Bench(), BACK, Step(BACK), seen), after, before) == (
        "Taken back: R.driver=14. Now nothing is counted yet."
    )
    for of, named in (("R.idler", "R.idler"), ("1@", "turn tests of gear 1")):
        skip = Step(SKIP, of=of)
        assert entered_line(Outcome(bench, SKIP, skip, skip), before, before).startswith(
            f"Left out: {named}. "
        )
        undone = entered_line(Outcome(Bench(), BACK, Step(BACK), skip), before, before)
        assert undone.startswith(f"Taken back: that {named} cannot be seen.")
    for of, named in (("R.idler", "R.idler"), ("1@7", "a turn test of gear 1")):
        wish = Step(TAKE, of=of)
        assert entered_line(Outcome(bench, TAKE, wish, wish), before, before) == ""
        undone = entered_line(Outcome(Bench(), BACK, Step(BACK), wish), before, before)
        assert undone.startswith(f"Taken back: the wish for {named}.")


def test_pairs_that_were_turned_round_are_asked_about():
    """Pairs that fit far better the other way round are read back as they may have been meant."""
    line = turned_line(answer(*ALL_TURNED))
    assert line.startswith("input=31/20, 1=36/15, 2=30/21 and 3=24/27: did you mean input=20/31, ")
    assert turned_line(answer(*EARLY)) == ""


def test_how_to_turn_an_axle_tells_of_the_held_wheel():
    """At an axle one wheel is held; at a gearbox nothing is said of that."""
    question = Question(gear="final", turns=9)
    assert any("/held" in line for line in how_lines(question, SMALL.by_id["sorrel-axle"]))
    assert not any("/held" in line for line in how_lines(question, SMALL.by_id["birch-4"]))


def test_a_session_begins_with_what_it_is_for():
    """The end, the catalog and the family that is asked about are said first."""
    lines = first_lines(Bench(NAME), SMALL, "")
    assert lines[:2] == [
        "At the bench, to name the box.",
        "Asking the catalog small: 3 families, 8 sets.",
    ]
    alone = first_lines(Bench(SURE), replace(SMALL, demo=True), "sorrel-axle")
    assert "to be sure that the box is not mixed" in alone[0]
    assert alone[1] == "Asking the catalog small: sorrel-axle alone, 2 sets."
    assert "invented demo" in alone[2]


def test_each_end_is_said():
    """Why a session ended by itself is said, and nothing where it did not."""
    found = view(None, *EARLY)
    said = {end: end_line(replace(found, ending=end)) for end in (NAMED, SPENT, ALL_COUNTED, "")}
    assert said[NAMED] == "Settled: this answer has reached 90 %."
    assert said[SPENT] == "Nothing more that can be seen is worth 0.05 bit."
    assert said[ALL_COUNTED] == "Every piece has a count."
    assert said[""] == ""
    hidden = replace(found, ending=ALL_COUNTED, unreachable=("R-idler",))
    assert end_line(hidden) == "Every piece that can be seen has a count."


@pytest.mark.parametrize(
    ("asked", "line"),
    [
        (Asked(NAME), "cogtally identify 1=14/31"),
        (Asked(NAME, demo=True), "cogtally identify --demo 1=14/31"),
        (
            Asked(SURE, catalog="/a b/c'd.toml", family="alder-4"),
            "cogtally identify --catalog '/a b/c'\"'\"'d.toml' --family alder-4 1=14/31",
        ),
    ],
)
def test_the_command_asks_the_same_catalog(asked, line):
    """The command names the catalog and the family, quoted for a shell."""
    assert command_line(Bench(steps=(Step(SEEN, ("1=14/31",)),)), asked) == line


def test_a_look_worth_more_is_offered_beside_the_count():
    """The look is named with what can be found there, of the sets still likely, and its worth."""
    found = replace(view(Question("1.driver", bits=0.2, why=WORTH), "R.driver=14"), look=LOOK)
    (line,) = question_lines(found)
    assert line.endswith("worth most. Or look at " + LOOK_WORDS + "; worth more.")


def test_the_two_next_best_stand_below_the_question():
    """Under what is asked stand the two next best that were not left out."""
    advice = Advice(
        wheels=(Worth(0.9, "input.driver"), Worth(0.8, "3.driver"), Worth(0.7, "1.driven")),
        turns=(Worth(0.6, gear="2", turns=4), Worth(0.55, gear="1", turns=4)),
        at_most=1.0,
        count_all_again=False,
    )
    skipped = Bench(NAME, (Step(SEEN, ("R.driver=14",)), Step(SKIP, of="3.driver")))
    found = look(skipped, answer("R.driver=14"), lambda turns: advice)
    assert found.question.wheel == "input.driver"
    assert question_lines(found)[1:] == ["Then count 1.driven or turn gear 2."]
    ended = look(skipped, answer(*EARLY), lambda turns: advice)
    assert ended.ending
    assert len(question_lines(ended)) == 1


def test_a_look_is_asked_for_where_it_is_all_that_tells():
    """A look that is asked for has its own question, prompt and how."""
    question = Question(bits=0.9, why=WORTH, owner="laygear", feature=MARK)
    found = replace(view(question, "R.driver=14"), look=LOOK)
    assert question_lines(found) == [f"Look at {LOOK_WORDS}; worth most."]
    assert prompt(question) == "laygear.mark> "
    again = replace(found, question=replace(question, why=TIPPED), look=None)
    assert question_lines(again) == [
        "Look at the mark of laygear again; it alone tipped the answer."
    ]
    assert "? for a character" in " ".join(how_lines(question, None))
    assert "10, 19.05, left" in " ".join(how_lines(replace(question, feature="splines"), None))


def test_a_resumed_session_says_where_it_stands():
    """What was seen and left out comes back, and an end that was reached before."""
    bench = Bench(NAME, (Step(SEEN, EARLY), Step(SKIP, of="1@")))
    begun, last = "2026-03-05T10:00:00", "2026-03-05T10:09:59"
    session = Session("2026-03-05-1", begun, last, Asked(NAME), bench, 9)
    advice = Advice((Worth(0.1, "1.driven"),), (), 1.0, False)
    found = look(bench, answer(*EARLY), lambda turns: advice)
    lines = resumed_lines(session, found)
    assert lines[0] == "Session 2026-03-05-1, begun 2026-03-05 10:00, last entry 2026-03-05 10:09."
    assert lines[1] == f"Seen so far: {' '.join(EARLY)}"
    assert lines[2].startswith("So far it is birch-4/early, ")
    assert lines[3] == "Left out: 1"
    assert lines[4].endswith("You can go on all the same, or quit.")


def test_a_list_of_sessions_is_a_line_each():
    """Each session is told with its time, title and answer so far; none is said."""
    session = Session("2026-03-05-1", "x", "2026-03-05T10:09:59", Asked(NAME), Bench(), 9)
    asked = Asked(SURE, "/a/b\x1b.toml", family="f", title="Mr A.")
    other = replace(session, id="2026-03-05-12", asked=asked, so_far="f/x, 97 %")
    assert list_lines([session, other], 100) == [
        "2026-03-05-1   2026-03-05 10:09  0 seen; quick; own book",
        "2026-03-05-12  2026-03-05 10:09  Mr A.",
        " " * 33 + "f/x, 97 %; 0 seen; sure; b\N{REPLACEMENT CHARACTER}.toml, f",
    ]
    assert list_lines([], 100) == ["No session is kept."]
