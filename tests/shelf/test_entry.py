"""What a line typed at the bench says, and the one line that a mistake gets."""

import pytest

from cogtally.gears.errors import UserError
from cogtally.gears.notation import ReadFeature, ReadMark
from cogtally.shelf.session.bench import (
    AGAIN,
    BACK,
    FEATURE,
    HELP,
    HOW,
    LONGEST_ENTRY,
    MARK,
    QUIT,
    SEEN,
    SKIP,
    TAKE,
    TURN,
    Question,
    question_of,
    read_entry,
)

WHEEL = Question(wheel="3.driven", piece="3-gear")
TEST = Question(gear="1", turns=7)
LOOK_MARK = Question(owner="laygear", feature=MARK, piece="laygear")
LOOK_HAND = Question(owner="3.driver", feature="hand", piece="laygear")


def texts(text: str, question: Question | None) -> list[str]:
    entry = read_entry(text, question)
    assert entry.kind == SEEN
    return [word.text for word in entry.words]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("skip", SKIP),
        ("_", SKIP),
        ("back", BACK),
        ("again", AGAIN),
        ("turn", TURN),
        ("how", HOW),
        ("?", HELP),
        (" Quit ", QUIT),
    ],
)
def test_a_word_of_the_session_is_told_from_a_thing_seen(text, kind):
    """Each word of the session is read as its kind, whatever its case and the space around it."""
    assert read_entry(text, WHEEL).kind == kind


@pytest.mark.parametrize(
    ("text", "question", "words"),
    [
        ("24", WHEEL, "3.driven=24"),
        ("24ux3", WHEEL, "3.driven=24ux3"),
        ("2", TEST, "1@7:2"),
        ("1+11/12", TEST, "1@7:1+11/12"),
        ("4:1.1", TEST, "1@4:1.1"),
        ("3.9/held", TEST, "1@7:3.9/held"),
        *(
            (text, question, text)
            for text in ("3.driven=22", "3=24/21", "R=12/20/28", "1@4:1.1", "input=17/28 1=14/31")
            for question in (WHEEL, TEST, None)
        ),
    ],
)
def test_what_is_typed_is_a_word_of_the_notation(text, question, words):
    """A bare count or reading is of what was asked for; words of the notation are themselves."""
    assert texts(text, question) == words.split()


def test_a_wheels_name_alone_is_a_wish():
    """A wheel's name without a count takes that wheel next."""
    entry = read_entry("R.idler", WHEEL)
    assert (entry.kind, entry.wheel) == (TAKE, "R.idler")


@pytest.mark.parametrize(
    ("text", "question", "said"),
    [
        ("3", WHEEL, "at character 1 read '3': a count is 4 to 200 teeth"),
        ("24.5", WHEEL, "at character 3 read '.5': nothing more was expected"),
        ("24 25", WHEEL, "at character 3 read ' 25': nothing more was expected"),
        ("24", None, "no wheel was asked for; write it with its wheel: 3.driven=24"),
        ("3=24", WHEEL, "one count alone is no pair"),
        ("3=_/_", WHEEL, "nothing was counted there; skip leaves a wheel out"),
        ("3.drivn", WHEEL, "at character 3 read 'drivn': no wheel of a pair is called that"),
        ("3.driven=24 foo=", WHEEL, "the word ends: a count of teeth, or _, was expected"),
        ("R", WHEEL, "a wheel is written R.driver or R.driven"),
        ("skpi", WHEEL, "did you mean skip?"),
        ("how many?", WHEEL, "that was not understood"),
        ("٢٤", WHEEL, "that was not understood"),
        ("\x1b[A", WHEEL, "\N{REPLACEMENT CHARACTER}[A: that was not understood"),
        ("nan", TEST, "that was not understood"),
        ("0", TEST, "turns must be more than 0"),
        ("mark LG 3?02", TEST, "mark LG 3?02: the piece that the mark is on is missing"),
        ("mark", WHEEL, "mark: the mark has no letter or digit"),
        ("feature", WHEEL, "feature: '=' is missing after the feature"),
        ("feature splines=10", WHEEL, "the wheel or piece that the feature is of was expected"),
        ("feature laygear.spline=10", WHEEL, "did you mean splines?"),
        ("lefft", LOOK_HAND, "did you mean left?"),
        ("24" * LONGEST_ENTRY, WHEEL, "the line has more than 500 characters"),
    ],
)
def test_a_mistake_gets_one_line(text, question, said):
    """What cannot be understood is said in one printable line that names what would be right."""
    with pytest.raises(UserError) as caught:
        read_entry(text, question)
    line = str(caught.value)
    assert said in line
    assert line.isprintable()
    assert len(line) < 200


@pytest.mark.parametrize(
    ("text", "question", "piece", "reading"),
    [
        ("mark LG 3?02", WHEEL, "3-gear", "lg3?02"),
        ("Mark laygear: LG*02", WHEEL, "laygear", "lg*02"),
        ("mark laygear:LG*02", None, "laygear", "lg*02"),
        ("LG 3?02", LOOK_MARK, "laygear", "lg3?02"),
        ("3102", LOOK_MARK, "laygear", "3102"),
        ("B.2", LOOK_MARK, "laygear", "b2"),
        ("mark 3-gear: 7", LOOK_MARK, "3-gear", "7"),
    ],
)
def test_a_mark_is_of_its_piece_or_of_the_one_asked_for(text, question, piece, reading):
    """A mark names its piece, or is on the piece of what was asked; asked for, it stands alone."""
    entry = read_entry(text, question)
    assert entry.kind == MARK
    assert isinstance(entry.look, ReadMark)
    assert (entry.look.piece, entry.look.reading) == (piece, reading)


@pytest.mark.parametrize(
    ("text", "question", "owner", "feature", "value"),
    [
        ("feature laygear.splines=10u", WHEEL, "laygear", "splines", 10),
        ("feature 3.driver.hand=left", None, "3.driver", "hand", "left"),
        ("left", LOOK_HAND, "3.driver", "hand", "left"),
    ],
)
def test_a_feature_names_its_owner_or_was_asked_for(text, question, owner, feature, value):
    """A feature is typed with its wheel or piece; where it was asked for the value stands alone."""
    entry = read_entry(text, question)
    assert entry.kind == FEATURE
    assert isinstance(entry.look, ReadFeature)
    assert (entry.look.owner, entry.look.feature, entry.look.value) == (owner, feature, value)


def test_a_count_is_taken_where_a_look_was_asked_for():
    """Where a look was asked for, words of the notation and wheels' names stay what they are."""
    assert texts("3=24/21", LOOK_MARK) == ["3=24/21"]
    assert read_entry("3.driver", LOOK_MARK).kind == TAKE
    assert read_entry("skip", LOOK_MARK).kind == SKIP
    assert LOOK_MARK.key == "laygear.mark"


@pytest.mark.parametrize("question", [WHEEL, TEST])
def test_a_question_is_read_back_from_its_word(question):
    """What a record has of a question gives the same question again."""
    wheel, gear, turns = question_of(question.asked)
    assert Question(wheel, gear, turns, piece=question.piece) == question
